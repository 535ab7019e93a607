"""Reads for a day's prep sheet: what its rotations need, what there was as the day began, and which lines are done."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from sqlmodel import select

from server.charges.queries import find_area_until, get_tray_charge, list_parts_of_batch, list_standing
from server.chemistry.models import Batch, BatchEntryKind, UsualQuantities
from server.chemistry.queries import (
    get_usual_quantities,
    list_batch_entries,
    list_batches,
    may_be_mixed_from,
    usable_until,
)
from server.containers.models import Source
from server.containers.queries import find_held_at_ul, list_containers, list_streams
from server.core.container_life import TAKES_MORE
from server.core.fill_forecast import Container, Feed, StreamFill, forecast
from server.core.mix_plan import DeveloperRules, MixPlan, Standing, StandingCharge, plan_mixes
from server.core.moments import day_at, day_begins
from server.core.prep_sheet import USUAL_WHO, BoxOnShelf, LineKind, PlatePicks, Who, after_picks, pick_plates
from server.core.provision import Held, Provided, provide
from server.core.recipe import Measure, Recipe
from server.core.rinse_history import RinsePerPlate
from server.core.shelf import OnShelf
from server.core.waste_forecast import Addition, PlatesAhead, rinse_additions
from server.core.working_solution import plate_area_mm2
from server.data.session import LabSession
from server.forecasts.queries import get_rinse_per_plate
from server.kits.queries import list_every_bottle, on_shelf
from server.plates.models import PlateBox
from server.plates.queries import list_plate_boxes, list_plates_used
from server.prep.models import PrepAssignment, PrepTick, PrepTimes
from server.recipes.models import Solution
from server.recipes.queries import (
    UsualFormula,
    formula_of,
    list_latest_editions,
    list_recipes,
    usual_formula,
)
from server.rotations.queries import (
    RotationOfDay,
    get_plan,
    list_published,
    list_rotation_days,
    list_visits,
)
from server.stations.models import Place
from server.stations.queries import list_stations
from server.supplies.queries import developer_rules, rounds_of_day

_DAYS_AHEAD = timedelta(days=21)


@dataclass(frozen=True)
class StreamNeed:
    """What the day pours into the stream that takes `source`; `fill` is None where no stream takes it."""

    source: Source
    stream: str
    fill: StreamFill | None
    needed_ul: int


@dataclass(frozen=True)
class DayNeeds:
    """Everything a day's published rotations need. `test_plates` is one set for each station used that day.

    `developer_from` and `bleach_from` are what is still to be mixed, component by component. What the `days_before` need, those from
    today on with rotations, is taken off the shelf already.
    """

    rotations: Sequence[RotationOfDay]
    stations: Sequence[Place]
    test_plates: int
    usual: UsualQuantities
    rinse: RinsePerPlate
    times: PrepTimes
    developer: UsualFormula
    rules: DeveloperRules
    mixes: MixPlan
    batches: Mapping[int, Batch]
    boxes: Mapping[int, PlateBox]
    picks: PlatePicks
    bleach: UsualFormula
    bleach_charges: int
    bleach_there_ul: int
    bleach_to_mix_ul: int
    rinse_ul: int
    developer_from: Sequence[Provided]
    bleach_from: Sequence[Provided]
    days_before: Sequence[date]
    streams: Sequence[StreamNeed]

    @property
    def flagged_boxes(self) -> Sequence[PlateBox]:
        """Boxes with plates that wait for a fog test; they are not counted for the day."""
        return [
            box for box in self.boxes.values() if box.is_flagged and not box.is_fogged and box.plates_left
        ]

    @property
    def plates(self) -> int:
        """The tests, what is planned and what may be repeated."""
        return self.test_plates + sum(rotation.most_plates for rotation in self.rotations)

    @property
    def starts_at(self) -> datetime:
        return min(rotation.starts_at for rotation in self.rotations)

    @property
    def first_plate_at(self) -> datetime:
        """When the first box is opened: test plates are made from the first mix on, before the first rotation."""
        lead = timedelta(seconds=self.rules.lead_s)
        return self.starts_at - lead if self.test_plates and self.has_developer else self.starts_at

    @property
    def has_developer(self) -> bool:
        """Whether any plate of the day is developed."""
        return bool(self.mixes.mixes or self.mixes.standing)


def list_coming_days(session: LabSession, now: datetime, zone: str) -> Sequence[date]:
    """The days of the next three weeks on which a published rotation is still to come or not over."""
    days = set()
    for published in list_published(session, after=now, before=now + _DAYS_AHEAD):
        plan = get_plan(session, published.rotation_id)
        assert plan is not None
        days |= {
            day_at(visit.starts_at, zone) for visit in list_visits(session, plan.id) if visit.ends_at > now
        }
    return sorted(days)


def list_ticks(session: LabSession, day: date) -> Mapping[str, PrepTick]:
    """What is done on a day's sheet, by line."""
    return {tick.line: tick for tick in session.exec(select(PrepTick).where(PrepTick.on_day == day)).all()}


def _day_ends(day: date, zone: str) -> datetime:
    return day_begins(day + timedelta(days=1), zone)


@dataclass(frozen=True)
class _Shelf:
    """What stands there before a day; `bleach_gone_ul` is what the days before it use of the bleach that is mixed."""

    boxes: Sequence[BoxOnShelf]
    held: Sequence[Held]
    bleach_gone_ul: int = 0


def _held(session: LabSession, zone: str) -> Iterator[Held]:
    """Every bottle that holds something, and every stock solution and other bath that was mixed and lives."""
    for bottle, kit in list_every_bottle(session):
        if bottle.left:
            yield Held(f"bottle-{bottle.id}", f"kit “{kit.name}”", kit.expires_on, on_shelf(bottle))
    for batch in list_batches(session):
        if batch.left_ul and may_be_mixed_from(batch):
            last_day = day_at(usable_until(batch), zone) - timedelta(days=1)
            content = OnShelf(batch.name, Measure.VOLUME, batch.left_ul)
            yield Held(f"batch-{batch.id}", f"batch {batch.number}", last_day, content)


def _formulas(session: LabSession) -> Mapping[str, Recipe]:
    """The latest edition of every recipe of the lab, by its name in small letters."""
    editions = list_latest_editions(session)
    return {
        recipe.name.casefold(): formula_of(session, editions[recipe.id])
        for recipe in list_recipes(session)
        if recipe.id in editions
    }


def _boxes_as_the_day_began(session: LabSession, day: date, zone: str) -> Sequence[BoxOnShelf]:
    """Boxes with the plates they held before the day's runs and tests, so that the sheet does not change during class.

    A box that is fogged, or waits for a fog test after a light incident, is left out.
    """
    used = list_plates_used(session, after=day_begins(day, zone), before=_day_ends(day, zone))
    return [
        BoxOnShelf(box.id, box.plates_left + used.get(box.id, 0), box.expires_on)
        for box in list_plate_boxes(session)
        if not (box.is_flagged or box.is_fogged)
    ]


def get_prep_times(session: LabSession) -> PrepTimes:
    """The lab's own times, or the assumed ones (not saved) until it has set them."""
    return session.exec(select(PrepTimes)).first() or PrepTimes()


def list_assignments(session: LabSession) -> Mapping[LineKind, Who]:
    """Who does the lines of each kind, as the lab has said or as is usual."""
    said = {
        LineKind(assignment.kind): Who(assignment.who)
        for assignment in session.exec(select(PrepAssignment)).all()
    }
    return {**USUAL_WHO, **said}


def _standing_developer(
    session: LabSession, rules: DeveloperRules, day: date, zone: str
) -> tuple[Sequence[Standing], Mapping[int, Batch]]:
    """The developer that the day finds or has mixed already, with what it could serve as the day began; and its batches."""
    begins, ends = day_begins(day, zone), _day_ends(day, zone)
    found, batches = [], {}
    for batch in list_batches(session):
        if batch.solution != Solution.DEVELOPER or usable_until(batch) <= begins or batch.mixed_at >= ends:
            continue
        # What a charge served on another day is gone; what it served on this day is among the day's plates, and one that this day
        # emptied stays with the classes that had begun. One that was topped up counts with the batch that ends first.
        charges = [
            StandingCharge(
                charge.area_mm2 + max(0, charge.room_mm2) - find_area_until(session, charge.id, begins),
                charge.emptied_at,
            )
            for charge, _volume_ul in list_parts_of_batch(session, batch.id)
            if (charge.emptied_at is None or charge.emptied_at >= begins)
            and get_tray_charge(session, charge.id).first_ending.batch.id == batch.id
        ]
        for entry in list_batch_entries(session, batch.id):
            if entry.kind == BatchEntryKind.DISCARDED and entry.entered_at >= begins:
                discarded = StandingCharge(rules.charge_area_mm2, entry.entered_at)
                charges += [discarded] * (-entry.change_ul // rules.charge_ul)
        charges += [StandingCharge(rules.charge_area_mm2)] * (batch.left_ul // rules.charge_ul)
        left = tuple(charge for charge in charges if charge.room_mm2 > 0)
        if left:
            found.append(Standing(batch.id, batch.ready_at, usable_until(batch), left))
            batches[batch.id] = batch
    return found, batches


def _bleach_there_ul(session: LabSession, day: date, until: datetime, zone: str) -> int:
    """Bleach that is mixed, on the day itself too, and lives `until` its last rotation ends, in its bottle or, as the day began, in a tray."""
    begins = day_begins(day, zone)
    standing = [*list_standing(session, Solution.BLEACH, as_of=begins)]
    standing += [
        (
            batch,
            batch.left_ul + sum(poured_ul for _charge, poured_ul in list_parts_of_batch(session, batch.id)),
        )
        for batch in list_batches(session)
        if batch.solution == Solution.BLEACH and batch.mixed_at >= begins
    ]
    return sum(volume_ul for batch, volume_ul in standing if usable_until(batch) > until)


def _containers_as_the_day_began(
    session: LabSession, stream_id: int, day: date, zone: str
) -> Iterator[Container]:
    """Containers of a stream that take more, with what they held when the day began."""
    begins = day_begins(day, zone)
    for container in list_containers(session):
        if container.stream_id == stream_id and container.state in TAKES_MORE:
            yield Container(
                container.id,
                container.name,
                find_held_at_ul(session, container, begins),
                container.fill_line_ul,
                container.opened_at,
            )


def _stream_needs(
    session: LabSession, additions: Mapping[Source, Sequence[Addition]], day: date, zone: str
) -> Sequence[StreamNeed]:
    needs = []
    for source, poured in additions.items():
        stream = next((stream for stream in list_streams(session) if stream.takes == source), None)
        needed_ul = sum(addition.volume_ul for addition in poured)
        if stream is None:
            needs.append(StreamNeed(source, "", None, needed_ul))
        else:
            containers = tuple(_containers_as_the_day_began(session, stream.id, day, zone))
            feed = Feed(stream.id, containers, tuple(poured))
            [filled] = forecast([feed], (), now=day_begins(day, zone))
            needs.append(StreamNeed(source, stream.name, filled, needed_ul))
    return needs


def _additions(
    rotations: Sequence[RotationOfDay],
    mixes: MixPlan,
    usual: UsualQuantities,
    rinse: RinsePerPlate,
    *,
    test_plates: int,
    bleach_charges: int,
    day: date,
) -> Mapping[Source, Sequence[Addition]]:
    """What the day pours: every mix and every charge of bleach in full, and the rinse of each rotation."""
    starts_at = rotations[0].starts_at
    ahead = [
        PlatesAhead("the test plates", day, starts_at, starts_at, test_plates),
        *[PlatesAhead(one.name, day, one.starts_at, one.ends_at, one.most_plates) for one in rotations],
    ]
    bleach_ul, charge_ul = bleach_charges * usual.bleach_charge_ul, usual.developer_charge_ul
    return {
        Source.DEVELOPER: [
            *(
                Addition(
                    use.last_round.name,
                    use.standing.ready_at,
                    use.charge_count * charge_ul,
                    charges=use.charge_count,
                )
                for use in mixes.standing
            ),
            *(
                Addition(mix.last_round.name, mix.mixed_at, mix.volume_ul, charges=mix.charge_count)
                for mix in mixes.mixes
            ),
        ],
        Source.BLEACH: [Addition("the day's bleach", starts_at, bleach_ul, charges=bleach_charges)],
        Source.RINSE: rinse_additions(ahead, rinse=rinse, now=starts_at - timedelta(seconds=1)),
    }


def _areas(picks: PlatePicks, boxes: Mapping[int, PlateBox], plates: int, usual_mm2: int) -> Sequence[int]:
    """The areas of the day's plates in the order in which they are used; one that is missing counts as a usual plate."""
    found = [
        plate_area_mm2(width_um=boxes[pick.box_id].width_um, height_um=boxes[pick.box_id].height_um)
        for pick in picks.picks
        for _plate in range(pick.plates)
    ]
    return [*found, *[usual_mm2] * (plates - len(found))]


def find_day_needs(session: LabSession, day: date, *, zone: str, today: date) -> DayNeeds | None:
    """What the day's published rotations need, or None on a day without any.

    The days from today on and before it take their share of the shelf first.
    """
    first = min(today, day)
    by_day: dict[date, list[RotationOfDay]] = {}
    for rotation in list_rotation_days(session, first=first, last=day, zone=zone):
        by_day.setdefault(rotation.day, []).append(rotation)
    if day not in by_day:
        return None
    shelf = _Shelf(_boxes_as_the_day_began(session, first, zone), tuple(_held(session, zone)))
    formulas = _formulas(session)
    for before in sorted(by_day):
        # A day that is over takes nothing more, and its own sheet shows what it took.
        if before == day or day >= today:
            rotations = by_day[before]
            needs, shelf = _plan_day(session, before, rotations, shelf, formulas, zone=zone, as_of=first)
    return replace(needs, days_before=[one for one in sorted(by_day) if today <= one < day])


def _plan_day(
    session: LabSession,
    day: date,
    rotations: Sequence[RotationOfDay],
    shelf: _Shelf,
    formulas: Mapping[str, Recipe],
    *,
    zone: str,
    as_of: date,
) -> tuple[DayNeeds, _Shelf]:
    """What one day needs of the shelf, and the shelf after it. What is mixed counts as it stood when `as_of` began."""
    usual, developer = get_usual_quantities(session), usual_formula(session, Solution.DEVELOPER)
    bleach = usual_formula(session, Solution.BLEACH)
    names = {name for rotation in rotations for name in rotation.stations}
    test_plates = len(names) * usual.test_plates_per_station
    plates = test_plates + sum(rotation.most_plates for rotation in rotations)
    picks = pick_plates(shelf.boxes, plates=plates, day=day)
    boxes = {box.id: box for box in list_plate_boxes(session)}
    areas = _areas(picks, boxes, plates, usual.plate_mm2)
    rules = developer_rules(usual, developer)
    standing, batches = _standing_developer(session, rules, day, zone)
    mixes = plan_mixes(rounds_of_day(rotations, areas, test_plates, usual), rules, standing)
    bleach_charges = -(-sum(areas) // rules.charge_area_mm2)
    bleach_ul = bleach_charges * usual.bleach_charge_ul
    last_ends_at = max(one.ends_at for one in rotations)
    bleach_there_ul = max(0, _bleach_there_ul(session, as_of, last_ends_at, zone) - shelf.bleach_gone_ul)
    to_mix_ul = max(0, bleach_ul - bleach_there_ul)
    developer_from, held = provide(
        developer.formula,
        developer.name,
        volume_ul=sum(mix.volume_ul for mix in mixes.mixes),
        held=shelf.held,
        recipes=formulas,
        day=day,
    )
    bleach_from, held = provide(
        bleach.formula, bleach.name, volume_ul=to_mix_ul, held=held, recipes=formulas, day=day
    )
    rinse = get_rinse_per_plate(session, today=as_of, zone=zone)
    additions = _additions(
        rotations, mixes, usual, rinse, test_plates=test_plates, bleach_charges=bleach_charges, day=day
    )
    needs = DayNeeds(
        rotations=rotations,
        stations=[place for place in list_stations(session) if place.name in names],
        test_plates=test_plates,
        usual=usual,
        rinse=rinse,
        times=get_prep_times(session),
        developer=developer,
        rules=rules,
        mixes=mixes,
        batches=batches,
        boxes=boxes,
        picks=picks,
        bleach=bleach,
        bleach_charges=bleach_charges,
        bleach_there_ul=bleach_there_ul,
        bleach_to_mix_ul=to_mix_ul,
        rinse_ul=sum(addition.volume_ul for addition in additions[Source.RINSE]),
        developer_from=developer_from,
        bleach_from=bleach_from,
        days_before=(),
        streams=_stream_needs(session, additions, day, zone),
    )
    gone_ul = shelf.bleach_gone_ul + bleach_ul - to_mix_ul
    return needs, _Shelf(after_picks(shelf.boxes, picks), held, gone_ul)
