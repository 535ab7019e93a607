"""Reads of batches, charges and the lab's usual quantities."""

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import col, func, select

from server.chemistry.models import Batch, BatchEntry, BatchEntryKind, Charge, Solution, UsualQuantities
from server.core.working_solution import ChargeState, charge_state
from server.data.session import LabSession
from server.refusal import NotFound
from server.stations.models import Place
from server.stock.queries import list_mixed_by_batch


def get_usual_quantities(session: LabSession) -> UsualQuantities:
    """The lab's own figures, or the assumed ones (not saved) until it has set them."""
    return session.exec(select(UsualQuantities)).first() or UsualQuantities()


def list_batches(session: LabSession) -> Sequence[Batch]:
    """Every batch, newest first."""
    return session.exec(select(Batch).order_by(col(Batch.number).desc())).all()


def list_live_batches(session: LabSession, now: datetime) -> Sequence[Batch]:
    """Batches that have not ended and still hold something, first-ending first."""
    return session.exec(
        select(Batch)
        .where(col(Batch.ends_at) > now, col(Batch.left_ul) > 0)
        .order_by(col(Batch.ends_at), col(Batch.number))
    ).all()


def list_rests(session: LabSession, now: datetime) -> Sequence[Batch]:
    """Batches past their life that still hold something, which is to be discarded, oldest first."""
    return session.exec(
        select(Batch)
        .where(col(Batch.ends_at) <= now, col(Batch.left_ul) > 0)
        .order_by(col(Batch.ends_at), col(Batch.number))
    ).all()


def get_batch(session: LabSession, batch_id: int) -> Batch:
    batch = session.get(Batch, batch_id)
    if batch is None:
        raise NotFound("There is no such batch in this lab. Choose one from Chemistry.")
    return batch


def list_batch_entries(session: LabSession, batch_id: int) -> Sequence[BatchEntry]:
    """A batch's ledger, oldest first."""
    return session.exec(
        select(BatchEntry).where(BatchEntry.batch_id == batch_id).order_by(col(BatchEntry.id))
    ).all()


def get_charge(session: LabSession, charge_id: int) -> Charge:
    charge = session.get(Charge, charge_id)
    if charge is None:
        raise NotFound("There is no such charge in this lab. Choose one from Chemistry.")
    return charge


def list_charges(session: LabSession) -> Sequence[tuple[Charge, Batch, Place]]:
    """The charges that are in trays now, with their batches and trays."""
    return session.exec(
        select(Charge, Batch, Place)
        .join(Batch, col(Batch.id) == col(Charge.batch_id))
        .join(Place, col(Place.id) == col(Charge.place_id))
        .where(col(Charge.emptied_at).is_(None))
        .order_by(col(Place.id))
    ).all()


def list_charges_of_batch(session: LabSession, batch_id: int) -> Sequence[tuple[Charge, Place]]:
    """Every charge poured from a batch, emptied ones too, in the order of pouring."""
    return session.exec(
        select(Charge, Place)
        .join(Place, col(Place.id) == col(Charge.place_id))
        .where(Charge.batch_id == batch_id)
        .order_by(col(Charge.id))
    ).all()


def state_of_charge(charge: Charge, batch: Batch, now: datetime) -> ChargeState:
    return charge_state(
        now=now, ends_at=batch.ends_at, plates=charge.plates, plates_at_most=charge.plates_at_most
    )


def find_developer_charge(session: LabSession, now: datetime) -> Charge | None:
    """The developer charge to use now: in a tray, alive, with plates left; the first to end comes first."""
    usable = [
        (batch.ends_at, charge.id, charge)
        for charge, batch, _place in list_charges(session)
        if batch.solution == Solution.DEVELOPER and state_of_charge(charge, batch, now) is ChargeState.USABLE
    ]
    return min(usable)[2] if usable else None


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each batch whose balance, ingredients or charges do not agree with its ledger."""
    sums = {
        (batch_id, kind): int(total)
        for batch_id, kind, total in session.exec(
            select(BatchEntry.batch_id, BatchEntry.kind, func.sum(BatchEntry.change_ul)).group_by(
                col(BatchEntry.batch_id), col(BatchEntry.kind)
            )
        ).all()
    }
    poured = dict(
        session.exec(select(Charge.batch_id, func.sum(Charge.volume_ul)).group_by(col(Charge.batch_id))).all()
    )
    drawn = list_mixed_by_batch(session)
    sentences = []
    for batch in list_batches(session):
        name = f"Batch {batch.number} ({batch.solution})"
        total = sum(sums.get((batch.id, kind), 0) for kind in BatchEntryKind)
        if batch.left_ul != total:
            sentences.append(f"{name} says {batch.left_ul} µL are left, its ledger adds up to {total} µL.")
        mixed = sums.get((batch.id, BatchEntryKind.MIXED), 0)
        if not batch.volume_ul == mixed == drawn.get(batch.number, 0):
            sentences.append(
                f"{name} was mixed as {batch.volume_ul} µL, its ledger says {mixed} µL, "
                f"and {drawn.get(batch.number, 0)} µL were drawn from bottles for it."
            )
        charged = -sums.get((batch.id, BatchEntryKind.CHARGED), 0)
        if charged != poured.get(batch.id, 0):
            sentences.append(
                f"{name} gave {charged} µL to charges, its charges hold {poured.get(batch.id, 0)} µL."
            )
    return sentences
