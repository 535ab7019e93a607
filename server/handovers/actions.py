"""Handing containers over to a pickup, taking that back, and what is done when nobody came.

A pickup is locked before its containers, an earlier one before a later one, and containers in the order of their ids, so that two people
never wait for each other.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from server.containers.actions import note_state
from server.containers.models import WasteContainer
from server.containers.queries import find_last_entry, find_state_before, get_container
from server.core.container_life import IN_USE, ContainerState
from server.core.moments import day_words
from server.data.session import LabSession
from server.people.queries import day_in_lab
from server.pickups.actions import (
    ask_for,
    give_all_back,
    give_back,
    list_container,
    lock_containers,
    note_event,
    refuse_listing,
    refuse_over,
)
from server.pickups.models import Pickup, PickupEventKind, PickupLine
from server.pickups.queries import (
    find_pickup_after,
    get_listed,
    list_lines,
    list_on_open_sheets,
    lock_pickup,
)
from server.pours.actions import collect_container, put_back_collection
from server.refusal import Refusal


def mark_missed(session: LabSession, pickup_id: int, *, said: str, by: str, now: datetime) -> Pickup:
    """Say that nobody came, and what the waste office said. What stands on the sheet waits, full, and goes to the next pickup's sheet."""
    pickup = lock_pickup(session, pickup_id)
    refuse_over(pickup)
    if day_in_lab(session, now) < pickup.on_day:
        raise Refusal(
            f"{day_words(pickup.on_day)} is still to come. Call the pickup off if it won't take place."
        )
    coming = _lock_next(session, pickup, now)
    give_all_back(session, pickup, "missed", is_full=True, by=by, now=now)
    pickup.missed_at, pickup.said = now, said
    note_event(session, pickup, PickupEventKind.MISSED, said, by=by, now=now)
    _list_again(session, pickup, coming, list_lines(session, pickup.id), by=by, now=now)
    return pickup


def hand_over(
    session: LabSession,
    pickup_id: int,
    container_ids: Collection[int],
    *,
    left: Mapping[int, str] | None = None,
    receipts: Mapping[int, str] | None = None,
    collected_by: str = "",
    receipt: str = "",
    happened_at: datetime | None = None,
    by: str,
    now: datetime,
) -> Pickup:
    """Hand containers over to a pickup, `now` or when it happened. All of them go, or none when one can't.

    Of what stands on the sheet each is taken or `left` with a reason; what is left waits, full, and goes to the next pickup's sheet. A
    container that was taken though it wasn't on the sheet gets a line that says so. `receipts` are those of single containers.
    """
    left, receipts = left or {}, receipts or {}
    pickup = lock_pickup(session, pickup_id)
    refuse_over(pickup)
    if not container_ids:
        raise Refusal(
            "No container was chosen. Tick what the collector takes; if nothing was taken, say that the pickup was missed."
        )
    coming = _lock_next(session, pickup, now) if left else None
    lines = {line.container_id: line for line in list_lines(session, pickup_id)}
    containers = lock_containers(session, {*lines, *container_ids, *left})
    elsewhere = list_on_open_sheets(session, besides_id=pickup_id)
    for container_id, container in containers.items():
        _refuse_untold(
            container, is_listed=container_id in lines, is_taken=container_id in container_ids, left=left
        )
        if container_id not in left:
            refuse_listing(container, elsewhere)
            _refuse_earlier(session, container, happened_at)
    handed_at = happened_at or now
    for container_id, container in containers.items():
        if container_id in left:
            lines[container_id].left_reason = left[container_id]
            words = f"left by the pickup of {day_words(pickup.on_day)}: {left[container_id]}"
            give_back(session, container, words, is_full=True, by=by, now=now)
        else:
            line = lines.get(container_id) or PickupLine(pickup_id=pickup_id, container_id=container_id)
            session.add(line)
            line.receipt = receipts.get(container_id, "")
            _collect(session, pickup, line, handed_at=handed_at, by=by, now=now)
    pickup.done_at, pickup.collected_by, pickup.receipt = handed_at, collected_by, receipt
    words = f"{len(containers) - len(left)} taken" + (f", {len(left)} left" if left else "")
    note_event(session, pickup, PickupEventKind.HANDED_OVER, words, by=by, now=now)
    _list_again(session, pickup, coming, [lines[one] for one in sorted(left)], by=by, now=now)
    return pickup


def _refuse_untold(
    container: WasteContainer, *, is_listed: bool, is_taken: bool, left: Mapping[int, str]
) -> None:
    """Of each container on the sheet one thing is said: that it was taken, or why not."""
    if container.id in left and not is_listed:
        raise Refusal(f"“{container.name}” isn't on the sheet, so it can't be left. Leave it out.")
    if is_taken == (container.id in left):
        raise Refusal(f"Say of “{container.name}” whether it was taken or left; nothing was handed over yet.")
    if not is_taken and not left[container.id]:
        raise Refusal(f"Write why “{container.name}” was left; nothing was handed over yet.")


def _refuse_earlier(session: LabSession, container: WasteContainer, happened_at: datetime | None) -> None:
    """Nothing happens to a container's contents after it was handed over."""
    last = find_last_entry(session, container.id)
    if happened_at is not None and last is not None and last.happened_at > happened_at:
        raise Refusal(
            f"Something was entered into the ledger of “{container.name}” for a later time than that of the hand-over. Check the time; "
            "nothing was handed over yet."
        )


def _collect(
    session: LabSession, pickup: Pickup, line: PickupLine, *, handed_at: datetime, by: str, now: datetime
) -> None:
    """Enter the collection, and keep what the paper said of the quantity."""
    quantity = get_listed(session, pickup.id, line.container_id).quantity
    # After a hand-over that was taken back the same container may go to the same pickup once more.
    last = find_last_entry(session, line.container_id)
    entry = collect_container(
        session,
        line.container_id,
        tablet_id=f"pickup-{pickup.id}-{line.container_id}-after-{0 if last is None else last.id}",
        happened_at=handed_at,
        by=by,
        now=now,
    )
    line.entry_id = entry.id
    line.sheet_ul, line.sheet_mg = quantity.volume_ul, quantity.net_mg


# What stays true of a container that waits for another pickup.
_TOLD = (
    "vessel",
    "contents",
    "composition",
    "physical_state",
    "ph_hundredths",
    "temperature_decicelsius",
    "handling",
    "read_ul",
    "gross_mg",
    "tare_mg",
    "described_at",
    "described_by",
)


def _lock_next(session: LabSession, pickup: Pickup, now: datetime) -> Pickup | None:
    """The next pickup whose sheet can still be changed, to which goes what this one leaves."""
    found = find_pickup_after(session, pickup, now=now)
    return None if found is None else lock_pickup(session, found.id)


def _list_again(
    session: LabSession,
    pickup: Pickup,
    coming: Pickup | None,
    waiting: Sequence[PickupLine],
    *,
    by: str,
    now: datetime,
) -> None:
    """Put what was left on the sheet of the next pickup, with what was told of it. Without one it waits."""
    if coming is None:
        return
    names = []
    for line in waiting:
        container = get_container(session, line.container_id)
        if container.state in IN_USE and container.held_ul:
            list_container(
                session, coming, container, {name: getattr(line, name) for name in _TOLD}, by=by, now=now
            )
            names.append(f"“{container.name}”")
    if names:
        words = f"added {', '.join(names)}, left on {day_words(pickup.on_day)}"
        note_event(session, coming, PickupEventKind.LISTED, words, by=by, now=now)


def take_back_hand_over(
    session: LabSession, pickup_id: int, *, reason: str, by: str, now: datetime
) -> Pickup:
    """Take back a hand-over that was entered by mistake: reversing entries, as long as nothing else happened to what was taken.

    What it left behind is taken off the next pickup's sheet again; on a request it stands in the way.
    """
    pickup = lock_pickup(session, pickup_id)
    if pickup.done_at is None:
        raise Refusal("Nothing was handed over to this pickup, so there is nothing to take back.")
    lines = list_lines(session, pickup_id)
    left = {line.container_id for line in lines if line.left_reason}
    later = {
        container_id: lock_pickup(session, found.id)
        for container_id, found in list_on_open_sheets(session, besides_id=pickup_id).items()
        if container_id in left
    }
    containers = lock_containers(session, [line.container_id for line in lines])
    for line in lines:
        container = containers[line.container_id]
        if line.entry_id is not None:
            _take_back(session, line, container, reason, by=by, now=now)
            continue
        if line.container_id in later:
            _take_off(session, later[line.container_id], container)
        line.left_reason = ""
        if container.state == ContainerState.FULL and pickup.requested_at is not None:
            before = find_state_before(session, container.id, ContainerState.REQUESTED)
            if before == ContainerState.CLOSED:
                note = "it was called full with the hand-over that was taken back"
                note_state(session, container, ContainerState.CLOSED, note=note, by=by, now=now)
            ask_for(session, container, pickup, by=by, now=now)
    pickup.done_at, pickup.collected_by, pickup.receipt = None, "", ""
    note_event(session, pickup, PickupEventKind.TAKEN_BACK, reason, by=by, now=now)
    return pickup


def _take_back(
    session: LabSession, line: PickupLine, container: WasteContainer, reason: str, *, by: str, now: datetime
) -> None:
    last = find_last_entry(session, container.id)
    if container.state != ContainerState.COLLECTED or last is None or last.id != line.entry_id:
        raise Refusal(
            f"“{container.name}” is {container.state} now: something happened to it since it was handed over, so that can't be taken back. "
            "Nothing was changed; write down what is wrong in the note of its container."
        )
    put_back_collection(session, container.id, last.id, reason=reason, by=by, now=now)
    line.entry_id, line.receipt, line.sheet_ul, line.sheet_mg = None, "", None, None
    if line.listed_at is None:
        session.delete(line)


def _take_off(session: LabSession, later: Pickup, container: WasteContainer) -> None:
    if later.requested_at is not None:
        raise Refusal(
            f"“{container.name}” was left and is on the request for {day_words(later.on_day)} since. Take it off that request first."
        )
    for line in list_lines(session, later.id):
        if line.container_id == container.id:
            session.delete(line)
