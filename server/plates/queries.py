"""Reads of plate boxes."""

from collections.abc import Sequence
from datetime import date, datetime

from sqlmodel import col, func, select

from server.core.good_until import is_expired, runs_out_on
from server.data.session import LabSession
from server.plates.models import PlateBox, PlateEntry, PlateEntryKind
from server.refusal import NotFound


def list_plate_boxes(session: LabSession) -> Sequence[PlateBox]:
    """Every plate box: those with plates first-expiring first, then the empty ones."""
    boxes = session.exec(select(PlateBox)).all()
    return sorted(boxes, key=lambda box: (box.plates_left == 0, runs_out_on(box.expires_on), box.id))


def get_plate_box(session: LabSession, plate_box_id: int) -> PlateBox:
    box = session.get(PlateBox, plate_box_id)
    if box is None:
        raise NotFound("There is no such plate box in this lab. Choose one from Stock.")
    return box


def list_plate_entries(session: LabSession, plate_box_id: int) -> Sequence[PlateEntry]:
    """A box's ledger, oldest first."""
    return session.exec(
        select(PlateEntry).where(PlateEntry.plate_box_id == plate_box_id).order_by(col(PlateEntry.id))
    ).all()


def list_plates_used(session: LabSession, *, after: datetime, before: datetime) -> dict[int, int]:
    """Plates that runs and tests took from `after` on and before `before`, by the id of their box."""
    rows = session.exec(
        select(PlateEntry.plate_box_id, func.sum(PlateEntry.change))
        .where(
            col(PlateEntry.kind).in_((PlateEntryKind.RUN, PlateEntryKind.TEST)),
            col(PlateEntry.entered_at) >= after,
            col(PlateEntry.entered_at) < before,
        )
        .group_by(col(PlateEntry.plate_box_id))
    ).all()
    return {box_id: -int(total) for box_id, total in rows}


def sum_plates_by_kind(session: LabSession) -> dict[int, dict[str, int]]:
    """The ledger of each plate box added up by kind of entry, by the id of the box."""
    rows = session.exec(
        select(PlateEntry.plate_box_id, PlateEntry.kind, func.sum(PlateEntry.change)).group_by(
            col(PlateEntry.plate_box_id), col(PlateEntry.kind)
        )
    ).all()
    sums: dict[int, dict[str, int]] = {}
    for box_id, kind, total in rows:
        sums.setdefault(box_id, {})[kind] = int(total)
    return sums


def find_latest_plate_entry(session: LabSession, plate_box_id: int) -> PlateEntry | None:
    return session.exec(
        select(PlateEntry)
        .where(PlateEntry.plate_box_id == plate_box_id)
        .order_by(col(PlateEntry.id).desc())
        .limit(1)
    ).first()


def find_last_delivery(session: LabSession) -> int | None:
    """The plates of the newest delivery."""
    arrived = session.exec(
        select(PlateEntry.change)
        .where(PlateEntry.kind == PlateEntryKind.ARRIVED)
        .order_by(col(PlateEntry.id).desc())
        .limit(1)
    )
    return arrived.first()


def find_safelight(box: PlateBox) -> str | None:
    """The colour of light that may burn near these plates when their box is open, or None when they see every colour.

    Red is taken first where they do not see it, because it leaves eyes used to the dark; then green, then blue.
    """
    seen = {"red": box.sees_red, "green": box.sees_green, "blue": box.sees_blue}
    return next((colour for colour, sees in seen.items() if not sees), None)


def count_plates_left(session: LabSession, *, usable_on: date | None = None) -> int:
    """Plates left in all boxes; with `usable_on` only in boxes that are not expired on that day."""
    return sum(
        box.plates_left
        for box in list_plate_boxes(session)
        if usable_on is None or not is_expired(box.expires_on, usable_on)
    )


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each box whose running balance is not the sum of its ledger."""
    plates = dict(
        session.exec(
            select(PlateEntry.plate_box_id, func.sum(PlateEntry.change)).group_by(
                col(PlateEntry.plate_box_id)
            )
        ).all()
    )
    return [
        f"Plate box “{box.name}” says {box.plates_left} plates, its ledger adds up to {plates.get(box.id, 0)}."
        for box in list_plate_boxes(session)
        if box.plates_left != plates.get(box.id, 0)
    ]
