"""What the pages of pickups show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from server.containers.models import Stream, WasteContainer
from server.containers.pages import started_words
from server.containers.queries import get_stream, list_containers
from server.core.moments import day_at, day_words, moment_words
from server.core.units import volume_words
from server.data.session import LabSession
from server.pickups.forms import HandOver, NewPickup
from server.pickups.models import Pickup
from server.pickups.queries import get_pickup, list_collections, list_pickups
from server.web.submitted import Submitted


@dataclass(frozen=True)
class PickupLine:
    id: int
    day: str
    request_by: str
    state: str
    words: str


@dataclass(frozen=True)
class PickupsPage:
    pickups: Sequence[PickupLine]
    form: Submitted[NewPickup]


@dataclass(frozen=True)
class SheetLine:
    id: int
    container: str
    stream: str
    hazards: str
    quantity: str
    estimated: str
    started: str


@dataclass(frozen=True)
class PickupPage:
    id: int
    lab: str
    line: PickupLine
    is_done: bool
    is_requested: bool
    lines: Sequence[SheetLine]
    total: str
    chosen: frozenset[str]
    form: Submitted[HandOver]


def _pickup_line(pickup: Pickup, *, now: datetime, zone: str) -> PickupLine:
    day, request_by = day_words(pickup.on_day), moment_words(pickup.request_by, zone)
    if pickup.done_at is not None:
        by = f" to {pickup.collected_by}" if pickup.collected_by else ""
        return PickupLine(
            pickup.id, day, request_by, "well", f"handed over{by}, {moment_words(pickup.done_at, zone)}"
        )
    if pickup.on_day < day_at(now, zone):
        return PickupLine(pickup.id, day, request_by, "stop", "day passed, nothing handed over")
    if pickup.requested_at is not None:
        return PickupLine(
            pickup.id, day, request_by, "well", f"requested, {moment_words(pickup.requested_at, zone)}"
        )
    if now > pickup.request_by:
        return PickupLine(pickup.id, day, request_by, "stop", "cut-off passed, not requested: not counted on")
    return PickupLine(pickup.id, day, request_by, "watch", "not requested yet")


def pickups_page(
    session: LabSession, *, now: datetime, zone: str, form: Submitted[NewPickup] | None = None
) -> PickupsPage:
    return PickupsPage(
        pickups=[_pickup_line(pickup, now=now, zone=zone) for pickup in reversed(list_pickups(session))],
        form=form or Submitted(),
    )


def _sheet_line(container: WasteContainer, stream: Stream, quantity_ul: int, zone: str) -> SheetLine:
    return SheetLine(
        container.id,
        container.name,
        stream.name,
        stream.hazards,
        volume_words(quantity_ul),
        volume_words(container.estimated_ul) if container.estimated_ul else "none",
        started_words(container, zone),
    )


def pickup_page(
    session: LabSession,
    pickup_id: int,
    *,
    now: datetime,
    zone: str,
    lab: str,
    form: Submitted[HandOver] | None = None,
) -> PickupPage:
    """The request sheet: before handing over what stands in the lab with something in it, afterwards what was taken."""
    pickup = get_pickup(session, pickup_id)
    if pickup.done_at is not None:
        held = [
            (container, stream, -entry.change_ul)
            for entry, container, stream in list_collections(session, pickup_id)
        ]
    else:
        held = [
            (container, get_stream(session, container.stream_id), container.held_ul)
            for container in list_containers(session)
            if container.held_ul > 0
        ]
    form = form or Submitted()
    return PickupPage(
        id=pickup.id,
        lab=lab,
        line=_pickup_line(pickup, now=now, zone=zone),
        is_done=pickup.done_at is not None,
        is_requested=pickup.requested_at is not None,
        lines=[_sheet_line(container, stream, quantity, zone) for container, stream, quantity in held],
        total=volume_words(sum(quantity for _container, _stream, quantity in held)),
        chosen=frozenset(form.value("container_ids", [])),
        form=form,
    )
