"""Reads of totals, of what was measured, and of the clocks that run."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from heapq import merge
from itertools import groupby

from sqlalchemy.orm import aliased
from sqlmodel import and_, col, func, or_, select

from server.containers.models import (
    COMES_IN,
    OtherWaste,
    Stream,
    WasteArea,
    WasteContainer,
    WasteEntry,
    WasteEntryKind,
)
from server.containers.queries import is_standing, list_areas, list_containers, list_streams
from server.core.container_life import AreaKind
from server.core.moments import day_at, day_begins
from server.core.waste_rules.clocks import (
    Change,
    Clock,
    area_clock,
    central_clock,
    crossed_on,
    determination_clock,
    full_clock,
    laboratory_clock,
    months_after,
    removal_clock,
    site_clock,
)
from server.core.waste_rules.rule import Key
from server.core.waste_rules.totals import Masses
from server.data.session import LabSession
from server.limits.models import AreaTray, CountsAs, Determination, SiteMonth, StreamCounting
from server.pickups.queries import list_pickups
from server.rules.queries import KeptRules, find_rules
from server.shelves.queries import list_other_waste

# How many entries are read at once on the way back to the day on which a total went over its limit.
_AT_ONCE = 500


@dataclass(frozen=True)
class Standing:
    """A container that stands in the lab, with its stream and what that counts as."""

    container: WasteContainer
    stream: Stream
    counts_as: CountsAs


@dataclass(frozen=True)
class AreaHeld:
    """What stands in one waste area. `area` is None for what was placed in none; `tray_ul` None where no tray was measured."""

    area: WasteArea | None
    standing: Sequence[Standing]
    other: Sequence[OtherWaste]
    tray_ul: int | None

    @property
    def name(self) -> str:
        return "in no area" if self.area is None else self.area.name

    @property
    def is_central(self) -> bool:
        return self.area is not None and self.area.kind == AreaKind.CENTRAL

    def amount(self, counted: "Counted") -> int:
        """What a limit counts of it, in microlitres or milligrams."""
        of_kind = self.mass_mg if counted.is_mass else self.volume_ul
        return sum(of_kind(kind) for kind in counted.kinds)

    def volume_ul(self, counts_as: CountsAs = CountsAs.NON_ACUTE) -> int:
        """What all of its containers hold of waste that counts so; other courses' waste counts as non-acute."""
        held = sum(one.container.held_ul for one in self.standing if one.counts_as == counts_as)
        return held + sum(one.volume_ul for one in self.other if counts_as == CountsAs.NON_ACUTE)

    def mass_mg(self, counts_as: CountsAs = CountsAs.NON_ACUTE) -> int:
        held = sum(one.container.held_mg for one in self.standing if one.counts_as == counts_as)
        return held + sum(one.mass_mg for one in self.other if counts_as == CountsAs.NON_ACUTE)

    @property
    def capacities_ul(self) -> Sequence[int]:
        """How much each container with liquid in it holds to the brim; of other courses' waste its volume is all that is known."""
        own = [one.container.size_ul for one in self.standing if one.container.held_ul > 0]
        return [*own, *(one.volume_ul for one in self.other)]


@dataclass(frozen=True)
class Counted:
    """What a limit counts: which kinds of waste, by their mass or by their volume. `words` tells it from the other limits of one place."""

    key: Key
    kinds: Collection[CountsAs]
    is_mass: bool = False
    words: str = ""


# A satellite area's limits are each of one kind; a laboratory's most is of all unwanted material, acute or not (40 CFR 262.208(d)).
AREA_LIMITS = (
    Counted(Key.AREA_MOST, (CountsAs.NON_ACUTE,)),
    Counted(Key.AREA_ACUTE_LIQUID, (CountsAs.ACUTE_LIQUID,), words=", acute liquid"),
    Counted(Key.AREA_ACUTE_SOLID, (CountsAs.ACUTE_SOLID,), is_mass=True, words=", acute solid"),
)
LABORATORY_MOST = Counted(Key.LABORATORY_MOST, tuple(CountsAs))
LABORATORY_LIMITS = (
    LABORATORY_MOST,
    Counted(Key.LABORATORY_ACUTE_LIQUID, (CountsAs.ACUTE_LIQUID,)),
    Counted(Key.LABORATORY_ACUTE_SOLID, (CountsAs.ACUTE_SOLID,), is_mass=True),
)


@dataclass(frozen=True)
class Measured:
    """What was measured last of a container. `came_in_ul` is what came in since a measurement's sample, by its id."""

    ph: Determination | None = None
    silver: Determination | None = None
    chromium: Determination | None = None
    said: Determination | None = None
    came_in_ul: Mapping[int, int] = field(default_factory=dict)

    def came_in_since_ul(self, one: Determination | None) -> int:
        """What came into the container after a sample was taken, whatever left it since."""
        return 0 if one is None else self.came_in_ul.get(one.id, 0)


@dataclass(frozen=True)
class RunningClock:
    """A clock that runs: of what, its due day, and the page that shows it."""

    of: str
    clock: Clock
    due: date
    address: str


def list_countings(session: LabSession) -> Mapping[int, CountsAs]:
    """What each stream counts as, by its id; those of which nobody said anything are not in it."""
    said = session.exec(select(StreamCounting).order_by(col(StreamCounting.id))).all()
    return {one.stream_id: CountsAs(one.counts_as) for one in said}


def find_tray_ul(session: LabSession, area_id: int) -> int | None:
    return session.exec(
        select(AreaTray.tray_ul).where(AreaTray.area_id == area_id).order_by(col(AreaTray.id).desc()).limit(1)
    ).first()


def list_areas_held(session: LabSession) -> Sequence[AreaHeld]:
    """Every waste area with what stands in it, and last what was placed in none, where there is any."""
    countings = list_countings(session)
    streams = {one.id: one for one in list_streams(session)}
    standing = defaultdict[int | None, list[Standing]](list)
    for container in list_containers(session):
        counts_as = countings.get(container.stream_id, CountsAs.NON_ACUTE)
        standing[container.area_id].append(Standing(container, streams[container.stream_id], counts_as))
    other = defaultdict[int | None, list[OtherWaste]](list)
    for waste in list_other_waste(session):
        other[waste.area_id].append(waste)
    held = [
        AreaHeld(area, standing[area.id], other[area.id], find_tray_ul(session, area.id))
        for area in list_areas(session)
    ]
    loose = AreaHeld(None, standing[None], other[None], None)
    return [*held, loose] if loose.standing or loose.other else held


def find_exceeded_on(
    session: LabSession, areas: Sequence[AreaHeld], *, limit: Decimal, counted: Counted, zone: str
) -> date | None:
    """The day on which what is counted of areas, taken as one, went over a limit; None where it is not over."""
    total = sum(area.amount(counted) for area in areas)
    if total <= limit:
        return None
    ids = [None if one.area is None else one.area.id for one in areas]
    by_day = groupby(_changes(session, ids, counted, zone), key=lambda change: change.day)
    latest_first = (Change(day, sum(one.amount for one in of_a_day)) for day, of_a_day in by_day)
    return crossed_on(total=total, latest_first=latest_first, limit=limit)


def _changes(
    session: LabSession, area_ids: Sequence[int | None], counted: Counted, zone: str
) -> Iterator[Change]:
    """What came into areas and left them, from the latest back: the ledgers of their containers and other courses' waste."""
    others: list[Change] = []
    if CountsAs.NON_ACUTE in counted.kinds:
        waste = session.exec(select(OtherWaste)).all()
        others += [Change(one.since, one.volume_ul) for one in waste if one.area_id in area_ids]
        others += [
            Change(one.gone_on, -one.volume_ul) for one in waste if one.area_id in area_ids and one.gone_on
        ]
    others.sort(key=lambda change: change.day, reverse=True)
    entries = _entry_changes(session, area_ids, counted, zone)
    return merge(entries, others, key=lambda change: change.day, reverse=True)


def _entry_changes(
    session: LabSession, area_ids: Sequence[int | None], counted: Counted, zone: str
) -> Iterator[Change]:
    countings = list_countings(session)
    streams = [
        one.id for one in list_streams(session) if countings.get(one.id, CountsAs.NON_ACUTE) in counted.kinds
    ]
    here = or_(
        col(WasteContainer.area_id).in_([one for one in area_ids if one is not None]),
        col(WasteContainer.area_id).is_(None) if None in area_ids else False,
    )
    change = WasteEntry.change_mg if counted.is_mass else WasteEntry.change_ul
    chosen = (
        select(WasteEntry.happened_at, WasteEntry.id, change)
        .join(WasteContainer, col(WasteContainer.id) == col(WasteEntry.container_id))
        .where(here, col(WasteContainer.stream_id).in_(streams))
        .order_by(col(WasteEntry.happened_at).desc(), col(WasteEntry.id).desc())
        .limit(_AT_ONCE)
    )
    entries = session.exec(chosen).all()
    while entries:
        for happened_at, _entry_id, amount in entries:
            yield Change(day_at(happened_at, zone), amount)
        at, last_id, _amount = entries[-1]
        before = or_(
            col(WasteEntry.happened_at) < at,
            and_(col(WasteEntry.happened_at) == at, col(WasteEntry.id) < last_id),
        )
        entries = session.exec(chosen.where(before)).all()


def find_contribution(session: LabSession, month: date, *, rules: KeptRules, zone: str) -> Masses:
    """Net waste of this lab in the month that begins on `month`: what was poured in it, or, where the rules say so, what was determined."""
    if rules.book.rule_set.counts_when_determined:
        return _determined(session, month)
    return _poured(session, month, zone)


def _poured(session: LabSession, month: date, zone: str) -> Masses:
    """Pours and spills count once, less those that were taken back; transfers, samples and what dried up change nothing of what was made."""
    reversed_entry = aliased(WasteEntry)
    made_as = func.coalesce(reversed_entry.kind, WasteEntry.kind)
    rows = session.exec(
        select(WasteContainer.stream_id, made_as, func.sum(WasteEntry.change_mg))
        .join(WasteContainer, col(WasteContainer.id) == col(WasteEntry.container_id))
        .outerjoin(reversed_entry, col(reversed_entry.id) == col(WasteEntry.reverses_id))
        .where(
            col(WasteEntry.happened_at) >= day_begins(month, zone),
            col(WasteEntry.happened_at) < day_begins(months_after(month, 1), zone),
            or_(
                col(WasteEntry.kind).in_([WasteEntryKind.POUR, WasteEntryKind.SPILL]),
                col(reversed_entry.kind).in_([WasteEntryKind.POUR, WasteEntryKind.SPILL]),
            ),
        )
        .group_by(col(WasteContainer.stream_id), made_as)
    ).all()
    poured = [(stream_id, int(mass)) for stream_id, kind, mass in rows if kind != WasteEntryKind.SPILL]
    spilled = [(stream_id, -int(mass)) for stream_id, kind, mass in rows if kind == WasteEntryKind.SPILL]
    return _masses(session, poured, spilled)


def _determined(session: LabSession, month: date) -> Masses:
    """What each container held when the waste office determined it in that month, less what was determined of it before."""
    rows = session.exec(
        select(Determination, WasteContainer.stream_id)
        .join(WasteContainer, col(WasteContainer.id) == col(Determination.container_id))
        .where(
            col(Determination.determined_on) >= month,
            col(Determination.determined_on) < months_after(month, 1),
        )
        .order_by(col(Determination.determined_on), col(Determination.id))
    ).all()
    earlier = session.exec(
        select(Determination.container_id, func.max(Determination.held_mg))
        .where(
            col(Determination.container_id).in_({one.container_id for one, _stream_id in rows}),
            col(Determination.determined_on) < month,
        )
        .group_by(col(Determination.container_id))
    ).all()
    counted = dict(earlier)
    new = list[tuple[int, int]]()
    for one, stream_id in rows:
        before = counted.get(one.container_id, 0)
        new.append((stream_id, max(0, one.held_mg - before)))
        counted[one.container_id] = max(before, one.held_mg)
    return _masses(session, new, [])


def _masses(
    session: LabSession, made: Sequence[tuple[int, int]], spilled: Sequence[tuple[int, int]]
) -> Masses:
    countings = list_countings(session)
    acute = {one for one, counts_as in countings.items() if counts_as != CountsAs.NON_ACUTE}
    return Masses(
        acute_mg=max(0, sum(mass for stream_id, mass in made if stream_id in acute)),
        non_acute_mg=max(0, sum(mass for stream_id, mass in made if stream_id not in acute)),
        spill_mg=max(0, sum(mass for stream_id, mass in spilled if stream_id in acute)),
    )


def list_site_months(session: LabSession) -> Sequence[SiteMonth]:
    """What was told of the rest of the site, the latest telling of each month, by month."""
    told = session.exec(select(SiteMonth).order_by(col(SiteMonth.id))).all()
    return sorted({one.month: one for one in told}.values(), key=lambda one: one.month)


def list_determinations(session: LabSession, container_id: int) -> Sequence[Determination]:
    """What was measured of a container, the latest sample first."""
    return session.exec(
        select(Determination)
        .where(Determination.container_id == container_id)
        .order_by(col(Determination.sampled_at).desc(), col(Determination.id).desc())
    ).all()


def list_measured(session: LabSession, container_ids: Sequence[int]) -> Mapping[int, Measured]:
    """What was measured last of each of these containers."""
    rows = session.exec(
        select(Determination)
        .where(col(Determination.container_id).in_(container_ids))
        .order_by(col(Determination.sampled_at), col(Determination.id))
    ).all()
    latest = {container_id: dict[str, Determination]() for container_id in container_ids}
    for one in rows:
        found = {
            "ph": one.ph_hundredths is not None,
            "silver": one.silver_ug_per_l is not None,
            "chromium": one.chromium_ug_per_l is not None,
            "said": bool(one.said),
        }
        latest[one.container_id].update({name: one for name, is_there in found.items() if is_there})
    last = {one.id for found in latest.values() for one in found.values()}
    came_in = _came_in_since(session, last)
    return {container_id: Measured(**found, came_in_ul=came_in) for container_id, found in latest.items()}


def _came_in_since(session: LabSession, determination_ids: Collection[int]) -> Mapping[int, int]:
    rows = session.exec(
        select(Determination.id, func.sum(WasteEntry.change_ul))
        .join(WasteEntry, col(WasteEntry.container_id) == col(Determination.container_id))
        .where(
            col(Determination.id).in_(determination_ids),
            col(WasteEntry.happened_at) > col(Determination.sampled_at),
            col(WasteEntry.kind).in_(COMES_IN),
            is_standing(),
        )
        .group_by(col(Determination.id))
    ).all()
    return {determination_id: int(volume) for determination_id, volume in rows}


def list_clocks(session: LabSession, today: date, *, zone: str) -> Sequence[RunningClock]:
    """Every clock that runs, the first due first."""
    rules = find_rules(session, today)
    held = list_areas_held(session)
    measured = list_measured(session, [one.container.id for area in held for one in area.standing])
    running = [
        *_area_clocks(session, rules, held, zone),
        *(
            clock
            for area in held
            for one in area.standing
            for clock in _container_clocks(rules, area, one.container, measured[one.container.id], zone)
        ),
        *_site_clocks(session, rules, held),
    ]
    return sorted(running, key=lambda one: (one.due, one.of, one.clock.title))


def _running(of: str, address: str, *clocks: Clock) -> Iterator[RunningClock]:
    for clock in clocks:
        if clock.due is not None:
            yield RunningClock(of, clock, clock.due, address)


def _area_clocks(
    session: LabSession, rules: KeptRules, held: Sequence[AreaHeld], zone: str
) -> Iterator[RunningClock]:
    beside_the_work = [area for area in held if not area.is_central]
    for area in beside_the_work:
        for counted, exceeded in _exceeded(session, rules, [area], AREA_LIMITS, zone):
            clock = area_clock(rules.book, exceeded_on=exceeded)
            yield from _running(f"Area “{area.name}”{counted.words}", "/waste/limits", clock)
    # Whichever of its limits it passed first, all of the laboratory is cleared from that day on.
    first = min(
        (day for _counted, day in _exceeded(session, rules, beside_the_work, LABORATORY_LIMITS, zone)),
        default=None,
    )
    clock = laboratory_clock(rules.book, exceeded_on=first, next_removal=_next_removal(session, first))
    yield from _running("This laboratory", "/waste/limits", clock)


def _exceeded(
    session: LabSession, rules: KeptRules, areas: Sequence[AreaHeld], limits: Sequence[Counted], zone: str
) -> Iterator[tuple[Counted, date]]:
    """The limits that areas, taken as one, are over, each with the day on which they went over it."""
    for counted in limits:
        most = rules.book.find(counted.key).amount
        if most is not None:
            day = find_exceeded_on(session, areas, limit=most.exact, counted=counted, zone=zone)
            if day is not None:
                yield counted, day


def _next_removal(session: LabSession, since: date | None) -> date | None:
    """The first pickup from a day on that is booked and was not missed."""
    if since is None:
        return None
    coming = (one.on_day for one in list_pickups(session, since=since) if one.missed_at is None)
    return next(coming, None)


def _container_clocks(
    rules: KeptRules, area: AreaHeld, container: WasteContainer, measured: Measured, zone: str
) -> Iterator[RunningClock]:
    if not container.held_ul:
        return
    book = rules.book
    started, full, arrived = (
        None if instant is None else day_at(instant, zone)
        for instant in (container.first_pour_at, container.full_at, container.arrived_at)
    )
    of, address = f"“{container.name}”", f"/waste/containers/{container.id}"
    yield from _running(of, address, full_clock(book, full_on=full))
    if not area.is_central:
        yield from _running(of, address, removal_clock(book, started_on=started))
    yield from _running(of, address, central_clock(book, arrived_on=arrived, is_far=rules.is_far))
    if measured.said is None:
        yield from _running(of, address, determination_clock(book, arrived_on=arrived))


def _site_clocks(session: LabSession, rules: KeptRules, held: Sequence[AreaHeld]) -> Iterator[RunningClock]:
    reached = _reached_on(
        session, rules, lab_mg=sum(area.mass_mg(kind) for area in held for kind in CountsAs)
    )
    clock = site_clock(rules.book, exceeded_on=reached, is_far=rules.is_far)
    yield from _running("The whole site", "/waste/limits/months", clock)


def _reached_on(session: LabSession, rules: KeptRules, *, lab_mg: int) -> date | None:
    """The day told last on which the site reached its limit, unless a later month says that less stands there again."""
    most = rules.book.find(Key.SITE_FROM).amount
    for one in reversed(list_site_months(session)):
        if one.reached_on is not None:
            return one.reached_on
        if most is not None and one.on_site_mg is not None and lab_mg + one.on_site_mg < most.exact:
            return None
    return None
