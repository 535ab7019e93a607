"""Reads of what stands in the trays."""

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import col, func, select

from server.charges.models import Charge
from server.chemistry.models import Batch, BatchEntry, BatchEntryKind
from server.chemistry.queries import list_batches
from server.core.working_solution import ChargeState, charge_state
from server.data.session import LabSession
from server.recipes.models import Solution
from server.refusal import NotFound
from server.stations.models import Place


def get_charge(session: LabSession, charge_id: int) -> Charge:
    charge = session.get(Charge, charge_id)
    if charge is None:
        raise NotFound("There is no such charge in this lab. Choose one from Trays.")
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


def list_emptied(session: LabSession, most: int) -> Sequence[tuple[Charge, Batch, Place]]:
    """The charges that were emptied last, at most so many, the latest first."""
    return session.exec(
        select(Charge, Batch, Place)
        .join(Batch, col(Batch.id) == col(Charge.batch_id))
        .join(Place, col(Place.id) == col(Charge.place_id))
        .where(col(Charge.emptied_at).is_not(None))
        .order_by(col(Charge.emptied_at).desc(), col(Charge.id).desc())
        .limit(most)
    ).all()


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each batch that gave its charges another volume than they hold."""
    drawn = {
        batch_id: -int(total)
        for batch_id, total in session.exec(
            select(BatchEntry.batch_id, func.sum(BatchEntry.change_ul))
            .where(BatchEntry.kind == BatchEntryKind.CHARGED)
            .group_by(col(BatchEntry.batch_id))
        ).all()
    }
    poured = dict(
        session.exec(select(Charge.batch_id, func.sum(Charge.volume_ul)).group_by(col(Charge.batch_id))).all()
    )
    return [
        f"Batch {batch.number} ({batch.solution}) gave {drawn.get(batch.id, 0)} µL to charges, "
        f"its charges hold {poured.get(batch.id, 0)} µL."
        for batch in list_batches(session)
        if drawn.get(batch.id, 0) != poured.get(batch.id, 0)
    ]
