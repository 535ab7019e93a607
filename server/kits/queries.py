"""Reads of kits and their bottles."""

from collections.abc import Sequence
from datetime import date, datetime
from fractions import Fraction

from sqlmodel import col, func, select

from server.core.good_until import is_expired, runs_out_on
from server.core.recipe import PURE_PPM, Component, Measure
from server.core.shelf import OnShelf, stands_for
from server.data.session import LabSession
from server.kits.models import LEAD_DAYS, Bottle, BottleEntry, BottleEntryKind, Kit, SafetySheet
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


def find_lead_days(session: LabSession) -> int:
    """Days from order to arrival, as the last delivery took; assumed before the first."""
    latest = session.exec(select(Kit.lead_days).order_by(col(Kit.id).desc()).limit(1)).first()
    return LEAD_DAYS if latest is None else latest


def list_sheet_names(session: LabSession) -> dict[int, str]:
    """The names of the SDS files, by their id; their contents stay where they are."""
    return dict(session.exec(select(SafetySheet.id, SafetySheet.name)).all())


def get_sheet_of_kit(session: LabSession, kit_id: int, sheet_id: int) -> SafetySheet:
    sheet = session.exec(
        select(SafetySheet)
        .join(Bottle, col(Bottle.sheet_id) == col(SafetySheet.id))
        .where(Bottle.kit_id == kit_id, SafetySheet.id == sheet_id)
    ).first()
    if sheet is None:
        raise NotFound("There is no such SDS in this kit. Choose one from its page.")
    return sheet


def list_every_bottle(session: LabSession) -> Sequence[tuple[Bottle, Kit]]:
    """All bottles with their kits, empty ones too, in the order of their entry."""
    return session.exec(
        select(Bottle, Kit).join(Kit, col(Kit.id) == col(Bottle.kit_id)).order_by(col(Bottle.id))
    ).all()


def on_shelf(bottle: Bottle) -> OnShelf:
    """The bottle as the computations take it."""
    return OnShelf(
        bottle.substance,
        Measure(bottle.measure),
        bottle.left,
        bottle.formula,
        Fraction(bottle.purity_ppm, PURE_PPM),
        bottle.density_ug_per_ul,
    )


def list_usable_bottles(
    session: LabSession, day: date, *, standing_for: Component | None = None
) -> Sequence[tuple[Bottle, Kit]]:
    """Bottles that hold something and may be drawn from on `day`, first-expiring first.

    With `standing_for` only those whose content may be taken for that component of a recipe.
    """
    found = [
        (bottle, kit)
        for bottle, kit in list_every_bottle(session)
        if bottle.left > 0
        and not is_expired(kit.expires_on, day)
        and (standing_for is None or stands_for(standing_for, on_shelf(bottle)) is not None)
    ]
    return sorted(found, key=lambda pair: (runs_out_on(pair[1].expires_on), pair[0].id))


def list_bottles(session: LabSession, substance: str) -> Sequence[Bottle]:
    """Bottles of `substance` that hold something, expired ones too, first-expiring first."""
    return [
        bottle
        for bottle, _kit in list_usable_bottles(session, date.min)
        if bottle.substance.casefold() == substance.casefold()
    ]


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
    """What went into batches from `after` on and before `before`, by the id of its bottle, in milligrams or microlitres."""
    rows = session.exec(
        select(BottleEntry.bottle_id, func.sum(BottleEntry.change))
        .where(
            BottleEntry.kind == BottleEntryKind.MIXED,
            col(BottleEntry.entered_at) >= after,
            col(BottleEntry.entered_at) < before,
        )
        .group_by(col(BottleEntry.bottle_id))
    ).all()
    return {bottle_id: -int(total) for bottle_id, total in rows}


def list_mixed_by_batch(session: LabSession) -> dict[int, int]:
    """Microlitres of solutions drawn from bottles, by the number of the batch they went into; powders take up no volume of their own."""
    rows = session.exec(
        select(BottleEntry.batch_number, func.sum(BottleEntry.change))
        .join(Bottle, col(Bottle.id) == col(BottleEntry.bottle_id))
        .where(col(BottleEntry.batch_number).is_not(None), Bottle.measure == Measure.VOLUME)
        .group_by(col(BottleEntry.batch_number))
    ).all()
    return {number: -int(total) for number, total in rows if number is not None}


def list_last_deliveries(session: LabSession) -> dict[tuple[str, str], int]:
    """What the last kit with each substance brought of it in all its bottles, in milligrams or microlitres.

    By the substance as it stands on the newest bottle, and how it is measured.
    """
    arrived = session.exec(
        select(Bottle.kit_id, Bottle.substance, Bottle.measure, BottleEntry.change)
        .join(BottleEntry, col(BottleEntry.bottle_id) == col(Bottle.id))
        .where(BottleEntry.kind == BottleEntryKind.ARRIVED)
        .order_by(col(BottleEntry.id))
    ).all()
    brought: dict[tuple[str, str], tuple[int, str, int]] = {}
    for kit_id, substance, measure, change in arrived:
        place = (substance.casefold(), measure)
        last_kit, _called, so_far = brought.get(place, (kit_id, "", 0))
        brought[place] = (kit_id, substance, change + (so_far if last_kit == kit_id else 0))
    return {(called, measure): amount for (_name, measure), (_kit, called, amount) in brought.items()}


def sum_amounts_by_kind(session: LabSession) -> dict[tuple[str, str], dict[str, int]]:
    """The ledgers of all bottles added up by kind of entry, by the substance in them and how it is measured."""
    rows = session.exec(
        select(Bottle.substance, Bottle.measure, BottleEntry.kind, func.sum(BottleEntry.change))
        .join(BottleEntry, col(BottleEntry.bottle_id) == col(Bottle.id))
        .group_by(col(Bottle.substance), col(Bottle.measure), col(BottleEntry.kind))
    ).all()
    sums: dict[tuple[str, str], dict[str, int]] = {}
    for substance, measure, kind, total in rows:
        sums.setdefault((substance, measure), {})[kind] = int(total)
    return sums


def list_arrived(session: LabSession) -> dict[int, int]:
    """What each bottle held when it came, in milligrams or microlitres, by its id."""
    rows = session.exec(
        select(BottleEntry.bottle_id, func.sum(BottleEntry.change))
        .where(BottleEntry.kind == BottleEntryKind.ARRIVED)
        .group_by(col(BottleEntry.bottle_id))
    ).all()
    return {bottle_id: int(total) for bottle_id, total in rows}


def list_mixed_entries(session: LabSession) -> Sequence[tuple[BottleEntry, Bottle, Kit]]:
    """Every entry that went into a batch, with its bottle and kit, in the order of their entry."""
    return session.exec(
        select(BottleEntry, Bottle, Kit)
        .join(Bottle, col(Bottle.id) == col(BottleEntry.bottle_id))
        .join(Kit, col(Kit.id) == col(Bottle.kit_id))
        .where(BottleEntry.kind == BottleEntryKind.MIXED)
        .order_by(col(BottleEntry.id))
    ).all()


def sum_left(session: LabSession, day: date) -> dict[tuple[str, str], int]:
    """Milligrams or microlitres that may be drawn on `day`, over all bottles, by their substance in small letters and how it is measured."""
    left: dict[tuple[str, str], int] = {}
    for bottle, _kit in list_usable_bottles(session, day):
        place = (bottle.substance.casefold(), bottle.measure)
        left[place] = left.get(place, 0) + bottle.left
    return left


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each bottle whose running balance is not the sum of its ledger."""
    sums = dict(
        session.exec(
            select(BottleEntry.bottle_id, func.sum(BottleEntry.change)).group_by(col(BottleEntry.bottle_id))
        ).all()
    )
    return [
        f"The {bottle.substance} of kit “{kit.name}” says {bottle.left} {unit}, "
        f"its ledger adds up to {sums.get(bottle.id, 0)} {unit}."
        for bottle, kit in list_every_bottle(session)
        if bottle.left != sums.get(bottle.id, 0)
        for unit in ("mg" if bottle.measure == Measure.MASS else "µL",)
    ]
