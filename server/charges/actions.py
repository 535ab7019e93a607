"""Pouring charges into trays, counting plates through them, emptying them."""

from datetime import datetime

from sqlmodel import col, select

from server.charges.models import Charge
from server.charges.queries import state_of_charge
from server.chemistry.actions import draw_into_charge, hold_batch, refuse_ended
from server.chemistry.models import Batch
from server.chemistry.queries import get_batch, get_usual_quantities
from server.core.moments import moment_words
from server.core.units import volume_words
from server.core.working_solution import ChargeState, plates_of_charge
from server.data.session import LabSession
from server.people.queries import get_lab
from server.recipes.models import Solution
from server.refusal import NotFound, Refusal
from server.stations.models import Bath, Place
from server.stations.queries import get_place

_SOLUTION_IN = {Bath.DEVELOPER: Solution.DEVELOPER, Bath.BLEACH: Solution.BLEACH}


def _hold_charge(session: LabSession, charge_id: int) -> Charge:
    """The charge as it is now, kept from others until the transaction ends."""
    charge = session.hold(Charge, charge_id)
    if charge is None:
        raise NotFound("There is no such charge in this lab. Choose one from Trays.")
    return charge


def _hold_tray(session: LabSession, place_id: int) -> Place:
    """The tray, kept from others until the transaction ends: two batches must not be poured into it at once."""
    tray = get_place(session, place_id)
    session.exec(select(Place.id).where(Place.id == place_id).with_for_update(key_share=True)).one()
    return tray


def _refuse_unfit_tray(session: LabSession, tray: Place, batch: Batch) -> None:
    if tray.bath is None or _SOLUTION_IN.get(Bath(tray.bath)) != batch.solution:
        raise Refusal(f"{tray.name} is not for {batch.solution}. Choose a tray that is.")
    standing = session.exec(
        select(Batch.number)
        .join(Charge, col(Charge.batch_id) == col(Batch.id))
        .where(Charge.place_id == tray.id, col(Charge.emptied_at).is_(None))
    ).first()
    if standing is not None:
        raise Refusal(f"{tray.name} still holds a charge of batch {standing}. Empty it first, under Waste.")


def pour_charge(
    session: LabSession, *, batch_id: int, place_id: int, volume_ul: int, by: str, now: datetime
) -> Charge:
    """Pour microlitres of a batch into an empty tray made for it. The charge lives as long as its batch."""
    batch = hold_batch(session, batch_id)
    refuse_ended(session, batch, now)
    tray = _hold_tray(session, place_id)
    _refuse_unfit_tray(session, tray, batch)
    if volume_ul > batch.left_ul:
        raise Refusal(
            f"Batch {batch.number} has {volume_words(batch.left_ul)} left, not {volume_words(volume_ul)}. "
            "Pour less, or mix another batch."
        )
    usual = get_usual_quantities(session)
    plates_at_most = plates_of_charge(
        volume_ul=volume_ul,
        usual_charge_ul=usual.developer_charge_ul
        if batch.solution == Solution.DEVELOPER
        else usual.bleach_charge_ul,
        plates_per_charge=usual.plates_per_charge,
    )
    if plates_at_most < 1:
        raise Refusal(f"{volume_words(volume_ul)} serve no plate by the lab's usual quantities. Pour more.")
    charge = Charge(
        batch_id=batch.id,
        place_id=place_id,
        volume_ul=volume_ul,
        plates_at_most=plates_at_most,
        poured_at=now,
    )
    session.add(charge)
    session.flush()  # the batch's entry names its id
    draw_into_charge(session, batch, volume_ul=volume_ul, charge_id=charge.id, tray=tray.name, by=by, now=now)
    return charge


def empty_charge(session: LabSession, charge_id: int, *, now: datetime) -> Charge:
    """Mark the tray as empty. Where the charge went is the caller's to enter."""
    charge = _hold_charge(session, charge_id)
    if charge.emptied_at is not None:
        raise Refusal("This charge was emptied already. Choose one that is still in a tray.")
    charge.emptied_at = now
    return charge


def _hold_bleach_beside(session: LabSession, charge: Charge) -> Charge | None:
    """The bleach that stands in the same tray line, which every plate of the line goes through next."""
    tray_line_id = get_place(session, charge.place_id).tray_line_id
    return session.exec(
        select(Charge)
        .join(Place, col(Place.id) == col(Charge.place_id))
        .where(
            col(Place.tray_line_id).is_not(None),
            Place.tray_line_id == tray_line_id,
            Place.bath == Bath.BLEACH,
            col(Charge.emptied_at).is_(None),
            col(Charge.id) != charge.id,
        )
        .with_for_update(key_share=True, of=Charge),
        execution_options={"populate_existing": True},
    ).first()


def count_plate_through(session: LabSession, charge_id: int, *, now: datetime) -> None:
    """Count one plate through a developer charge, and through the bleach beside it in the tray line.

    `now` is when the plate was in it. A charge that was emptied by then, past its life or used up is refused; one that was
    emptied since is not, because a note may come late.
    """
    charge = _hold_charge(session, charge_id)
    batch = get_batch(session, charge.batch_id)
    if charge.emptied_at is not None and charge.emptied_at <= now:
        raise Refusal("This charge was emptied already. Choose one that is still in a tray.")
    state = state_of_charge(charge, batch, now)
    if state is ChargeState.PAST_ITS_LIFE:
        raise Refusal(
            f"Batch {batch.number} ended {moment_words(batch.ends_at, get_lab(session).time_zone)}. "
            "Pour a charge of a fresh batch first."
        )
    if state is ChargeState.USED_UP:
        raise Refusal(f"This charge has had its {charge.plates_at_most} plates. Pour a fresh charge first.")
    charge.plates += 1
    bleach = _hold_bleach_beside(session, charge)
    if bleach is not None:
        bleach.plates += 1
