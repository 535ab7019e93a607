"""Reads of streams, containers, their ledgers, pickups, and the fill forecast."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import col, func, select

from server.charges.models import Charge
from server.charges.queries import TrayCharge, list_charges
from server.chemistry.models import Batch, UsualQuantities
from server.chemistry.queries import get_usual_quantities, list_rests
from server.core.moments import day_at, day_begins
from server.core.units import volume_words
from server.core.waste_forecast import (
    Addition,
    Fill,
    PlatesAhead,
    Vessel,
    charge_additions,
    fill,
    rinse_additions,
    with_tests,
)
from server.data.session import LabSession
from server.recipes.models import Solution
from server.refusal import NotFound
from server.rotations.queries import Published, list_published
from server.waste.models import (
    ContainerState,
    Pickup,
    Source,
    Stream,
    WasteContainer,
    WasteEntry,
    WasteEntryKind,
)

SOURCE_OF_SOLUTION = {Solution.DEVELOPER: Source.DEVELOPER, Solution.BLEACH: Source.BLEACH}


@dataclass(frozen=True)
class StreamForecast:
    """One stream: its containers that are not collected, and how the open ones fill until `pickup` (none: nothing to count on)."""

    stream: Stream
    containers: Sequence[WasteContainer]
    open_containers: Sequence[WasteContainer]
    fill: Fill
    pickup: Pickup | None


def list_streams(session: LabSession) -> Sequence[Stream]:
    return session.exec(select(Stream).order_by(col(Stream.id))).all()


def get_stream(session: LabSession, stream_id: int) -> Stream:
    stream = session.get(Stream, stream_id)
    if stream is None:
        raise NotFound("There is no such stream in this lab. Choose one from Waste.")
    return stream


def list_containers(session: LabSession) -> Sequence[WasteContainer]:
    """Containers that are not collected, in the order of their opening."""
    return session.exec(
        select(WasteContainer)
        .where(WasteContainer.state != ContainerState.COLLECTED)
        .order_by(col(WasteContainer.opened_at), col(WasteContainer.id))
    ).all()


def list_collected_containers(session: LabSession) -> Sequence[WasteContainer]:
    return session.exec(
        select(WasteContainer)
        .where(WasteContainer.state == ContainerState.COLLECTED)
        .order_by(col(WasteContainer.opened_at).desc(), col(WasteContainer.id).desc())
    ).all()


def get_container(session: LabSession, container_id: int) -> WasteContainer:
    container = session.get(WasteContainer, container_id)
    if container is None:
        raise NotFound("There is no such waste container in this lab. Choose one from Waste.")
    return container


def lock_container(session: LabSession, container_id: int) -> WasteContainer:
    """The container as it is now, which nobody else can change before this transaction ends."""
    container = session.hold(WasteContainer, container_id)
    if container is None:
        raise NotFound("There is no such waste container in this lab. Choose one from Waste.")
    return container


def find_container_by_name(session: LabSession, name: str) -> WasteContainer | None:
    return session.exec(select(WasteContainer).where(WasteContainer.name == name)).first()


def list_entries(session: LabSession, container_id: int) -> Sequence[WasteEntry]:
    """A container's ledger in the order in which it was written."""
    return session.exec(
        select(WasteEntry).where(WasteEntry.container_id == container_id).order_by(col(WasteEntry.id))
    ).all()


def find_entry(session: LabSession, tablet_id: str) -> WasteEntry | None:
    return session.exec(select(WasteEntry).where(WasteEntry.tablet_id == tablet_id)).first()


def get_entry(session: LabSession, container_id: int, entry_id: int) -> WasteEntry:
    entry = session.get(WasteEntry, entry_id)
    if entry is None or entry.container_id != container_id:
        raise NotFound("There is no such entry in this container's ledger. Choose one of the ledger.")
    return entry


def find_reversal(session: LabSession, entry_id: int) -> WasteEntry | None:
    return session.exec(select(WasteEntry).where(WasteEntry.reverses_id == entry_id)).first()


def list_standing_pours(session: LabSession, container_id: int) -> Sequence[WasteEntry]:
    """The pours of a container that were not reversed."""
    entries = list_entries(session, container_id)
    reversed_ids = {entry.reverses_id for entry in entries}
    return [entry for entry in entries if entry.kind == WasteEntryKind.POUR and entry.id not in reversed_ids]


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
            .join(WasteContainer, col(WasteContainer.id) == col(WasteEntry.container_id))
            .join(Stream, col(Stream.id) == col(WasteContainer.stream_id))
            .where(WasteEntry.pickup_id == pickup_id)
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


def source_of(mixed: Batch | Charge) -> Source:
    """What a batch or a charge is called once it is spent."""
    return SOURCE_OF_SOLUTION[Solution(mixed.solution)]


def find_charge_in_tray(session: LabSession, charge_id: int) -> TrayCharge | None:
    return next((found for found in list_charges(session) if found.charge.id == charge_id), None)


def _plates_ahead(published: Sequence[Published], zone: str) -> list[PlatesAhead]:
    return [
        PlatesAhead(
            f"{one.section_name}, {one.name}",
            day_at(one.starts_at, zone),
            one.starts_at,
            one.ends_at,
            one.plates_planned,
            one.stations,
        )
        for one in published
    ]


def _in_trays(session: LabSession, source: Source, now: datetime) -> list[Addition]:
    return [
        Addition(f"charge now in {found.tray.name}", now, found.charge.volume_ul, charges=1)
        for found in list_charges(session)
        if source_of(found.charge) is source
    ]


def _rests(session: LabSession, source: Source, now: datetime) -> list[Addition]:
    return [
        Addition(f"rest of batch {batch.number}, past its life", now, batch.left_ul)
        for batch in list_rests(session, now)
        if source_of(batch) is source
    ]


def _additions(
    session: LabSession, source: Source, ahead: Sequence[PlatesAhead], usual: UsualQuantities, now: datetime
) -> Sequence[Addition]:
    if source is Source.RINSE:
        return rinse_additions(ahead, rinse_ul_per_plate=usual.rinse_ul_per_plate, now=now)
    if source is Source.OTHER:
        return ()
    charge_ul = usual.developer_charge_ul if source is Source.DEVELOPER else usual.bleach_charge_ul
    to_come = charge_additions(ahead, charge_ul=charge_ul, plates_per_charge=usual.plates_per_charge, now=now)
    return [*_in_trays(session, source, now), *_rests(session, source, now), *to_come]


def forecast_streams(session: LabSession, *, now: datetime, zone: str) -> Sequence[StreamForecast]:
    """Every stream with what the published rotations add until the next pickup that can be counted on, or at all where there is none.

    The pickup's day counts in full, because nobody knows the hour at which it comes.
    """
    pickup = find_next_pickup(session, now=now, zone=zone)
    before = None if pickup is None else day_begins(pickup.on_day + timedelta(days=1), zone)
    published = list_published(session, after=day_begins(day_at(now, zone), zone), before=before)
    usual = get_usual_quantities(session)
    ahead = with_tests(_plates_ahead(published, zone), test_plates_per_station=usual.test_plates_per_station)
    containers = list_containers(session)
    forecasts = []
    for stream in list_streams(session):
        own = [container for container in containers if container.stream_id == stream.id]
        taking = [container for container in own if container.state == ContainerState.OPEN]
        outcome = fill(
            [Vessel(container.held_ul, container.fill_line_ul) for container in taking],
            _additions(session, Source(stream.takes), ahead, usual, now),
        )
        forecasts.append(StreamForecast(stream, own, taking, outcome, pickup))
    return forecasts


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for every container whose running balance differs from the sum of its entries."""
    found = session.exec(
        select(WasteContainer, func.coalesce(func.sum(WasteEntry.change_ul), 0))
        .outerjoin(WasteEntry, col(WasteEntry.container_id) == col(WasteContainer.id))
        .group_by(col(WasteContainer.id))
        .order_by(col(WasteContainer.id))
    ).all()
    return [
        f"Waste container “{container.name}” is said to hold {volume_words(container.held_ul)}, "
        f"but its entries add up to {volume_words(int(total))}: a difference of {container.held_ul - int(total)} µL."
        for container, total in found
        if container.held_ul != int(total)
    ]
