"""Reads of the term: the classes ahead, what they take, and whether the shelf holds it."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from itertools import chain, repeat
from math import ceil, floor

from sqlmodel import col, select

from server.charges.queries import find_size_at_hand, list_standing
from server.chemistry.models import UsualQuantities
from server.chemistry.queries import get_usual_quantities, usable_until
from server.core.good_until import is_expired
from server.core.mix_plan import (
    DevelopedRound,
    DeveloperRules,
    PlateInTray,
    Stay,
    plan_mixes,
    rounds_of_class,
)
from server.core.moments import day_at, day_begins
from server.core.recipe import Component, Measure
from server.core.recipe import Recipe as Formula
from server.core.reserve import PlateUse, Success, plates_by_day
from server.core.shelf import stands_for
from server.core.supply import (
    Delivery,
    Lot,
    Need,
    Order,
    Standing,
    Use,
    days_of_classes,
    needs_by_day,
    order,
    standings,
)
from server.data.session import LabSession
from server.kits.models import LEAD_DAYS, Bottle, BottleEntry, BottleEntryKind, Kit
from server.kits.queries import list_every_bottle, list_mixed_from_bottles, on_shelf
from server.people.queries import list_section_names
from server.plates.queries import (
    doubts_about,
    find_last_delivery,
    find_usual_lead_days,
    list_plate_boxes,
    list_plates_used,
)
from server.recipes.models import Solution
from server.recipes.queries import (
    UsualFormula,
    formula_without_recipe,
    list_formulas,
    usual_formula,
)
from server.refusal import NotFound
from server.rotations.models import Rotation, RotationState
from server.rotations.queries import (
    RotationOfDay,
    list_asked_groups,
    list_rotation_days,
    list_starts,
)
from server.runs.queries import find_success
from server.stations.queries import list_stations
from server.supplies.models import PLATES, ClassesAhead, ReserveChoice, SupplyOrder

USUAL_PERCENT = 90
# A solution is mixed from others that are mixed from powders; more than that nobody writes.
_DEEPEST_RECIPE = 4


@dataclass(frozen=True)
class ClassOfDay:
    """What one class takes on one day: `good` plates are to come out well, `others` are its own tests and trials.

    `rotation` is its published rotation; without one `source` says what is known of it, and `address` where.
    """

    name: str
    source: str
    address: str
    good: int
    repeats: int = 0
    others: int = 0
    rotation: RotationOfDay | None = None


@dataclass(frozen=True)
class DayAhead:
    """A day with classes. `tests` is one set for each of the `stations` that the day's rotations use."""

    day: date
    classes: Sequence[ClassOfDay]
    stations: Sequence[str]
    tests: int

    @property
    def plates(self) -> PlateUse:
        return PlateUse(
            self.day,
            good=sum(one.good for one in self.classes),
            tests=self.tests + sum(one.others for one in self.classes),
            repeats=sum(one.repeats for one in self.classes),
        )


@dataclass(frozen=True)
class Term:
    """The days with classes from `first` on, in order. Where that is today, the shelf counts as it was when today began."""

    first: date
    today: date
    days: Sequence[DayAhead]


@dataclass(frozen=True)
class Stored:
    """Something on the shelf that counts, or that stands apart because of what `apart` says."""

    name: str
    address: str
    lot: Lot
    apart: str = ""


@dataclass(frozen=True)
class Supply:
    """One thing the classes take: plates, or a substance by mass or volume.

    `uses` are the days' own amounts; `pack` is what the last delivery brought at once, 1 where there was none.
    """

    what: str
    measure: Measure | None
    shelf: Sequence[Stored]
    deliveries: Sequence[Delivery]
    uses: Sequence[Use]
    needs: Sequence[Need]
    days: Sequence[Standing]
    order: Order | None
    pack: int
    lead_days: int
    lead_is_assumed: bool

    @property
    def there(self) -> int:
        return sum(one.lot.amount for one in self.shelf if not one.apart)

    @property
    def short(self) -> int:
        """What is missing by the end of the term, or in the middle of it until a delivery comes."""
        return max((day.short for day in self.days), default=0)

    @property
    def first_day_the_plan_fails(self) -> date | None:
        """The first day on which the shelf does not even hold what is planned, with nothing in reserve."""
        pairs = zip(self.needs, self.days, strict=True)
        return next((day.day for need, day in pairs if need.planned + need.spoiled > day.held), None)


@dataclass(frozen=True)
class SolutionAhead:
    """What each day takes of a solution, in microlitres, and what of it is still to be mixed when what stands ready is used first.

    `recipe` is the name of the lab's recipe by which it is mixed, empty where it is made as kits bring it.
    """

    name: str
    recipe: str
    formula: Formula
    uses: Sequence[Use]
    standing: Sequence[Stored]
    to_mix: Sequence[Use]


@dataclass(frozen=True)
class Supplies:
    """Everything the term takes. `percent` is how sure the lab wants to be that its plates last."""

    term: Term
    usual: UsualQuantities
    success: Success
    percent: int
    plates: Supply
    solutions: Sequence[SolutionAhead]
    substances: Sequence[Supply]

    @property
    def all(self) -> Sequence[Supply]:
        return [self.plates, *self.substances]


def list_classes_ahead(session: LabSession) -> Sequence[ClassesAhead]:
    return session.exec(
        select(ClassesAhead).order_by(col(ClassesAhead.first_day), col(ClassesAhead.id))
    ).all()


def get_classes_ahead(session: LabSession, classes_id: int) -> ClassesAhead:
    found = session.get(ClassesAhead, classes_id)
    if found is None:
        raise NotFound("There are no such classes in this lab. Choose some from Supplies.")
    return found


def list_open_orders(session: LabSession) -> Sequence[SupplyOrder]:
    """What is on its way, by the day on which it is expected."""
    return session.exec(
        select(SupplyOrder)
        .where(col(SupplyOrder.closed_at).is_(None))
        .order_by(col(SupplyOrder.expected_on), col(SupplyOrder.id))
    ).all()


def get_order(session: LabSession, order_id: int) -> SupplyOrder:
    found = session.get(SupplyOrder, order_id)
    if found is None:
        raise NotFound("There is no such order in this lab. Choose one from Supplies.")
    return found


def find_reserve_choice(session: LabSession) -> ReserveChoice | None:
    return session.exec(select(ReserveChoice)).first()


def _unpublished(session: LabSession, first: date, zone: str) -> Iterator[tuple[date, int, ClassOfDay]]:
    """Rotations that are not published, each with the day on which it begins, its section and what is asked of it."""
    names, starts = list_section_names(session), list_starts(session)
    stations = len([place for place in list_stations(session) if not place.out_of_order])
    wanted = select(Rotation).where(
        Rotation.state != RotationState.PUBLISHED, col(Rotation.class_file).is_(None)
    )
    for rotation in session.exec(wanted.order_by(col(Rotation.id))).all():
        if rotation.id in starts and day_at(starts[rotation.id], zone) >= first:
            yield (
                day_at(starts[rotation.id], zone),
                rotation.section_id,
                ClassOfDay(
                    f"{names[rotation.section_id]}, {rotation.name}",
                    "not published",
                    f"/rotations/{rotation.id}",
                    good=sum(asked.plates for asked in list_asked_groups(session, rotation)),
                    repeats=rotation.reserve_rounds * stations,
                ),
            )


def find_term(session: LabSession, now: datetime, zone: str) -> Term:
    """The classes from today on: published rotations, others by what is asked of them, and classes that were written down.

    Once the last of today's published rotations is over, it begins with tomorrow.
    """
    today = day_at(now, zone)
    published = list_rotation_days(session, first=today, last=None, zone=zone)
    of_today = [one for one in published if one.day == today]
    is_over = bool(of_today) and all(one.ends_at <= now for one in of_today)
    first = today + timedelta(days=1) if is_over else today
    classes: dict[date, list[ClassOfDay]] = defaultdict(list)
    rotating: set[tuple[int, date]] = set()
    stations: dict[date, set[str]] = defaultdict(set)
    for one in published:
        rotating.add((one.section_id, one.day))
        if one.day >= first and (one.plates or one.repeats):
            stations[one.day] |= set(one.stations)
            address = f"/rotations/{one.rotation_id}"
            classes[one.day].append(
                ClassOfDay(one.name, "published", address, one.plates, one.repeats, rotation=one)
            )
    in_order = {place.name for place in list_stations(session) if not place.out_of_order}
    for day, section_id, unpublished in _unpublished(session, first, zone):
        rotating.add((section_id, day))
        if unpublished.good:
            stations[day] |= in_order
            classes[day].append(unpublished)
    for ahead in list_classes_ahead(session):
        for day in days_of_classes(ahead.first_day, ahead.last_day, ahead.every_days):
            if day >= first and (ahead.section_id, day) not in rotating:
                good = ahead.groups * ahead.plates_per_group
                classes[day].append(
                    ClassOfDay(ahead.name, "written down", "#classes", good, others=ahead.other_plates)
                )
    a_set = get_usual_quantities(session).test_plates_per_station
    days = [
        DayAhead(day, classes[day], sorted(stations[day]), a_set * len(stations[day]))
        for day in sorted(classes)
    ]
    return Term(first, today, days)


def _today_used(session: LabSession, term: Term, zone: str) -> tuple[dict[int, int], dict[int, int]]:
    """What runs and tests took out of each box today, and mixing out of each bottle; nothing where today is over."""
    if term.first != term.today:
        return {}, {}
    begins, ends = day_begins(term.today, zone), day_begins(term.today + timedelta(days=1), zone)
    return (
        list_plates_used(session, after=begins, before=ends),
        list_mixed_from_bottles(session, after=begins, before=ends),
    )


def _deliveries(session: LabSession, what: str, today: date) -> list[Delivery]:
    """What is on its way; what is late is taken to come today."""
    return [
        Delivery(max(today, one.expected_on), one.amount)
        for one in list_open_orders(session)
        if one.what == what
    ]


def _plate_shelf(session: LabSession, used: Mapping[int, int], now: datetime, zone: str) -> list[Stored]:
    found = []
    for box in list_plate_boxes(session):
        plates = box.plates_left + used.get(box.id, 0)
        if plates:
            address = f"/stock/plate-boxes/{box.id}"
            lot = Lot(plates, box.expires_on)
            doubts = ", ".join(doubts_about(box, now, zone))
            found.append(Stored(f"plate box “{box.name}”", address, lot, doubts))
    return found


def _find_plates(
    session: LabSession, term: Term, shelf: Sequence[Stored], success: Success, percent: int
) -> Supply:
    lots = [one.lot for one in shelf if not one.apart]
    deliveries = _deliveries(session, PLATES, term.today)
    uses = [day.plates for day in term.days]
    needs = plates_by_day(lots, uses, share=success.share, confidence=Fraction(percent, 100))
    days = standings(needs, lots=lots, deliveries=deliveries)
    last, lead_days = find_last_delivery(session), find_usual_lead_days(session)
    return Supply(
        PLATES,
        None,
        shelf,
        deliveries,
        [Use(use.day, use.planned) for use in uses],
        needs,
        days,
        order(days, pack=last or 1, lead_days=lead_days, today=term.today),
        last or 1,
        lead_days,
        lead_is_assumed=last is None,
    )


def developer_rules(usual: UsualQuantities, developer: UsualFormula) -> DeveloperRules:
    """What a mix of developer can do in this lab, by its recipe and the lab's own times.

    However short the lead is set, the mix must have stood and be poured.
    """
    return DeveloperRules(
        life_s=developer.life_s or usual.developer_life_s,
        lead_s=max(usual.mix_lead_s, developer.stand_s + usual.change_s),
        late_start_s=usual.late_start_s,
        charge_ul=usual.developer_charge_ul,
        charge_area_mm2=usual.plates_per_charge * usual.plate_mm2,
    )


def rounds_of_day(
    rotations: Sequence[RotationOfDay], areas: Sequence[int], test_plates: int, usual: UsualQuantities
) -> Sequence[DevelopedRound]:
    """What goes through the developer on a day: the tests one by one before the first class, and the rounds of every class."""
    stays = sorted(
        (stay.starts_at, stay.ends_at, one.rotation_id, stay.tray)
        for one in rotations
        for stay in one.in_developer
    )
    if not stays:
        return []
    of_class: dict[int, list[Stay]] = {one.rotation_id: [] for one in rotations}
    in_turn = chain(areas[test_plates:], repeat(usual.plate_mm2))
    for (starts_at, ends_at, rotation_id, tray), area_mm2 in zip(stays, in_turn, strict=False):
        of_class[rotation_id].append(Stay(tray, starts_at, ends_at, area_mm2))
    found = [
        one
        for rotation in rotations
        for one in rounds_of_class(
            rotation.rotation_id,
            rotation.name,
            starts_at=rotation.starts_at,
            stays=of_class[rotation.rotation_id],
            change_s=usual.change_s,
        )
    ]
    first = min(found, key=lambda one: one.ready_by)
    tests = [
        replace(
            first,
            rotation_id=0,
            name="the tests",
            last_out_at=first.first_in_at,
            plates=(PlateInTray(stays[0][3], area),),
        )
        for area in areas[:test_plates]
    ]
    return [*tests, *found]


def _charges(plates: int, plate_mm2: int, usual: UsualQuantities) -> int:
    """Charges for so many plates when they are used to the full."""
    return -(-plates * plate_mm2 // (usual.plates_per_charge * usual.plate_mm2))


def _developer_ul(day: DayAhead, usual: UsualQuantities, plate_mm2: int, developer: UsualFormula) -> int:
    """The day's mixes, and whole charges for classes whose times are not known yet and for rounds that outlast any one mix."""
    rotations = [one.rotation for one in day.classes if one.rotation is not None]
    tests = day.plates.tests if rotations else 0
    areas = [plate_mm2] * (tests + sum(one.most_plates for one in rotations))
    mixes = plan_mixes(rounds_of_day(rotations, areas, tests, usual), developer_rules(usual, developer))
    mixed = sum(mix.plates for mix in mixes.mixes)
    unmixed = _charges(day.plates.planned - mixed, plate_mm2, usual)
    return sum(mix.volume_ul for mix in mixes.mixes) + unmixed * usual.developer_charge_ul


def _bleach_ul(day: DayAhead, usual: UsualQuantities, plate_mm2: int, _bleach: UsualFormula) -> int:
    return _charges(day.plates.planned, plate_mm2, usual) * usual.bleach_charge_ul


def _last_whole_day(ends_at: datetime, zone: str) -> date:
    """The last day that a batch lives through; on the day of its end nobody knows whether it comes before the class."""
    return day_at(ends_at, zone) - timedelta(days=1)


def _standing(
    session: LabSession, solution: Solution, term: Term, now: datetime, zone: str, *, name: str = ""
) -> list[Stored]:
    """What is mixed and lives beyond its day, in its bottle or in a tray: bleach keeps from class to class.

    With a `name` only batches that are called so.
    """
    return [
        Stored(
            f"batch {batch.number}",
            f"/chemistry/batches/{batch.id}",
            Lot(volume_ul, _last_whole_day(usable_until(batch), zone)),
        )
        for batch, volume_ul in list_standing(session, solution, as_of=day_begins(term.first, zone))
        if volume_ul
        and (not name or batch.name.casefold() == name.casefold())
        and usable_until(batch) > now
        and _last_whole_day(usable_until(batch), zone) >= term.first
    ]


def _to_mix(uses: Sequence[Use], standing: Sequence[Stored]) -> list[Use]:
    """What is still to be mixed for each day when what stands ready is used first."""
    lots = [one.lot for one in standing]
    short = [day.short for day in standings(needs_by_day(lots, uses), lots=lots)]
    return [Use(use.day, now - before) for use, before, now in zip(uses, [0, *short], short, strict=False)]


def _substance_shelf(
    session: LabSession, component: Component, mixed: Mapping[int, int], today: date
) -> Iterator[Stored]:
    """The bottles that hold the component or stand for it, each as so much of what the recipe calls for."""
    for bottle, kit in list_every_bottle(session):
        taken = stands_for(component, on_shelf(bottle))
        amount = 0 if taken is None else floor((bottle.left + mixed.get(bottle.id, 0)) / taken)
        if amount:
            apart = "expired" if is_expired(kit.expires_on, today) else ""
            name = f"{bottle.substance} of kit “{kit.name}”"
            yield Stored(name, f"/stock/kits/{kit.id}", Lot(amount, kit.expires_on), apart)


def _find_last_bottle(session: LabSession, component: Component) -> tuple[int, int] | None:
    """How much of the component the bottle brought that came last, and the days of its delivery; None where none ever came."""
    arrived = (
        select(Bottle, BottleEntry.change, Kit.lead_days)
        .join(BottleEntry, col(Bottle.id) == col(BottleEntry.bottle_id))
        .join(Kit, col(Kit.id) == col(Bottle.kit_id))
        .where(BottleEntry.kind == BottleEntryKind.ARRIVED)
        .order_by(col(BottleEntry.id).desc())
    )
    for bottle, change, lead_days in session.exec(arrived).all():
        taken = stands_for(component, on_shelf(bottle))
        if taken is not None:
            return max(1, floor(change / taken)), lead_days
    return None


def _find_substance(
    session: LabSession,
    term: Term,
    component: Component,
    uses: Sequence[Use],
    mixed: Mapping[int, int],
) -> Supply:
    shelf = [*_substance_shelf(session, component, mixed, term.today)]
    lots = [one.lot for one in shelf if not one.apart]
    deliveries = _deliveries(session, component.name, term.today)
    needs = needs_by_day(lots, uses)
    days = standings(needs, lots=lots, deliveries=deliveries)
    last = _find_last_bottle(session, component)
    pack, lead_days = last or (1, LEAD_DAYS)
    return Supply(
        component.name,
        Measure.MASS if component.measure == Measure.MASS else Measure.VOLUME,
        shelf,
        deliveries,
        uses,
        needs,
        days,
        order(days, pack=pack, lead_days=lead_days, today=term.today),
        pack,
        lead_days,
        lead_is_assumed=last is None,
    )


def _is_bought(bottles: Sequence[tuple[Bottle, Kit]], formula: Formula) -> bool:
    """Whether anything that the formula takes ever came in a bottle."""
    return any(
        stands_for(component, on_shelf(bottle)) is not None
        for component in formula.components
        for bottle, _kit in bottles
    )


def _formula_used(
    session: LabSession, solution: Solution, bottles: Sequence[tuple[Bottle, Kit]]
) -> UsualFormula:
    """The lab's recipe; but what kits bring, where nothing that the recipe takes was ever bought."""
    usual, of_kits = usual_formula(session, solution), formula_without_recipe(solution)
    own = list_formulas(session)
    may_be_made = any(component.name.lower() in own for component in usual.formula.components)
    if may_be_made or _is_bought(bottles, usual.formula) or not _is_bought(bottles, of_kits.formula):
        return usual
    return of_kits


def _made_ready(
    session: LabSession, component: Component, mixed: Mapping[int, int], term: Term, now: datetime, zone: str
) -> list[Stored]:
    """What of a component stands ready, in bottles as it was bought and in batches of its name."""
    bought = [one for one in _substance_shelf(session, component, mixed, term.today) if not one.apart]
    return [*bought, *_standing(session, Solution.STOCK, term, now, zone, name=component.name)]


def _components_ahead(
    session: LabSession,
    solutions: list[SolutionAhead],
    mixed: Mapping[int, int],
    term: Term,
    now: datetime,
    zone: str,
) -> Sequence[tuple[Component, Sequence[Use]]]:
    """What has to be on the shelf as it is bought, with what each day takes of it.

    A component that the lab mixes itself, such as a stock solution from powders, is added to `solutions` and taken apart into its own,
    after what stands ready of it.
    """
    bottles, own = list_every_bottle(session), list_formulas(session)
    found: dict[str, tuple[Component, dict[date, Fraction]]] = {}
    level = [(ahead.formula, ahead.to_mix) for ahead in solutions]
    for depth in range(_DEEPEST_RECIPE):
        taken: dict[str, tuple[Component, dict[date, Fraction]]] = {}
        for formula, uses in level:
            for component in formula.components:
                _component, days = taken.setdefault(component.name, (component, defaultdict(Fraction)))
                for use in uses:
                    days[use.day] += formula.share(component) * use.amount
        level = []
        for name, (component, days) in taken.items():
            by = own.get(name.lower())
            is_deepest = depth == _DEEPEST_RECIPE - 1
            if is_deepest or by is None or not _is_bought(bottles, by):
                _component, known = found.setdefault(name, (component, defaultdict(Fraction)))
                for day, amount in days.items():
                    known[day] += amount
            else:
                uses, ready = _days_of(days), _made_ready(session, component, mixed, term, now, zone)
                ahead = SolutionAhead(name, name, by, uses, ready, _to_mix(uses, ready))
                solutions.append(ahead)
                level.append((by, ahead.to_mix))
    return [(component, _days_of(days)) for component, days in found.values()]


def _days_of(day_uses: Mapping[date, Fraction]) -> list[Use]:
    return [Use(day, ceil(amount)) for day, amount in day_uses.items()]


def find_supplies(session: LabSession, now: datetime, zone: str) -> Supplies:
    """Plates, and what working developer and bleach are usually mixed from, against the term."""
    term, usual, success = find_term(session, now, zone), get_usual_quantities(session), find_success(session)
    choice = find_reserve_choice(session)
    percent = USUAL_PERCENT if choice is None else choice.percent
    used, mixed = _today_used(session, term, zone)
    plate_mm2 = find_size_at_hand(session).area_mm2
    solutions, bottles = [], list_every_bottle(session)
    for solution, volume_of in ((Solution.DEVELOPER, _developer_ul), (Solution.BLEACH, _bleach_ul)):
        made = _formula_used(session, solution, bottles)
        uses = [Use(day.day, volume_of(day, usual, plate_mm2, made)) for day in term.days]
        standing = _standing(session, solution, term, now, zone)
        recipe = made.name if made.edition else ""
        to_mix = _to_mix(uses, standing)
        solutions.append(SolutionAhead(solution, recipe, made.formula, uses, standing, to_mix))
    components = _components_ahead(session, solutions, mixed, term, now, zone)
    return Supplies(
        term,
        usual,
        success,
        percent,
        _find_plates(session, term, _plate_shelf(session, used, now, zone), success, percent),
        solutions,
        [_find_substance(session, term, component, uses, mixed) for component, uses in components],
    )
