"""Reads that entries of the waste ledger need: their legs, their reversals, and when a filling began."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import col, func, or_, select

from server.containers.models import COMES_IN, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import is_standing
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


@dataclass(frozen=True)
class Dates:
    """Since when what is in a container is waste, and since when it waits in a central area; None where nothing is in it, or it waits in none."""

    began_at: datetime | None
    arrived_at: datetime | None


def find_dates(session: LabSession, container: WasteContainer) -> Dates:
    """The dates of what is in a container by its ledger: of what came in since it was empty, without what was reversed.

    Pouring together makes nothing younger, so a transfer brings the dates of the container that it came from.
    """
    held = (
        select(
            col(WasteEntry.id).label("id"),
            func.sum(WasteEntry.change_ul).over(order_by=col(WasteEntry.id)).label("held_ul"),
        )
        .where(
            WasteEntry.container_id == container.id,
            WasteEntry.kind != WasteEntryKind.CORRECTION,
            is_standing(),
        )
        .subquery()
    )
    emptied = session.exec(select(func.max(held.c.id)).where(held.c.held_ul <= 0)).one()
    is_instant = WasteEntry.happened_at.type  # type: ignore[attr-defined]
    began = func.coalesce(WasteEntry.began_at, WasteEntry.happened_at, type_=is_instant)
    began_at, arrived_at, happened_at = session.exec(
        select(
            func.min(began, type_=is_instant),
            func.min(WasteEntry.arrived_at, type_=is_instant),
            func.min(WasteEntry.happened_at, type_=is_instant),
        ).where(
            WasteEntry.container_id == container.id,
            col(WasteEntry.kind).in_(COMES_IN),
            col(WasteEntry.id) > (emptied or 0),
            is_standing(),
        )
    ).one()
    carried = container.carried_at
    was_carried = [] if carried is None or happened_at is None else [max(happened_at, carried)]
    return Dates(began_at, min([*was_carried, *([] if arrived_at is None else [arrived_at])], default=None))


def list_recent_classes(session: LabSession, now: datetime, zone: str) -> Sequence[Published]:
    """Published classes of today and of the last week, the last first: an entry belongs to one of them, or to none."""
    ends = day_begins(day_at(now, zone) + timedelta(days=1), zone)
    return list_published(session, after=now - RECENT, before=ends)[::-1]
