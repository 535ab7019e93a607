"""Booking pickups, choosing what goes, asking for it and taking that back.

A pickup is locked before its containers, an earlier one before a later one, and containers in the order of their ids, so that two people
never wait for each other.
"""

from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime, time
from typing import Any

from server.containers.actions import note_state
from server.containers.models import WasteContainer
from server.containers.queries import lock_container
from server.core.container_life import IN_USE, ContainerState
from server.core.moments import NoSuchTime, day_words, instant_of, moment_words
from server.core.pickup_days import cut_off, repeated_days
from server.data.session import LabSession
from server.people.queries import day_in_lab
from server.pickups.models import Pickup, PickupEvent, PickupEventKind, PickupLine, PickupSchedule
from server.pickups.queries import (
    find_pickup_on,
    get_schedule,
    list_lines,
    list_on_open_sheets,
    list_pickups_of_schedule,
    lock_pickup,
)
from server.refusal import Refusal

LONGEST_SCHEDULE_DAYS = 730


def note_event(
    session: LabSession, pickup: Pickup, kind: PickupEventKind, note: str = "", *, by: str, now: datetime
) -> None:
    session.add(PickupEvent(pickup_id=pickup.id, kind=kind, note=note, happened_at=now, noted_by=by))


def refuse_over(pickup: Pickup) -> None:
    day = day_words(pickup.on_day)
    if pickup.done_at is not None:
        raise Refusal(f"The pickup of {day} was handed over already. Book another for what is still here.")
    if pickup.missed_at is not None:
        raise Refusal(f"The pickup of {day} was missed. Book another for what is still here.")
    if pickup.called_off_at is not None:
        raise Refusal(f"The pickup of {day} was called off. Book another for what is still here.")


def _refuse_late(pickup: Pickup, *, zone: str, now: datetime) -> None:
    if now > pickup.request_by:
        raise Refusal(
            f"The request cut-off was {moment_words(pickup.request_by, zone)}. Call your waste office: if they let you change it, write "
            "the cut-off that they give you into the booking; otherwise call this pickup off and book the next."
        )


def _refuse_day(session: LabSession, on_day: date, request_day: date) -> None:
    """What no booking can be, new or changed."""
    if request_day > on_day:
        raise Refusal("The request cut-off is after the pickup. Check both days with your waste office.")
    if find_pickup_on(session, on_day) is not None:
        raise Refusal(
            f"A pickup on {day_words(on_day)} is booked already. Use that one, or choose another day."
        )


def _cut_off(request_day: date, request_clock: time, zone: str) -> datetime:
    request_by = instant_of(day=request_day, clock=request_clock, zone=zone)
    if isinstance(request_by, NoSuchTime):
        raise Refusal(request_by.sentence)
    return request_by


def book_pickup(
    session: LabSession,
    *,
    on_day: date,
    request_day: date,
    request_clock: time,
    most_ul: int | None = None,
    most_containers: int | None = None,
    zone: str,
    by: str,
    now: datetime,
) -> Pickup:
    """Book a pickup that must be requested before its cut-off, given on the lab's wall clock."""
    request_by = _cut_off(request_day, request_clock, zone)
    if on_day < day_in_lab(session, now):
        raise Refusal(f"{day_words(on_day)} has passed. Choose a day from today on.")
    if request_by < now:
        raise Refusal(
            f"The request cut-off, {moment_words(request_by, zone)}, has passed, so this pickup would not come. "
            "Ask your waste office for the next one and book that."
        )
    _refuse_day(session, on_day, request_day)
    return _book(
        session,
        Pickup(on_day=on_day, request_by=request_by, most_ul=most_ul, most_containers=most_containers),
        by=by,
        now=now,
    )


def _book(session: LabSession, pickup: Pickup, *, by: str, now: datetime) -> Pickup:
    session.add(pickup)
    session.flush()  # its id is its address
    note_event(session, pickup, PickupEventKind.BOOKED, by=by, now=now)
    return pickup


def change_pickup(
    session: LabSession,
    pickup_id: int,
    *,
    on_day: date,
    request_day: date,
    request_clock: time,
    most_ul: int | None,
    most_containers: int | None,
    note: str,
    zone: str,
    by: str,
    now: datetime,
) -> Pickup:
    """Change a booking as the waste office says: its day, its cut-off, the most it takes, what the office should know."""
    pickup = lock_pickup(session, pickup_id)
    refuse_over(pickup)
    request_by = _cut_off(request_day, request_clock, zone)
    changes = []
    if on_day != pickup.on_day:
        if on_day < day_in_lab(session, now):
            raise Refusal(f"{day_words(on_day)} has passed. Choose a day from today on.")
        _refuse_day(session, on_day, request_day)
        changes.append(f"from {day_words(pickup.on_day)} to {day_words(on_day)}")
    if request_day > on_day:
        raise Refusal("The request cut-off is after the pickup. Check both days with your waste office.")
    if request_by != pickup.request_by:
        if request_by < now and pickup.requested_at is None:
            raise Refusal(
                f"The request cut-off, {moment_words(request_by, zone)}, has passed, so this pickup would not come. "
                "Write the cut-off that your waste office gives you."
            )
        changes.append(f"cut-off {moment_words(request_by, zone)}")
    if (most_ul, most_containers) != (pickup.most_ul, pickup.most_containers):
        changes.append("what the collector takes at most")
    if note != pickup.note:
        changes.append("the note for the waste office")
    pickup.on_day, pickup.request_by, pickup.note = on_day, request_by, note
    pickup.most_ul, pickup.most_containers = most_ul, most_containers
    if changes:
        note_event(session, pickup, PickupEventKind.CHANGED, "; ".join(changes), by=by, now=now)
    return pickup


def repeat_pickups(
    session: LabSession,
    *,
    first_day: date,
    every_weeks: int,
    until_day: date,
    cut_off_days_before: int,
    cut_off_clock: time,
    most_ul: int | None = None,
    most_containers: int | None = None,
    zone: str,
    by: str,
    now: datetime,
) -> PickupSchedule:
    """Book every pickup of a schedule. Days that are booked already and days whose cut-off has passed are left out."""
    if first_day < day_in_lab(session, now):
        raise Refusal(f"{day_words(first_day)} has passed. Begin with the next day on which they come.")
    if not 0 <= (until_day - first_day).days <= LONGEST_SCHEDULE_DAYS:
        raise Refusal(
            "The last day must be on or after the first, and at most two years later. Waste offices seldom say their days further ahead."
        )
    schedule = PickupSchedule(
        first_day=first_day,
        every_weeks=every_weeks,
        until_day=until_day,
        cut_off_days_before=cut_off_days_before,
        cut_off_clock=cut_off_clock,
        made_at=now,
        made_by=by,
    )
    session.add(schedule)
    session.flush()  # bookings name its id
    booked = 0
    for day in repeated_days(first=first_day, every_weeks=every_weeks, until=until_day):
        until = cut_off(pickup=day, days_before=cut_off_days_before, clock=cut_off_clock, zone=zone)
        if until.at < now or find_pickup_on(session, day) is not None:
            continue
        pickup = Pickup(
            schedule_id=schedule.id,
            on_day=day,
            request_by=until.at,
            most_ul=most_ul,
            most_containers=most_containers,
        )
        _book(session, pickup, by=by, now=now)
        booked += 1
    if not booked:
        raise Refusal(
            "Every day of this schedule is booked already, or its cut-off has passed. Look at the list, or choose other days."
        )
    return schedule


def end_schedule(session: LabSession, schedule_id: int, *, by: str, now: datetime) -> PickupSchedule:
    """Call off every pickup of a schedule that is ahead and that nobody has requested."""
    schedule = get_schedule(session, schedule_id)
    today = day_in_lab(session, now)
    for found in list_pickups_of_schedule(session, schedule_id):
        pickup = lock_pickup(session, found.id)
        if pickup.is_over or pickup.requested_at is not None or pickup.on_day < today:
            continue
        _call_off(session, pickup, "its schedule was ended", by=by, now=now)
    schedule.ended_at = now
    return schedule


def choose_containers(
    session: LabSession, pickup_id: int, container_ids: Collection[int], *, zone: str, by: str, now: datetime
) -> Pickup:
    """Put exactly these containers on a pickup's sheet. On a request they come to be requested, and off it they are as before."""
    pickup = lock_pickup(session, pickup_id)
    refuse_over(pickup)
    _refuse_late(pickup, zone=zone, now=now)
    lines = {line.container_id: line for line in list_lines(session, pickup_id)}
    chosen = set(container_ids)
    if pickup.requested_at is not None and not chosen:
        raise Refusal("A request names what shall go. Leave a container on it, or withdraw the request.")
    changed = lock_containers(session, chosen ^ lines.keys())
    elsewhere = list_on_open_sheets(session, besides_id=pickup_id)
    added, removed = [], []
    for container_id, container in changed.items():
        if container_id in lines:
            session.delete(lines[container_id])
            removed.append(f"“{container.name}”")
            words = f"taken off the pickup of {day_words(pickup.on_day)}"
            give_back(session, container, words, by=by, now=now)
        else:
            refuse_listing(container, elsewhere)
            list_container(session, pickup, container, {}, by=by, now=now)
            added.append(f"“{container.name}”")
    told = (("added", added), ("taken off", removed))
    words = "; ".join(f"{what} {', '.join(names)}" for what, names in told if names)
    if words:
        note_event(session, pickup, PickupEventKind.LISTED, words, by=by, now=now)
    return pickup


def lock_containers(session: LabSession, container_ids: Iterable[int]) -> dict[int, WasteContainer]:
    return {one: lock_container(session, one) for one in sorted(set(container_ids))}


def list_container(
    session: LabSession,
    pickup: Pickup,
    container: WasteContainer,
    told: Mapping[str, Any],
    *,
    by: str,
    now: datetime,
) -> None:
    """Put a container on a sheet, with what was `told` of it before; on a request it comes to be requested."""
    line = PickupLine(pickup_id=pickup.id, container_id=container.id, listed_at=now, listed_by=by, **told)
    session.add(line)
    if pickup.requested_at is not None:
        ask_for(session, container, pickup, by=by, now=now)


def refuse_listing(container: WasteContainer, elsewhere: Mapping[int, Pickup]) -> None:
    if container.id in elsewhere:
        day = day_words(elsewhere[container.id].on_day)
        raise Refusal(
            f"“{container.name}” stands on the sheet of the pickup of {day}. Take it off there first."
        )
    if container.state not in IN_USE:
        raise Refusal(
            f"“{container.name}” is {container.state}, so it can't go. Choose what stands here with waste in it."
        )
    if container.held_ul == 0:
        raise Refusal(f"“{container.name}” is empty. Leave it out; nothing was changed.")


def ask_for(
    session: LabSession, container: WasteContainer, pickup: Pickup, *, by: str, now: datetime
) -> None:
    """An open container is closed first: what a request says of it stays so."""
    note = f"pickup of {day_words(pickup.on_day)}"
    if container.state in {ContainerState.EMPTY, ContainerState.OPEN}:
        note_state(session, container, ContainerState.CLOSED, note=f"closed for the {note}", by=by, now=now)
    if container.state != ContainerState.REQUESTED:
        note_state(session, container, ContainerState.REQUESTED, note=note, by=by, now=now)


def give_back(
    session: LabSession,
    container: WasteContainer,
    note: str,
    *,
    is_full: bool = False,
    by: str,
    now: datetime,
) -> None:
    """A requested container is as before: closed, or full where it was, or where `is_full` says that it waits for the next pickup."""
    if container.state != ContainerState.REQUESTED:
        return
    was_full = container.full_at is not None
    state = ContainerState.FULL if is_full or was_full else ContainerState.CLOSED
    note_state(session, container, state, note=note, by=by, now=now)


def request_pickup(session: LabSession, pickup_id: int, *, zone: str, by: str, now: datetime) -> Pickup:
    """Say that the waste office was asked for what stands on the sheet. Asking twice changes nothing."""
    pickup = lock_pickup(session, pickup_id)
    refuse_over(pickup)
    if pickup.requested_at is not None:
        return pickup
    _refuse_late(pickup, zone=zone, now=now)
    lines = list_lines(session, pickup_id)
    if not lines:
        raise Refusal("Nothing is on the sheet yet. Choose the containers that shall go, then ask for them.")
    for container in lock_containers(session, [line.container_id for line in lines]).values():
        refuse_listing(container, {})
        ask_for(session, container, pickup, by=by, now=now)
    pickup.requested_at, pickup.requested_by = now, by
    note_event(session, pickup, PickupEventKind.REQUESTED, by=by, now=now)
    return pickup


def withdraw_request(session: LabSession, pickup_id: int, *, zone: str, by: str, now: datetime) -> Pickup:
    """Take a request back before its cut-off. What stands on the sheet stays there, and the containers are as before."""
    pickup = lock_pickup(session, pickup_id)
    refuse_over(pickup)
    if pickup.requested_at is None:
        return pickup
    _refuse_late(pickup, zone=zone, now=now)
    give_all_back(session, pickup, "the request was withdrawn", by=by, now=now)
    pickup.requested_at, pickup.requested_by = None, ""
    note_event(session, pickup, PickupEventKind.WITHDRAWN, by=by, now=now)
    return pickup


def give_all_back(
    session: LabSession, pickup: Pickup, note: str, *, is_full: bool = False, by: str, now: datetime
) -> None:
    containers = lock_containers(session, [line.container_id for line in list_lines(session, pickup.id)])
    words = f"pickup of {day_words(pickup.on_day)}: {note}"
    for container in containers.values():
        give_back(session, container, words, is_full=is_full, by=by, now=now)


def call_off_pickup(
    session: LabSession, pickup_id: int, *, reason: str = "", by: str, now: datetime
) -> Pickup:
    """Call off a booking that nothing was handed over to. It stays among the records, and its day may be booked anew."""
    pickup = lock_pickup(session, pickup_id)
    refuse_over(pickup)
    if pickup.requested_at is not None and not reason:
        raise Refusal(
            "This pickup is requested. Call your waste office, and write here why it is called off."
        )
    _call_off(session, pickup, reason, by=by, now=now)
    return pickup


def _call_off(session: LabSession, pickup: Pickup, reason: str, *, by: str, now: datetime) -> None:
    give_all_back(session, pickup, "called off", by=by, now=now)
    pickup.called_off_at = now
    note_event(session, pickup, PickupEventKind.CALLED_OFF, reason, by=by, now=now)
    session.flush()  # its day is free again
