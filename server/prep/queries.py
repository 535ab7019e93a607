"""Reads for a day's prep sheet: what its rotations need, what there was as the day began, and which lines are done."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlmodel import select

from server.charges.queries import list_standing
from server.chemistry.models import UsualQuantities
from server.chemistry.queries import get_usual_quantities, usable_until
from server.core.good_until import is_expired
from server.core.mix_plan import MixPlan, plan_mixes
from server.core.moments import day_at, day_begins
from server.core.prep_sheet import BoxOnShelf, PlatePicks, pick_plates
from server.core.waste_forecast import (
    Addition,
    Fill,
    PlatesAhead,
    Vessel,
    fill,
    rinse_additions,
)
from server.core.working_solution import equal_parts, plate_area_mm2
from server.data.session import LabSession
from server.kits.models import BLEACH, PROPOSED, STOCK_A, STOCK_B
from server.kits.queries import list_every_bottle, list_mixed_from_bottles
from server.plates.models import PlateBox
from server.plates.queries import list_plate_boxes, list_plates_used
from server.prep.models import PrepTick
from server.recipes.models import Solution
from server.rotations.queries import (
    RotationOfDay,
    get_plan,
    list_published,
    list_rotations_of_day,
    list_visits,
)
from server.stations.models import Place
from server.stations.queries import list_stations
from server.supplies.queries import developer_rules, rounds_of_day
from server.waste.models import ContainerState, Source
from server.waste.queries import list_containers, list_standing_pours, list_streams

_DAYS_AHEAD = timedelta(days=21)


@dataclass(frozen=True)
class StockNeed:
    """A substance, the volume that the day needs and the volume there was as the day began."""

    substance: str
    needed_ul: int
    there_ul: int


@dataclass(frozen=True)
class StreamNeed:
    """What the day pours into the stream that takes `source`; `fill` is None where no stream takes it."""

    source: Source
    stream: str
    fill: Fill | None
    needed_ul: int


@dataclass(frozen=True)
class DayNeeds:
    """Everything a day's published rotations need. `test_plates` is one set for each station used that day."""

    rotations: Sequence[RotationOfDay]
    stations: Sequence[Place]
    test_plates: int
    usual: UsualQuantities
    mixes: MixPlan
    boxes: Mapping[int, PlateBox]
    picks: PlatePicks
    bleach_charges: int
    rinse_ul: int
    stock: Sequence[StockNeed]
    streams: Sequence[StreamNeed]

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
        mixes = self.mixes.mixes
        return mixes[0].mixed_at if self.test_plates and mixes else self.starts_at


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


def _boxes_as_the_day_began(session: LabSession, day: date, zone: str) -> Sequence[BoxOnShelf]:
    """Boxes with the plates they held before the day's runs and tests, so that the sheet does not change during class."""
    used = list_plates_used(session, after=day_begins(day, zone), before=_day_ends(day, zone))
    return [
        BoxOnShelf(box.id, box.plates_left + used.get(box.id, 0), box.expires_on)
        for box in list_plate_boxes(session)
    ]


def _stock_as_the_day_began(session: LabSession, substance: str, day: date, zone: str) -> int:
    """Microlitres that may be drawn on the day, with what the day's mixing has drawn already, from bottles it emptied too."""
    drawn = list_mixed_from_bottles(session, after=day_begins(day, zone), before=_day_ends(day, zone))
    return sum(
        bottle.left + drawn.get(bottle.id, 0)
        for bottle, kit in list_every_bottle(session)
        if bottle.substance == substance and not is_expired(kit.expires_on, day)
    )


def _bleach_as_the_day_began(session: LabSession, day: date, until: datetime, zone: str) -> int:
    """Bleach that was mixed before the day and lives `until` its last rotation ends, in its bottle or in a tray.

    What was mixed during the day came out of a bottle that is counted already.
    """
    standing = list_standing(session, Solution.BLEACH, as_of=day_begins(day, zone))
    return sum(volume_ul for batch, volume_ul in standing if usable_until(batch) > until)


def _vessels_as_the_day_began(session: LabSession, stream_id: int, day: date, zone: str) -> Sequence[Vessel]:
    """Open containers of a stream with what they held before the day's pours."""
    vessels = []
    for container in list_containers(session):
        if container.stream_id == stream_id and container.state == ContainerState.OPEN:
            poured = sum(
                entry.change_ul
                for entry in list_standing_pours(session, container.id)
                if day_at(entry.entered_at, zone) == day
            )
            vessels.append(Vessel(container.held_ul - poured, container.fill_line_ul))
    return vessels


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
            filled = fill(_vessels_as_the_day_began(session, stream.id, day, zone), poured)
            needs.append(StreamNeed(source, stream.name, filled, needed_ul))
    return needs


def _additions(
    rotations: Sequence[RotationOfDay],
    mixes: MixPlan,
    usual: UsualQuantities,
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
    bleach_ul = bleach_charges * usual.bleach_charge_ul
    return {
        Source.DEVELOPER: [
            Addition(mix.last_round.name, mix.mixed_at, mix.volume_ul, charges=mix.charge_count)
            for mix in mixes.mixes
        ],
        Source.BLEACH: [Addition("the day's bleach", starts_at, bleach_ul, charges=bleach_charges)],
        Source.RINSE: rinse_additions(
            ahead, rinse_ul_per_plate=usual.rinse_ul_per_plate, now=starts_at - timedelta(seconds=1)
        ),
    }


def _areas(picks: PlatePicks, boxes: Mapping[int, PlateBox], plates: int, usual_mm2: int) -> Sequence[int]:
    """The areas of the day's plates in the order in which they are used; one that is missing counts as a usual plate."""
    found = [
        plate_area_mm2(width_um=boxes[pick.box_id].width_um, height_um=boxes[pick.box_id].height_um)
        for pick in picks.picks
        for _plate in range(pick.plates)
    ]
    return [*found, *[usual_mm2] * (plates - len(found))]


def find_day_needs(session: LabSession, day: date, *, zone: str) -> DayNeeds | None:
    """What the day's published rotations need, or None on a day without any."""
    rotations = list_rotations_of_day(session, day, zone)
    if not rotations:
        return None
    usual = get_usual_quantities(session)
    names = {name for rotation in rotations for name in rotation.stations}
    test_plates = len(names) * usual.test_plates_per_station
    plates = test_plates + sum(rotation.most_plates for rotation in rotations)
    picks = pick_plates(_boxes_as_the_day_began(session, day, zone), plates=plates, day=day)
    boxes = {box.id: box for box in list_plate_boxes(session)}
    areas = _areas(picks, boxes, plates, usual.plate_mm2)
    rounds = rounds_of_day(rotations, areas, test_plates, usual_mm2=usual.plate_mm2)
    rules = developer_rules(usual)
    mixes = plan_mixes(rounds, rules)
    bleach_charges = -(-sum(areas) // rules.charge_area_mm2)
    developer = equal_parts(volume_ul=sum(mix.volume_ul for mix in mixes.mixes))
    there = {substance: _stock_as_the_day_began(session, substance, day, zone) for substance in PROPOSED}
    last_end = max(rotation.ends_at for rotation in rotations)
    there[BLEACH] += _bleach_as_the_day_began(session, day, last_end, zone)
    needed = {
        STOCK_A: developer.stock_a_ul,
        STOCK_B: developer.stock_b_ul,
        BLEACH: bleach_charges * usual.bleach_charge_ul,
    }
    additions = _additions(
        rotations, mixes, usual, test_plates=test_plates, bleach_charges=bleach_charges, day=day
    )
    return DayNeeds(
        rotations=rotations,
        stations=[place for place in list_stations(session) if place.name in names],
        test_plates=test_plates,
        usual=usual,
        mixes=mixes,
        boxes=boxes,
        picks=picks,
        bleach_charges=bleach_charges,
        rinse_ul=sum(addition.volume_ul for addition in additions[Source.RINSE]),
        stock=[StockNeed(substance, needed[substance], there[substance]) for substance in PROPOSED],
        streams=_stream_needs(session, additions, day, zone),
    )
