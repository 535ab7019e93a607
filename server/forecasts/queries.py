"""What comes into waste, and how the containers of a shelf fill until a horizon."""

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from sqlmodel import col, func, select

from server.charges.models import Charge, PlateThrough
from server.charges.queries import TrayCharge, list_charges
from server.chemistry.models import Batch, UsualQuantities
from server.chemistry.queries import get_usual_quantities, list_live_batches, list_rests, usable_until
from server.containers.models import (
    OtherWaste,
    Source,
    Stream,
    WasteContainer,
    WasteEntry,
    WasteEntryKind,
)
from server.containers.queries import (
    SOURCE_OF_SOLUTION,
    is_standing,
    list_containers,
    list_streams,
    source_of,
)
from server.core.container_life import TAKES_MORE
from server.core.fill_forecast import Container, Feed, FillDay, PickupAhead, StreamFill, days_of, forecast
from server.core.fill_options import (
    Shelf,
    UsualNotice,
    WayOut,
    book_earlier,
    empty_earlier,
    keep_charge,
    more_on_request,
    requests,
    set_out,
    still_baths,
)
from server.core.moments import day_at, day_begins
from server.core.rinse_history import ClassRinse, RinsePerPlate, rinse_per_plate
from server.core.waste_forecast import (
    Addition,
    InBottle,
    InTray,
    PlatesAhead,
    charge_additions,
    rest_additions,
    rinse_additions,
    tray_additions,
    with_tests,
)
from server.core.working_solution import plates_within
from server.data.session import LabSession
from server.people.models import Section
from server.pickups.models import Pickup, PickupLine
from server.pickups.queries import find_last_pickup, list_pickups
from server.recipes.models import Solution
from server.rotations.models import Rotation, RotationPlan, Visit
from server.rotations.queries import list_rotation_days
from server.rules.queries import find_fill_percent
from server.runs.models import Run
from server.shelves.queries import list_other_waste

# The forecast looks at least two weeks ahead, to the pickup after the last class, and at most so far.
_AT_LEAST, _AT_MOST = timedelta(days=13), timedelta(days=126)
# What a class leaves changes with the years: so many classes at most stand behind the rinse of a plate, looked for among so many rotations.
_LATEST_CLASSES, _LATEST_ROTATIONS = 30, 60


@dataclass(frozen=True)
class PastClass:
    """A class whose rinse was poured out.

    Its plates are those of its run notes, or those counted through developer while it lasted, whichever are more.
    """

    rinse: ClassRinse
    on_day: date
    noted: int
    through: int


@dataclass(frozen=True)
class ComingIn:
    """Where what comes into the streams is from: classes and their tests, charges in trays, and what stands in batches' bottles."""

    ahead: Sequence[PlatesAhead]
    trays: Mapping[Source, Sequence[InTray]]
    bottles: Mapping[Source, Sequence[InBottle]]
    usual: UsualQuantities
    rinse: RinsePerPlate
    now: datetime
    until: datetime

    def charge_ul(self, source: Source) -> int:
        usual = self.usual
        return usual.developer_charge_ul if source is Source.DEVELOPER else usual.bleach_charge_ul

    def additions(
        self,
        source: Source,
        ahead: Sequence[PlatesAhead] | None = None,
        trays: Sequence[InTray] | None = None,
    ) -> tuple[Addition, ...]:
        """What comes into the stream that takes `source` before the forecast ends; with other classes or other charges in trays, if given."""
        ahead = self.ahead if ahead is None else ahead
        trays = self.trays.get(source, ()) if trays is None else trays
        return tuple(one for one in self._additions(source, ahead, trays) if one.starts_at < self.until)

    def _additions(
        self, source: Source, ahead: Sequence[PlatesAhead], trays: Sequence[InTray]
    ) -> Sequence[Addition]:
        if source is Source.RINSE:
            return rinse_additions(ahead, rinse=self.rinse, now=self.now)
        if source is Source.OTHER:
            return ()
        charges = charge_additions(
            ahead,
            charge_ul=self.charge_ul(source),
            plates_per_charge=self.usual.plates_per_charge,
            now=self.now,
        )
        rests = rest_additions(self.bottles.get(source, ()), charges, now=self.now)
        return (*tray_additions(trays, ahead, now=self.now), *rests, *charges)


@dataclass(frozen=True)
class StreamForecast:
    """One stream: its containers that are not collected, and how they fill."""

    stream: Stream
    containers: Sequence[WasteContainer]
    fill: StreamFill

    @property
    def source(self) -> Source:
        return Source(self.stream.takes)

    def index_of(self, container: WasteContainer) -> int:
        return next(number for number, one in enumerate(self.fill.feed.containers) if one.key == container.id)


@dataclass(frozen=True)
class LabForecast:
    """The forecast of all streams from `first`, today, to the end of `last`, with everything that it was made from."""

    first: date
    last: date
    zone: str
    streams: Sequence[StreamForecast]
    shelf: Shelf
    coming: ComingIn
    past: Sequence[PastClass]
    pickups: Mapping[int, Pickup]
    others: Sequence[OtherWaste]
    notice: UsualNotice | None

    @cached_property
    def next_pickup(self) -> Pickup | None:
        """The next pickup that can be counted on."""
        counted = (one for one in self.shelf.pickups if one.comes(self.shelf.now))
        first = min(counted, key=lambda one: one.day, default=None)
        return None if first is None else self.pickups[first.key]

    def days(self, number: int) -> Sequence[FillDay]:
        return days_of(
            self.streams[number].fill,
            self.shelf.pickups,
            first=self.first,
            last=self.last,
            zone=self.zone,
        )

    def ways_out(self, number: int) -> Sequence[WayOut]:
        """What to do for one stream: requests first, then whatever helps, each with the forecast that it brings."""
        found: list[WayOut | None] = [*requests(self.shelf, number), *more_on_request(self.shelf, number)]
        found.append(set_out(self.shelf, number))
        found.append(book_earlier(self.shelf, number, notice=self.notice, zone=self.zone))
        source, coming = self.streams[number].source, self.coming
        if source is Source.RINSE:
            found.append(still_baths(self.shelf, number, ahead=coming.ahead, rinse=coming.rinse))
        elif source is not Source.OTHER:
            found.append(
                keep_charge(
                    self.shelf,
                    number,
                    ahead=coming.ahead,
                    trays=coming.trays.get(source, ()),
                    plates_per_charge=coming.usual.plates_per_charge,
                    additions=lambda ahead, trays: coming.additions(source, ahead, trays),
                )
            )
            found.append(empty_earlier(self.shelf, number))
        return [way for way in found if way is not None]


def _rinse_poured(
    session: LabSession, rotation_ids: Collection[int], *, after: datetime | None = None
) -> Mapping[int, tuple[int, datetime]]:
    """Rinse poured out for each class, by its rotation, with the last time that any was; what was reversed is left out."""
    last = func.max(WasteEntry.happened_at, type_=WasteEntry.happened_at.type)  # type: ignore[attr-defined]
    poured = select(WasteEntry.rotation_id, func.sum(WasteEntry.change_ul), last).where(
        WasteEntry.kind == WasteEntryKind.POUR,
        WasteEntry.source == Source.RINSE,
        col(WasteEntry.rotation_id).in_(rotation_ids),
        is_standing(),
    )
    if after is not None:
        poured = poured.where(WasteEntry.happened_at >= after)
    rows = session.exec(poured.group_by(col(WasteEntry.rotation_id))).all()
    return {rotation_id: (int(volume), at) for rotation_id, volume, at in rows if rotation_id is not None}


def _plates_noted(session: LabSession, rotation_ids: Collection[int]) -> Mapping[int, int]:
    rows = session.exec(
        select(Run.rotation_id, func.count())
        .where(col(Run.rotation_id).in_(rotation_ids))
        .group_by(col(Run.rotation_id))
    ).all()
    return {rotation_id: count for rotation_id, count in rows if rotation_id is not None}


def _plates_through(session: LabSession, rotation_ids: Collection[int]) -> Mapping[int, int]:
    """Plates that went through developer while a class lasted; none for classes that ran at the same time, for nobody knows whose they are."""
    begins = func.min(Visit.starts_at, type_=Visit.starts_at.type)  # type: ignore[attr-defined]
    ends = func.max(Visit.ends_at, type_=Visit.ends_at.type)  # type: ignore[attr-defined]
    spans = session.exec(
        select(RotationPlan.rotation_id, begins, ends)
        .join(Visit, col(Visit.plan_id) == col(RotationPlan.id))
        .where(col(RotationPlan.rotation_id).in_(rotation_ids))
        .group_by(col(RotationPlan.rotation_id))
    ).all()
    if not spans:
        return {}
    through = sorted(
        session.exec(
            select(PlateThrough.through_at)
            .join(Charge, col(Charge.id) == col(PlateThrough.charge_id))
            .where(
                Charge.solution == Solution.DEVELOPER,
                PlateThrough.through_at >= min(starts_at for _id, starts_at, _ends_at in spans),
            )
        ).all()
    )
    return {
        rotation_id: bisect_right(through, ends_at) - bisect_left(through, starts_at)
        for rotation_id, starts_at, ends_at in spans
        if not any(one != rotation_id and start < ends_at and starts_at < end for one, start, end in spans)
    }


def list_past_classes(session: LabSession, *, today: date, zone: str) -> Sequence[PastClass]:
    """The latest classes before today whose rinse was poured out, newest first; today's may still leave more."""
    begins = day_begins(today, zone)
    latest = session.exec(
        select(Rotation, Section)
        .join(Section, col(Section.id) == col(Rotation.section_id))
        .join(RotationPlan, col(RotationPlan.rotation_id) == col(Rotation.id))
        .where(RotationPlan.starts_at < begins)
        .order_by(col(RotationPlan.starts_at).desc(), col(Rotation.id).desc())
        .limit(_LATEST_ROTATIONS)
    ).all()
    named = {rotation.id: f"{section.name}, {rotation.name}" for rotation, section in latest}
    poured = {
        rotation_id: (volume, at)
        for rotation_id, (volume, at) in _rinse_poured(session, named).items()
        if at < begins
    }
    noted, through = _plates_noted(session, poured), _plates_through(session, poured)
    found = [
        PastClass(
            ClassRinse(
                rotation_id,
                named[rotation_id],
                max(noted.get(rotation_id, 0), through.get(rotation_id, 0)),
                volume,
            ),
            day_at(at, zone),
            noted.get(rotation_id, 0),
            through.get(rotation_id, 0),
        )
        for rotation_id, (volume, at) in poured.items()
    ]
    return sorted(found, key=lambda one: (one.on_day, one.rinse.key), reverse=True)[:_LATEST_CLASSES]


def _per_plate(past: Sequence[PastClass], usual: UsualQuantities) -> RinsePerPlate:
    return rinse_per_plate([one.rinse for one in past], usual_ul_per_plate=usual.rinse_ul_per_plate)


def get_rinse_per_plate(session: LabSession, *, today: date, zone: str) -> RinsePerPlate:
    """What a plate leaves of rinse: the lab's own figure from its classes, or the usual one while they are few."""
    past = list_past_classes(session, today=today, zone=zone)
    return _per_plate(past, get_usual_quantities(session))


def _ahead(session: LabSession, usual: UsualQuantities, *, first: date, zone: str) -> Sequence[PlatesAhead]:
    """What published rotations put through the trays from today on, and each day's tests."""
    days = list_rotation_days(session, first=first, last=first + _AT_MOST, zone=zone)
    today = {one.rotation_id for one in days if one.day == first}
    poured = _rinse_poured(session, today, after=day_begins(first, zone))
    rotations = [
        PlatesAhead(
            one.name,
            one.day,
            one.starts_at,
            one.ends_at,
            one.most_plates,
            frozenset(one.stations),
            repeats=one.repeats,
            poured_ul=poured[one.rotation_id][0] if one.day == first and one.rotation_id in poured else 0,
        )
        for one in days
    ]
    return with_tests(rotations, test_plates_per_station=usual.test_plates_per_station)


def _trays(session: LabSession, usual: UsualQuantities) -> Mapping[Source, Sequence[InTray]]:
    found: dict[Source, list[InTray]] = {}
    for one in list_charges(session):
        found.setdefault(source_of(one.charge), []).append(_in_tray(one, usual))
    return found


def _in_tray(found: TrayCharge, usual: UsualQuantities) -> InTray:
    room = plates_within(area_mm2=found.charge.room_mm2, plate_mm2=usual.plate_mm2)
    return InTray(f"charge now in {found.tray.name}", found.charge.volume_ul, found.ends_at, room)


def _bottles(session: LabSession, now: datetime) -> Mapping[Source, Sequence[InBottle]]:
    """Batches of developer and bleach that hold something, dead or alive."""
    found: dict[Source, list[InBottle]] = {}
    for batch in (*list_rests(session, now), *list_live_batches(session, now)):
        if batch.solution in SOURCE_OF_SOLUTION:
            found.setdefault(source_of(batch), []).append(_in_bottle(batch, now))
    return found


def _in_bottle(batch: Batch, now: datetime) -> InBottle:
    ends_at = usable_until(batch)
    said = ", past its life" if ends_at <= now else ""
    return InBottle(f"rest of batch {batch.number}{said}", batch.left_ul, ends_at)


def _pickups_ahead(
    pickups: Sequence[Pickup],
    lines: Mapping[int, frozenset[int]],
    others: Sequence[OtherWaste],
    zone: str,
) -> Iterator[PickupAhead]:
    """The pickups as the forecast sees them: each comes at the end of its day and finds the other courses' waste there."""
    for one in pickups:
        is_requested = one.requested_at is not None
        yield PickupAhead(
            one.id,
            one.on_day,
            day_begins(one.on_day + timedelta(days=1), zone),
            one.request_by,
            is_requested=is_requested,
            only=lines.get(one.id) if is_requested else None,
            most_ul=one.most_ul,
            most_containers=one.most_containers,
            others_ul=sum(other.volume_ul for other in others),
        )


def _lines(session: LabSession, pickups: Sequence[Pickup]) -> Mapping[int, frozenset[int]]:
    """The containers on each pickup's sheet, by its id."""
    found: dict[int, set[int]] = {}
    ids = [one.id for one in pickups]
    for line in session.exec(select(PickupLine).where(col(PickupLine.pickup_id).in_(ids))).all():
        found.setdefault(line.pickup_id, set()).add(line.container_id)
    return {pickup_id: frozenset(containers) for pickup_id, containers in found.items()}


def _notice(last: Pickup | None, zone: str) -> UsualNotice | None:
    """How long before a pickup its request is due, as the lab's last booked one had it."""
    if last is None:
        return None
    by = last.request_by.astimezone(ZoneInfo(zone))
    return UsualNotice((last.on_day - by.date()).days, by.time())


def _feed(stream: Stream, own: Sequence[WasteContainer], coming: ComingIn) -> Feed:
    """A container that nothing is in yet starts now at the earliest."""
    source = Source(stream.takes)
    containers = tuple(
        Container(
            one.id,
            one.name,
            one.held_ul,
            one.fill_line_ul,
            one.first_pour_at or coming.now,
            is_taking=one.state in TAKES_MORE,
        )
        for one in own
    )
    if source is Source.RINSE:
        return Feed(stream.id, containers, coming.additions(source), behind=coming.rinse.behind)
    return Feed(stream.id, containers, coming.additions(source))


def _horizon(first: date, classes: Sequence[date], pickups: Sequence[date]) -> date:
    """The last day to look at: that of the pickup after the last class, or of the last class where none is booked after it."""
    last = max([first + _AT_LEAST, *classes])
    return min(min((day for day in pickups if day >= last), default=last), first + _AT_MOST)


def get_forecast(session: LabSession, *, now: datetime, zone: str) -> LabForecast:
    """The forecast of every stream: what published rotations, trays and batches bring, until the pickup after the last class."""
    first, usual = day_at(now, zone), get_usual_quantities(session)
    ahead = _ahead(session, usual, first=first, zone=zone)
    open_ones = [one for one in list_pickups(session, since=first) if not one.is_over]
    last = _horizon(first, [one.day for one in ahead], [one.on_day for one in open_ones])
    pickups = [one for one in open_ones if one.on_day <= last]
    past, others = list_past_classes(session, today=first, zone=zone), list_other_waste(session)
    coming = ComingIn(
        ahead=ahead,
        trays=_trays(session, usual),
        bottles=_bottles(session, now),
        usual=usual,
        rinse=_per_plate(past, usual),
        now=now,
        until=day_begins(last + timedelta(days=1), zone),
    )
    streams, containers = list_streams(session), list_containers(session)
    own = [[one for one in containers if one.stream_id == stream.id] for stream in streams]
    feeds = tuple(_feed(stream, held, coming) for stream, held in zip(streams, own, strict=True))
    ahead_of = tuple(_pickups_ahead(pickups, _lines(session, pickups), others, zone))
    shelf = Shelf(feeds, ahead_of, now, find_fill_percent(session, first))
    fills = forecast(feeds, shelf.pickups, now=now)
    return LabForecast(
        first=first,
        last=last,
        zone=zone,
        streams=[StreamForecast(*each) for each in zip(streams, own, fills, strict=True)],
        shelf=shelf,
        coming=coming,
        past=past,
        pickups={one.id: one for one in pickups},
        others=others,
        notice=_notice(find_last_pickup(session), zone),
    )
