"""Reads for the register: what its entries came from, its sums, and the lives of containers."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement
from sqlmodel import case, col, func, select

from server.charges.models import Charge
from server.chemistry.models import Batch
from server.containers.models import ContainerEvent, Stream, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import Written, came_in
from server.data.session import LabSession
from server.kits.models import Bottle
from server.pickups.models import PickupLine
from server.rotations.models import Rotation
from server.stations.models import Place


@dataclass(frozen=True)
class Names:
    """What ids in some entries stand for."""

    containers: Mapping[int, str]
    streams: Mapping[int, str]
    trays: Mapping[int, str]
    batches: Mapping[int, int]
    bottles: Mapping[int, str]
    classes: Mapping[int, str]
    receipts: Mapping[int, str]


@dataclass(frozen=True)
class Sums:
    """What came into the containers of a stream in a span and what went out of them, reversed entries left out."""

    stream: str
    in_ul: int
    out_ul: int
    in_mg: int
    out_mg: int


def _ids(written: Sequence[Written], name: str) -> set[int]:
    return {getattr(one.entry, name) for one in written} - {None}


def find_names(session: LabSession, written: Sequence[Written]) -> Names:
    """The names behind the ids of these entries."""
    containers = _of_containers(session, _ids(written, "container_id"))
    charges = col(Charge.id).in_(_ids(written, "charge_id"))
    collected = [one.entry.id for one in written if one.entry.kind == WasteEntryKind.COLLECTED]
    return Names(
        containers={container.id: container.name for container, _stream in containers},
        streams={container.id: stream for container, stream in containers},
        trays=dict(
            session.exec(
                select(Charge.id, Place.name)
                .join(Place, col(Place.id) == col(Charge.place_id))
                .where(charges)
            ).all()
        ),
        batches=dict(
            session.exec(
                select(Batch.id, Batch.number).where(col(Batch.id).in_(_ids(written, "batch_id")))
            ).all()
        ),
        bottles=dict(
            session.exec(
                select(Bottle.id, Bottle.substance).where(col(Bottle.id).in_(_ids(written, "bottle_id")))
            ).all()
        ),
        classes=dict(
            session.exec(
                select(Rotation.id, Rotation.name).where(col(Rotation.id).in_(_ids(written, "rotation_id")))
            ).all()
        ),
        receipts={
            entry_id: receipt
            for entry_id, receipt in session.exec(
                select(PickupLine.entry_id, PickupLine.receipt).where(col(PickupLine.entry_id).in_(collected))
            ).all()
            if entry_id is not None
        },
    )


def _of_containers(session: LabSession, ids: Collection[int]) -> Sequence[tuple[WasteContainer, str]]:
    return session.exec(
        select(WasteContainer, Stream.name)
        .join(Stream, col(Stream.id) == col(WasteContainer.stream_id))
        .where(col(WasteContainer.id).in_(ids))
    ).all()


def list_sums(
    session: LabSession, *, begins: datetime, ends: datetime, container_id: int | None = None
) -> Sequence[Sums]:
    """By stream, what came in and went out between two instants of writing it down. A reversal takes back where its entry counted."""
    span = [col(WasteEntry.entered_at) >= begins, col(WasteEntry.entered_at) < ends]
    if container_id is not None:
        span.append(col(WasteEntry.container_id) == container_id)
    volumes, masses = (
        _in_and_out(session, change, span) for change in (WasteEntry.change_ul, WasteEntry.change_mg)
    )
    return [
        Sums(name, in_ul, -out_ul, in_mg, -out_mg)
        for (name, in_ul, out_ul), (_name, in_mg, out_mg) in zip(volumes, masses, strict=True)
    ]


def _in_and_out(
    session: LabSession, change: int, span: Sequence[ColumnElement[bool]]
) -> Sequence[tuple[str, int, int]]:
    rows = session.exec(
        select(
            Stream.name,
            func.sum(case((came_in(), col(change)), else_=0)),
            func.sum(case((came_in(), 0), else_=col(change))),
        )
        .select_from(WasteEntry)
        .join(WasteContainer, col(WasteContainer.id) == col(WasteEntry.container_id))
        .join(Stream, col(Stream.id) == col(WasteContainer.stream_id))
        .where(*span)
        .group_by(col(Stream.id), col(Stream.name))
        .order_by(col(Stream.id))
    ).all()
    return [(name, int(in_it), int(out_of_it)) for name, in_it, out_of_it in rows]


def list_lives(
    session: LabSession, *, after: int, at_most: int
) -> Sequence[tuple[ContainerEvent, WasteContainer, str]]:
    """What became of containers, with each its container and the name of its stream, from the event after `after` on."""
    return session.exec(
        select(ContainerEvent, WasteContainer, Stream.name)
        .join(WasteContainer, col(WasteContainer.id) == col(ContainerEvent.container_id))
        .join(Stream, col(Stream.id) == col(WasteContainer.stream_id))
        .where(col(ContainerEvent.id) > after)
        .order_by(col(ContainerEvent.id))
        .limit(at_most)
    ).all()
