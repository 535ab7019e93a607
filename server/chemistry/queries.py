"""Reads of batches and the lab's usual quantities."""

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import col, func, select

from server.chemistry.models import Batch, BatchEntry, BatchEntryKind, UsualQuantities
from server.data.session import LabSession
from server.kits.queries import list_mixed_by_batch
from server.refusal import NotFound


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


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each batch whose balance or ingredients do not agree with its ledger."""
    sums = {
        (batch_id, kind): int(total)
        for batch_id, kind, total in session.exec(
            select(BatchEntry.batch_id, BatchEntry.kind, func.sum(BatchEntry.change_ul)).group_by(
                col(BatchEntry.batch_id), col(BatchEntry.kind)
            )
        ).all()
    }
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
    return sentences
