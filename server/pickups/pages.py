"""What the pages of pickups show."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from server.containers.models import OtherWaste, Stream, WasteContainer
from server.containers.pages import started_words
from server.core.container_life import ContainerState
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.pickup_days import repeated_days
from server.core.pickup_load import Share
from server.core.units import mass_words, volume_words
from server.data.session import LabSession
from server.pickups.forms import SAME_DAY, CallingOff, ChangedPickup, NewPickup, NewSchedule
from server.pickups.models import Pickup, PickupEvent, PickupSchedule
from server.pickups.queries import (
    Listed,
    find_next_to_ask,
    get_pickup,
    list_events,
    list_left_waiting,
    list_listed,
    list_lost_pickups,
    list_on_open_sheets,
    list_pickups_between,
    list_pickups_of_schedule,
    list_recent_pickups,
    list_schedules,
    list_waiting,
    share_of,
)
from server.shelves.queries import list_other_waste
from server.web.submitted import Submitted

_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
CUT_OFF_DAYS = [
    *((str(number), f"{name} before") for number, name in enumerate(_WEEKDAYS)),
    (SAME_DAY, "the same day"),
]
EVERY = [(1, "every week"), (2, "every other week")]
_FEW = 10


@dataclass(frozen=True)
class PickupState:
    """How a pickup stands: the shape of its state and the words."""

    state: str
    words: str


@dataclass(frozen=True)
class PickupRow:
    id: int
    day: str
    request_by: str
    stands: PickupState
    sheet: str


@dataclass(frozen=True)
class ScheduleRow:
    id: int
    words: str
    left_out: str
    is_ended: bool


@dataclass(frozen=True)
class Worry:
    """A pickup that went otherwise than planned, what to do about it, and where."""

    title: str
    words: str
    state_words: str
    address: str


@dataclass(frozen=True)
class PickupsPage:
    worries: Sequence[Worry]
    ahead: Sequence[PickupRow]
    past: Sequence[PickupRow]
    schedules: Sequence[ScheduleRow]
    cut_off_days: Sequence[tuple[str, str]]
    every: Sequence[tuple[int, str]]
    form: Submitted[NewPickup]
    schedule_form: Submitted[NewSchedule]


@dataclass(frozen=True)
class ChoiceLine:
    """A container that could go. `elsewhere` is the other pickup on whose sheet it stands."""

    id: int
    name: str
    words: str
    is_on: bool
    elsewhere: str


@dataclass(frozen=True)
class SheetRow:
    """A container on the sheet; `became` says what became of it once the pickup is over."""

    id: int
    name: str
    stream: str
    volume: str
    mass: str
    working: str
    differs: str
    started: str
    state: str
    became: PickupState
    receipt: str
    told: str


@dataclass(frozen=True)
class EventLine:
    when: str
    who: str
    what: str


@dataclass(frozen=True)
class PickupPage:
    id: int
    day: str
    request_by: str
    stands: PickupState
    requested: str
    most: str
    note: str
    receipt: str
    is_over: bool
    is_done: bool
    is_requested: bool
    is_late: bool
    may_be_missed: bool
    choices: Sequence[ChoiceLine]
    rows: Sequence[SheetRow]
    total: str
    share: str
    others: Sequence[str]
    then: str
    events: Sequence[EventLine]
    change_form: Submitted[ChangedPickup]
    call_off_form: Submitted[CallingOff]
    said_before: Mapping[str, object]


def stands_words(pickup: Pickup, *, now: datetime, zone: str) -> PickupState:
    """How a pickup stands at `now`."""
    if pickup.done_at is not None:
        by = f" to {pickup.collected_by}" if pickup.collected_by else ""
        return PickupState("well", f"handed over{by}, {moment_words(pickup.done_at, zone)}")
    if pickup.missed_at is not None:
        return PickupState("stop", f"missed: {pickup.said}")
    if pickup.called_off_at is not None:
        return PickupState("plain", "called off")
    if pickup.on_day < day_at(now, zone):
        if pickup.requested_at is None:
            return PickupState("plain", "not requested, so nobody came")
        return PickupState("stop", "day passed, nothing handed over")
    if pickup.requested_at is not None:
        return PickupState("well", f"requested, {moment_words(pickup.requested_at, zone)}")
    if now > pickup.request_by:
        return PickupState("stop", "cut-off passed, not requested: not counted on")
    return PickupState("watch", "not requested yet")


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def _sheet_words(listed: Sequence[Listed]) -> str:
    if not listed:
        return "nothing on its sheet"
    volume = sum(one.quantity.volume_ul for one in listed)
    return f"{_counted(len(listed), 'container')}, {volume_words(volume)}"


def _rows(session: LabSession, pickups: Sequence[Pickup], *, now: datetime, zone: str) -> Sequence[PickupRow]:
    listed: dict[int, list[Listed]] = {}
    for one in list_listed(session, [pickup.id for pickup in pickups]):
        listed.setdefault(one.pickup.id, []).append(one)
    return [
        PickupRow(
            pickup.id,
            day_words(pickup.on_day),
            moment_words(pickup.request_by, zone),
            stands_words(pickup, now=now, zone=zone),
            _sheet_words(listed.get(pickup.id, [])),
        )
        for pickup in pickups
    ]


def _cut_off_words(days: int, first_day: date, clock: str) -> str:
    if days == 0:
        return f"until {clock} of the same day"
    return f"until {_WEEKDAYS[(first_day.weekday() - days) % 7]} {clock} before"


def _schedule_row(session: LabSession, schedule: PickupSchedule) -> ScheduleRow:
    own = {pickup.on_day for pickup in list_pickups_of_schedule(session, schedule.id)}
    meant = repeated_days(
        first=schedule.first_day, every_weeks=schedule.every_weeks, until=schedule.until_day
    )
    out = [day_words(day) for day in meant if day not in own]
    every = dict(EVERY)[schedule.every_weeks]
    cut_off = _cut_off_words(
        schedule.cut_off_days_before, schedule.first_day, f"{schedule.cut_off_clock:%H:%M}"
    )
    words = (
        f"{_WEEKDAYS[schedule.first_day.weekday()]}, {every}, from {day_words(schedule.first_day)} until {day_words(schedule.until_day)}; "
        f"requested {cut_off}. {_counted(len(own), 'pickup')} booked."
    )
    left_out = f"Not booked by it, or moved since: {', '.join(out)}." if out else ""
    return ScheduleRow(schedule.id, words, left_out, schedule.ended_at is not None)


def pickups_page(
    session: LabSession,
    *,
    now: datetime,
    zone: str,
    form: Submitted[NewPickup] | None = None,
    schedule_form: Submitted[NewSchedule] | None = None,
) -> PickupsPage:
    today = day_at(now, zone)
    ahead = [pickup for pickup in list_pickups_between(session, today, date.max) if not pickup.is_over]
    past = list_recent_pickups(session, before=today, most=_FEW)
    return PickupsPage(
        worries=list_worries(session, now=now, zone=zone),
        ahead=_rows(session, ahead, now=now, zone=zone),
        past=_rows(session, past, now=now, zone=zone),
        schedules=[_schedule_row(session, schedule) for schedule in list_schedules(session)],
        cut_off_days=CUT_OFF_DAYS,
        every=EVERY,
        form=form or Submitted(),
        schedule_form=schedule_form or Submitted(),
    )


def _next_words(session: LabSession, *, besides_id: int, now: datetime, zone: str) -> str:
    coming = find_next_to_ask(session, besides_id=besides_id, now=now)
    if coming is None:
        return "No other pickup is booked that can still be requested: ask for the next day and its cut-off, and book it."
    return f"Next cut-off: {moment_words(coming.request_by, zone)}, for the pickup of {day_words(coming.on_day)}."


def list_worries(session: LabSession, *, now: datetime, zone: str) -> Sequence[Worry]:
    """Pickups that nobody can count on any more and that somebody has to do something about."""
    lost = [
        _lost(session, pickup, now=now, zone=zone)
        for pickup in list_lost_pickups(session, now=now, zone=zone)
    ]
    return [*lost, *_left_waiting(session, now=now, zone=zone)]


def _lost(session: LabSession, pickup: Pickup, *, now: datetime, zone: str) -> Worry:
    day = day_words(pickup.on_day)
    following = _next_words(session, besides_id=pickup.id, now=now, zone=zone)
    address = f"/waste/pickups/{pickup.id}"
    if pickup.requested_at is not None:
        return Worry(
            f"Pickup on {day}",
            f"The pickup of {day} has passed and nothing was handed over. Call your waste office; then hand over what it took, or say that "
            f"it was missed and what they said. {following}",
            "passed, nothing handed over",
            f"{address}/hand-over",
        )
    what = (
        "Hand over what it took all the same, or call it off."
        if pickup.on_day < day_at(now, zone)
        else "Call your waste office; then write down the cut-off that they give you, or call it off."
    )
    return Worry(
        f"Pickup on {day}",
        f"The pickup of {day} was not requested by its cut-off, {moment_words(pickup.request_by, zone)}, so it isn't counted on. {what} "
        f"{following}",
        "not requested in time",
        address,
    )


def _left_waiting(session: LabSession, *, now: datetime, zone: str) -> Sequence[Worry]:
    """What a missed pickup, or one that left something, has left here that nobody has asked for again."""
    waiting: dict[int, list[Listed]] = {}
    for one in list_left_waiting(session):
        waiting.setdefault(one.pickup.id, []).append(one)
    found = []
    for listed in waiting.values():
        pickup = listed[0].pickup
        day, names = day_words(pickup.on_day), ", ".join(f"“{one.container.name}”" for one in listed)
        was_missed = pickup.missed_at is not None
        how = f"was missed ({pickup.said})" if was_missed else "left something behind"
        following = _next_words(session, besides_id=pickup.id, now=now, zone=zone)
        found.append(
            Worry(
                f"Pickup on {day}",
                f"The pickup of {day} {how}; still here: {names}. Call your waste office. {following}",
                "missed" if was_missed else "partly collected",
                f"/waste/pickups/{pickup.id}",
            )
        )
    return found


def _most_words(pickup: Pickup) -> str:
    most = [] if pickup.most_ul is None else [volume_words(pickup.most_ul)]
    if pickup.most_containers is not None:
        most.append(_counted(pickup.most_containers, "container"))
    return " and ".join(most)


def share_words(pickup: Pickup, share: Share) -> str:
    """What fits and what does not, where the collector takes less than stands on the sheet; nothing where all of it fits."""
    if not share.stays:
        return ""
    others = (
        f"; other courses on this shelf need {volume_words(share.others_ul)} of it" if share.others_ul else ""
    )
    goes = ", ".join(f"“{load.name}”" for load in share.goes)
    fits = f"Oldest first, {goes} with {volume_words(share.goes_ul)} fit" if goes else "None of these fits"
    stays = ", ".join(f"“{load.name}”" for load in share.stays)
    return (
        f"The collector takes at most {_most_words(pickup)}{others}. {fits}; beyond it: {stays}. Take that off the sheet, or ask your waste "
        "office whether they take more."
    )


def other_words(other: OtherWaste) -> str:
    return (
        f"{other.course}: {other.contents}, {volume_words(other.volume_ul)}, {mass_words(other.mass_mg)}, "
        f"since {day_words(other.since)}"
    )


def became_words(one: Listed) -> PickupState:
    """What became of a container on a sheet."""
    if one.is_taken:
        return PickupState("well", "taken" if one.line.listed_at else "taken, though not on the request")
    if one.line.left_reason:
        return PickupState("watch", f"left: {one.line.left_reason}")
    if one.pickup.missed_at is not None:
        return PickupState("stop", "left: nobody came")
    if one.pickup.called_off_at is not None:
        return PickupState("plain", "stayed: called off")
    if one.pickup.requested_at is not None and one.container.state != ContainerState.REQUESTED:
        return PickupState("watch", f"{one.container.state} since: no longer on the request")
    return PickupState("plain", one.container.state)


def _sheet_row(one: Listed, zone: str) -> SheetRow:
    quantity = one.quantity
    return SheetRow(
        one.container.id,
        one.container.name,
        one.stream.name,
        volume_words(quantity.volume_ul),
        mass_words(quantity.net_mg),
        f"{quantity.how}: {quantity.working}",
        quantity.differs,
        started_words(one.container, zone),
        one.container.state,
        became_words(one),
        one.line.receipt,
        "Filled in" if one.line.described_at else "Fill in",
    )


def _choice(
    container: WasteContainer, stream: Stream, on_sheet: frozenset[int], elsewhere: Mapping[int, Pickup]
) -> ChoiceLine:
    other = elsewhere.get(container.id)
    return ChoiceLine(
        container.id,
        container.name,
        f"{stream.name}, {volume_words(container.held_ul)}, {container.state}",
        container.id in on_sheet,
        "" if other is None else day_words(other.on_day),
    )


def _event(event: PickupEvent, zone: str) -> EventLine:
    what = f"{event.kind}: {event.note}" if event.note else event.kind
    return EventLine(moment_words(event.happened_at, zone), event.noted_by, what)


def _then(session: LabSession, pickup: Pickup, listed: Sequence[Listed], *, now: datetime, zone: str) -> str:
    """Where what was left behind stands now, once the pickup is over."""
    left = [one for one in listed if not one.is_taken]
    if not left or not (pickup.done_at or pickup.missed_at):
        return ""
    elsewhere = list_on_open_sheets(session, besides_id=pickup.id)
    on = sorted({elsewhere[one.container.id].on_day for one in left if one.container.id in elsewhere})
    if on:
        return f"What was left stands on the sheet of {' and of '.join(day_words(day) for day in on)}."
    return _next_words(session, besides_id=pickup.id, now=now, zone=zone)


def pickup_page(
    session: LabSession,
    pickup_id: int,
    *,
    now: datetime,
    zone: str,
    change_form: Submitted[ChangedPickup] | None = None,
    call_off_form: Submitted[CallingOff] | None = None,
) -> PickupPage:
    pickup = get_pickup(session, pickup_id)
    listed = list_listed(session, [pickup_id])
    others = list_other_waste(session)
    on_sheet = frozenset(one.container.id for one in listed)
    is_late = now > pickup.request_by
    elsewhere = list_on_open_sheets(session, besides_id=pickup_id)
    may_choose = not pickup.is_over and not is_late
    counted = [one for one in listed if one.is_taken or pickup.done_at is None]
    requested = (
        ""
        if pickup.requested_at is None
        else f"{moment_words(pickup.requested_at, zone)}, by {pickup.requested_by or 'nobody named'}"
    )
    return PickupPage(
        id=pickup.id,
        day=day_words(pickup.on_day),
        request_by=moment_words(pickup.request_by, zone),
        stands=stands_words(pickup, now=now, zone=zone),
        requested=requested,
        most=_most_words(pickup),
        note=pickup.note,
        receipt=pickup.receipt,
        is_over=pickup.is_over,
        is_done=pickup.done_at is not None,
        is_requested=pickup.requested_at is not None,
        is_late=is_late,
        may_be_missed=not pickup.is_over and day_at(now, zone) >= pickup.on_day,
        choices=[_choice(*one, on_sheet, elsewhere) for one in list_waiting(session)] if may_choose else [],
        rows=[_sheet_row(one, zone) for one in listed],
        total=_sheet_words(counted),
        share="" if pickup.is_over else share_words(pickup, share_of(pickup, listed, others)),
        others=[] if pickup.is_over else [other_words(one) for one in others],
        then=_then(session, pickup, listed, now=now, zone=zone),
        events=[_event(event, zone) for event in list_events(session, pickup_id)],
        change_form=change_form or Submitted(),
        call_off_form=call_off_form or Submitted(),
        said_before={
            "on_day": pickup.on_day,
            "request_day": day_at(pickup.request_by, zone),
            "request_clock": clock_at(pickup.request_by, zone),
            "most": "" if pickup.most_ul is None else volume_words(pickup.most_ul),
            "most_containers": pickup.most_containers or "",
            "note": pickup.note,
        },
    )
