"""Reads of kits and their bottles."""

from collections.abc import Sequence
from datetime import date, datetime

from sqlmodel import col, func, select

from server.core.good_until import is_expired, runs_out_on
from server.data.session import LabSession
from server.kits.models import Bottle, BottleEntry, BottleEntryKind, Kit, Substance
from server.refusal import NotFound


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
    return sorted(found, key=lambda pair: (runs_out_on(pair[1].expires_on), pair[0].id))


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


def list_last_deliveries(session: LabSession) -> dict[str, int]:
    """What the last delivery of each substance brought, in microlitres."""
    arrived = session.exec(
        select(Bottle.substance, BottleEntry.change_ul)
        .join(BottleEntry, col(BottleEntry.bottle_id) == col(Bottle.id))
        .where(BottleEntry.kind == BottleEntryKind.ARRIVED)
        .order_by(col(BottleEntry.id))
    ).all()
    return dict(arrived)


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


def count_left_ul(session: LabSession, substance: Substance, day: date) -> int:
    """Microlitres of `substance` that may be drawn on `day`, over all bottles."""
    return sum(bottle.left_ul for bottle, _kit in list_usable_bottles(session, substance, day))


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each bottle whose running balance is not the sum of its ledger."""
    volumes = dict(
        session.exec(
            select(BottleEntry.bottle_id, func.sum(BottleEntry.change_ul)).group_by(
                col(BottleEntry.bottle_id)
            )
        ).all()
    )
    return [
        f"The {bottle.substance} of kit “{kit.name}” says {bottle.left_ul} µL, "
        f"its ledger adds up to {volumes.get(bottle.id, 0)} µL."
        for bottle, kit in list_every_bottle(session)
        if bottle.left_ul != volumes.get(bottle.id, 0)
    ]
