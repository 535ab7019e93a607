"""Reads of pickups and of what they took."""

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import col, select

from server.containers.models import (
    Stream,
    WasteContainer,
    WasteEntry,
)
from server.core.moments import day_at
from server.data.session import LabSession
from server.pickups.models import Pickup, PickupLine
from server.refusal import NotFound


def list_pickups(session: LabSession) -> Sequence[Pickup]:
    return session.exec(select(Pickup).order_by(col(Pickup.on_day), col(Pickup.id))).all()


def get_pickup(session: LabSession, pickup_id: int) -> Pickup:
    pickup = session.get(Pickup, pickup_id)
    if pickup is None:
        raise NotFound("There is no such pickup in this lab. Choose one from Pickups.")
    return pickup


def lock_pickup(session: LabSession, pickup_id: int) -> Pickup:
    """The pickup as it is now, which nobody else can change before this transaction ends."""
    pickup = session.hold(Pickup, pickup_id)
    if pickup is None:
        raise NotFound("There is no such pickup in this lab. Choose one from Pickups.")
    return pickup


def list_collections(
    session: LabSession, pickup_id: int
) -> Sequence[tuple[WasteEntry, WasteContainer, Stream]]:
    """What a pickup took: the collecting entries with their containers and streams."""
    return [
        (entry, container, stream)
        for entry, container, stream in session.exec(
            select(WasteEntry, WasteContainer, Stream)
            .join(PickupLine, col(PickupLine.entry_id) == col(WasteEntry.id))
            .join(WasteContainer, col(WasteContainer.id) == col(WasteEntry.container_id))
            .join(Stream, col(Stream.id) == col(WasteContainer.stream_id))
            .where(PickupLine.pickup_id == pickup_id)
            .order_by(col(WasteEntry.id))
        ).all()
    ]


def find_next_pickup(session: LabSession, *, now: datetime, zone: str) -> Pickup | None:
    """The next pickup that can still be counted on: not handed over, its day not past, and requested or still in time to be."""
    pickups = session.exec(
        select(Pickup)
        .where(col(Pickup.done_at).is_(None), col(Pickup.on_day) >= day_at(now, zone))
        .order_by(col(Pickup.on_day), col(Pickup.id))
    ).all()
    return next((one for one in pickups if one.requested_at is not None or now <= one.request_by), None)
