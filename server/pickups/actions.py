"""Booking pickups, requesting them, and handing containers over."""

from collections.abc import Sequence
from datetime import date, datetime, time

from sqlmodel import select

from server.core.moments import NoSuchTime, day_at, day_words, instant_of, moment_words
from server.data.session import LabSession
from server.pickups.models import Pickup, PickupLine
from server.pickups.queries import lock_pickup
from server.pours.actions import collect_container
from server.refusal import Refusal


def book_pickup(
    session: LabSession, *, on_day: date, request_day: date, request_clock: time, zone: str, now: datetime
) -> Pickup:
    """Book a pickup that must be requested before its cut-off, given on the lab's wall clock."""
    request_by = instant_of(day=request_day, clock=request_clock, zone=zone)
    if isinstance(request_by, NoSuchTime):
        raise Refusal(request_by.sentence)
    if on_day < day_at(now, zone):
        raise Refusal(f"{day_words(on_day)} has passed. Choose a day from today on.")
    if request_day > on_day:
        raise Refusal("The request cut-off is after the pickup. Check both days with your waste office.")
    if request_by < now:
        raise Refusal(
            f"The request cut-off, {moment_words(request_by, zone)}, has passed, so this pickup would not come. "
            "Ask your waste office for the next one and book that."
        )
    if session.exec(select(Pickup.id).where(Pickup.on_day == on_day)).first() is not None:
        raise Refusal(
            f"A pickup on {day_words(on_day)} is booked already. Use that one, or choose another day."
        )
    pickup = Pickup(on_day=on_day, request_by=request_by)
    session.add(pickup)
    session.flush()  # its id is its address
    return pickup


def _refuse_done(pickup: Pickup) -> None:
    if pickup.done_at is not None:
        raise Refusal(
            f"The pickup of {day_words(pickup.on_day)} was handed over already. Book another for what is still here."
        )


def request_pickup(session: LabSession, pickup_id: int, *, zone: str, now: datetime) -> Pickup:
    """Say that the waste office was asked. Asking twice changes nothing."""
    pickup = lock_pickup(session, pickup_id)
    _refuse_done(pickup)
    if pickup.requested_at is None:
        if now > pickup.request_by:
            raise Refusal(
                f"The request cut-off was {moment_words(pickup.request_by, zone)}. Call your waste office; "
                "call this pickup off and book the one they give you."
            )
        pickup.requested_at = now
    return pickup


def call_off_pickup(session: LabSession, pickup_id: int) -> None:
    """Take a booking back that nothing was handed over to."""
    pickup = lock_pickup(session, pickup_id)
    _refuse_done(pickup)
    session.delete(pickup)


def hand_over(
    session: LabSession,
    pickup_id: int,
    container_ids: Sequence[int],
    *,
    collected_by: str = "",
    by: str,
    now: datetime,
) -> Pickup:
    """Hand the chosen containers over to a pickup; the others stay. All of them go, or none when one can't."""
    pickup = lock_pickup(session, pickup_id)
    _refuse_done(pickup)
    if not container_ids:
        raise Refusal("No container was chosen. Tick what the collector takes.")
    # Locks are taken in one order, so that two hand-overs never wait for each other.
    for container_id in sorted(set(container_ids)):
        entry = collect_container(
            session, container_id, tablet_id=f"pickup-{pickup.id}-{container_id}", by=by, now=now
        )
        session.add(PickupLine(pickup_id=pickup.id, container_id=container_id, entry_id=entry.id))
    pickup.done_at, pickup.collected_by = now, collected_by
    return pickup
