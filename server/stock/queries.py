"""Reads of kits, bottles and plate boxes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlmodel import col, func, select

from server.core.units import volume_words
from server.data.session import LabSession
from server.refusal import NotFound
from server.stock.models import (
    Bottle,
    BottleEntry,
    BottleEntryKind,
    Kit,
    PlateBox,
    PlateEntry,
    PlateEntryKind,
    Substance,
)

SOON_DAYS = 30
# Assumed: stock is short when less than this part of the last delivery is left to use.
SHORT_BELOW = 4


def _runs_out(expires_on: date | None) -> date:
    return expires_on or date.max


def is_expired(expires_on: date | None, day: date) -> bool:
    """The day that stands on the pack is the last good day."""
    return expires_on is not None and day > expires_on


def list_kits(session: LabSession) -> Sequence[Kit]:
    """Newest first."""
    return session.exec(select(Kit).order_by(col(Kit.arrived_on).desc(), col(Kit.id).desc())).all()


def get_kit(session: LabSession, kit_id: int) -> Kit:
    kit = session.get(Kit, kit_id)
    if kit is None:
        raise NotFound("There is no such kit in this lab. Choose one from Stock.")
    return kit


def get_bottle(session: LabSession, bottle_id: int) -> Bottle:
    bottle = session.get(Bottle, bottle_id)
    if bottle is None:
        raise NotFound("There is no such bottle in this lab. Choose one from Stock.")
    return bottle


def list_every_bottle(session: LabSession) -> Sequence[tuple[Bottle, Kit]]:
    """All bottles with their kits, empty ones too, in the order of their entry."""
    return session.exec(
        select(Bottle, Kit).join(Kit, col(Kit.id) == col(Bottle.kit_id)).order_by(col(Bottle.id))
    ).all()


def list_usable_bottles(session: LabSession, substance: Substance, day: date) -> Sequence[tuple[Bottle, Kit]]:
    """Bottles of `substance` that hold something and may be drawn from on `day`, first-expiring first."""
    found = [
        (bottle, kit)
        for bottle, kit in list_every_bottle(session)
        if bottle.substance == substance and bottle.left_ul > 0 and not is_expired(kit.expires_on, day)
    ]
    return sorted(found, key=lambda pair: (_runs_out(pair[1].expires_on), pair[0].id))


def list_bottles(session: LabSession, substance: Substance) -> Sequence[Bottle]:
    """Bottles of `substance` that hold something, expired ones too, first-expiring first."""
    return [bottle for bottle, _kit in list_usable_bottles(session, substance, date.min)]


def list_bottles_of_kit(session: LabSession, kit_id: int) -> Sequence[Bottle]:
    return session.exec(select(Bottle).where(Bottle.kit_id == kit_id).order_by(col(Bottle.id))).all()


def list_bottle_entries(session: LabSession, bottle_id: int) -> Sequence[BottleEntry]:
    """A bottle's ledger, oldest first."""
    return session.exec(
        select(BottleEntry).where(BottleEntry.bottle_id == bottle_id).order_by(col(BottleEntry.id))
    ).all()


def find_latest_bottle_entry(session: LabSession, bottle_id: int) -> BottleEntry | None:
    return session.exec(
        select(BottleEntry)
        .where(BottleEntry.bottle_id == bottle_id)
        .order_by(col(BottleEntry.id).desc())
        .limit(1)
    ).first()


def list_entries_into_batch(session: LabSession, number: int) -> Sequence[tuple[BottleEntry, Bottle, Kit]]:
    """What went from which bottle into batch `number`."""
    return session.exec(
        select(BottleEntry, Bottle, Kit)
        .join(Bottle, col(Bottle.id) == col(BottleEntry.bottle_id))
        .join(Kit, col(Kit.id) == col(Bottle.kit_id))
        .where(BottleEntry.batch_number == number)
        .order_by(col(BottleEntry.id))
    ).all()


def list_mixed_from_bottles(session: LabSession, *, after: datetime, before: datetime) -> dict[int, int]:
    """Microlitres that went into batches from `after` on and before `before`, by the id of their bottle."""
    rows = session.exec(
        select(BottleEntry.bottle_id, func.sum(BottleEntry.change_ul))
        .where(
            BottleEntry.kind == BottleEntryKind.MIXED,
            col(BottleEntry.entered_at) >= after,
            col(BottleEntry.entered_at) < before,
        )
        .group_by(col(BottleEntry.bottle_id))
    ).all()
    return {bottle_id: -int(total) for bottle_id, total in rows}


def list_mixed_by_batch(session: LabSession) -> dict[int, int]:
    """Microlitres drawn from bottles, by the number of the batch they went into."""
    rows = session.exec(
        select(BottleEntry.batch_number, func.sum(BottleEntry.change_ul))
        .where(col(BottleEntry.batch_number).is_not(None))
        .group_by(col(BottleEntry.batch_number))
    ).all()
    return {number: -int(total) for number, total in rows if number is not None}


def list_plate_boxes(session: LabSession) -> Sequence[PlateBox]:
    """Every plate box: those with plates first-expiring first, then the empty ones."""
    boxes = session.exec(select(PlateBox)).all()
    return sorted(boxes, key=lambda box: (box.plates_left == 0, _runs_out(box.expires_on), box.id))


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


def sum_volumes_by_kind(session: LabSession) -> dict[str, dict[str, int]]:
    """The ledgers of all bottles added up by kind of entry, in microlitres, by the substance in them."""
    rows = session.exec(
        select(Bottle.substance, BottleEntry.kind, func.sum(BottleEntry.change_ul))
        .join(BottleEntry, col(BottleEntry.bottle_id) == col(Bottle.id))
        .group_by(col(Bottle.substance), col(BottleEntry.kind))
    ).all()
    sums: dict[str, dict[str, int]] = {}
    for substance, kind, total in rows:
        sums.setdefault(substance, {})[kind] = int(total)
    return sums


def find_latest_plate_entry(session: LabSession, plate_box_id: int) -> PlateEntry | None:
    return session.exec(
        select(PlateEntry)
        .where(PlateEntry.plate_box_id == plate_box_id)
        .order_by(col(PlateEntry.id).desc())
        .limit(1)
    ).first()


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


def count_left_ul(session: LabSession, substance: Substance, day: date) -> int:
    """Microlitres of `substance` that may be drawn on `day`, over all bottles."""
    return sum(bottle.left_ul for bottle, _kit in list_usable_bottles(session, substance, day))


@dataclass(frozen=True)
class Expiring:
    """Something that holds plates or a solution and is expired, or will be soon."""

    what: str
    left: str
    expires_on: date
    expired: bool
    address: str


def plates_words(plates: int) -> str:
    return "1 plate" if plates == 1 else f"{plates} plates"


def list_expiring(session: LabSession, day: date) -> Sequence[Expiring]:
    """What is expired on `day` or expires within thirty days after it, earliest first; empty boxes and bottles are left out."""
    last = day + timedelta(days=SOON_DAYS)
    boxes = [
        Expiring(
            f"plate box “{box.name}”",
            plates_words(box.plates_left),
            box.expires_on,
            is_expired(box.expires_on, day),
            f"/stock/plate-boxes/{box.id}",
        )
        for box in list_plate_boxes(session)
        if box.plates_left and box.expires_on is not None and box.expires_on <= last
    ]
    bottles = [
        Expiring(
            f"{bottle.substance} of kit “{kit.name}”",
            volume_words(bottle.left_ul),
            kit.expires_on,
            is_expired(kit.expires_on, day),
            f"/stock/kits/{kit.id}",
        )
        for bottle, kit in list_every_bottle(session)
        if bottle.left_ul and kit.expires_on is not None and kit.expires_on <= last
    ]
    return sorted(boxes + bottles, key=lambda found: (found.expires_on, found.what))


@dataclass(frozen=True)
class Short:
    """Something of which less than a quarter of the last delivery may still be used."""

    what: str
    left: str
    last_delivery: str


def list_short(session: LabSession, day: date) -> Sequence[Short]:
    """What is short on `day`, compared with the last delivery of the same."""
    found = []
    boxes = session.exec(
        select(PlateEntry).where(PlateEntry.kind == PlateEntryKind.ARRIVED).order_by(col(PlateEntry.id))
    ).all()
    plates = count_plates_left(session, usable_on=day)
    if boxes and plates * SHORT_BELOW < boxes[-1].change:
        found.append(Short("plates", plates_words(plates), plates_words(boxes[-1].change)))
    arrived = session.exec(
        select(Bottle.substance, BottleEntry.change_ul)
        .join(BottleEntry, col(BottleEntry.bottle_id) == col(Bottle.id))
        .where(BottleEntry.kind == BottleEntryKind.ARRIVED)
        .order_by(col(BottleEntry.id))
    ).all()
    for substance, volume in dict(arrived).items():
        left = count_left_ul(session, Substance(substance), day)
        if left * SHORT_BELOW < volume:
            found.append(Short(substance, volume_words(left), volume_words(volume)))
    return found


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each box or bottle whose running balance is not the sum of its ledger."""
    plates = dict(
        session.exec(
            select(PlateEntry.plate_box_id, func.sum(PlateEntry.change)).group_by(
                col(PlateEntry.plate_box_id)
            )
        ).all()
    )
    volumes = dict(
        session.exec(
            select(BottleEntry.bottle_id, func.sum(BottleEntry.change_ul)).group_by(
                col(BottleEntry.bottle_id)
            )
        ).all()
    )
    boxes = [
        f"Plate box “{box.name}” says {box.plates_left} plates, its ledger adds up to {plates.get(box.id, 0)}."
        for box in list_plate_boxes(session)
        if box.plates_left != plates.get(box.id, 0)
    ]
    bottles = [
        f"The {bottle.substance} of kit “{kit.name}” says {bottle.left_ul} µL, "
        f"its ledger adds up to {volumes.get(bottle.id, 0)} µL."
        for bottle, kit in list_every_bottle(session)
        if bottle.left_ul != volumes.get(bottle.id, 0)
    ]
    return boxes + bottles
