"""Reads that entries of the waste ledger need: their legs, their reversals, and when a filling began."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy import ColumnElement
from sqlalchemy.orm import aliased
from sqlmodel import col, func, or_, select

from server.containers.models import WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import find_first_pour
from server.core.moments import day_at, day_begins
from server.data.session import LabSession
from server.rotations.queries import Published, list_published

# A pour is seldom entered later than a week after its class.
RECENT = timedelta(days=7)


def list_legs(session: LabSession, entry: WasteEntry) -> Sequence[WasteEntry]:
    """The entry, or both legs of a transfer, the one out first."""
    if entry.kind not in {WasteEntryKind.TRANSFER_OUT, WasteEntryKind.TRANSFER_IN}:
        return [entry]
    out_id = entry.transfer_of_id or entry.id
    return session.exec(
        select(WasteEntry)
        .where(or_(col(WasteEntry.id) == out_id, col(WasteEntry.transfer_of_id) == out_id))
        .order_by(col(WasteEntry.id))
    ).all()


def find_other_leg(session: LabSession, entry: WasteEntry) -> WasteEntry | None:
    return next((leg for leg in list_legs(session, entry) if leg.id != entry.id), None)


def _was_reversed() -> ColumnElement[bool]:
    reversal = aliased(WasteEntry)
    return select(reversal.id).where(col(reversal.reverses_id) == col(WasteEntry.id)).exists()


def find_start(session: LabSession, container_id: int) -> datetime | None:
    """When what is in a container began to be waste: its first pour, or the start of what was transferred into it, if that is earlier.

    Pouring together makes nothing younger, so a transfer brings the start of the container that it came from.
    """
    out, source = aliased(WasteEntry), aliased(WasteContainer)
    began = func.coalesce(source.first_pour_at, out.happened_at, type_=WasteContainer.first_pour_at.type)  # type: ignore[union-attr]
    transferred = session.exec(
        select(began)
        .select_from(WasteEntry)
        .join(out, col(out.id) == col(WasteEntry.transfer_of_id))
        .join(source, col(source.id) == col(out.container_id))
        .where(
            WasteEntry.container_id == container_id,
            WasteEntry.kind == WasteEntryKind.TRANSFER_IN,
            ~_was_reversed(),
        )
    ).all()
    first = find_first_pour(session, container_id)
    return min([*transferred, *([] if first is None else [first.happened_at])], default=None)


def list_recent_classes(session: LabSession, now: datetime, zone: str) -> Sequence[Published]:
    """Published classes of today and of the last week, the last first: an entry belongs to one of them, or to none."""
    ends = day_begins(day_at(now, zone) + timedelta(days=1), zone)
    return list_published(session, after=now - RECENT, before=ends)[::-1]
