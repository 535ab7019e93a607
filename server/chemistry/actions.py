"""Mixing batches, pouring charges, counting plates through them."""

from datetime import datetime, timedelta

from sqlmodel import col, func, select

from server.chemistry.models import Batch, BatchEntry, BatchEntryKind, Charge, Solution, UsualQuantities
from server.chemistry.queries import get_batch, get_usual_quantities, state_of_charge
from server.core.moments import moment_words
from server.core.units import volume_words
from server.core.working_solution import ChargeState, end_of_life, equal_parts, plates_of_charge
from server.data.session import LabSession
from server.people.models import Lab
from server.people.queries import get_lab
from server.refusal import NotFound, Refusal
from server.stations.models import Bath, Place
from server.stations.queries import get_place
from server.stock.actions import draw_from_bottle
from server.stock.models import Substance
from server.stock.queries import get_bottle, list_entries_into_batch

LONGEST_AGO = timedelta(hours=24)
_SOLUTION_IN = {Bath.DEVELOPER: Solution.DEVELOPER, Bath.BLEACH: Solution.BLEACH}


def _moment(session: LabSession, instant: datetime) -> str:
    return moment_words(instant, get_lab(session).time_zone)


def _next_number(session: LabSession) -> int:
    """The lab's row is kept from others until the transaction ends: two mixings at once must not get one number."""
    session.exec(select(Lab.id).where(Lab.id == session.lab_id).with_for_update(key_share=True)).one()
    return (session.exec(select(func.max(Batch.number))).one() or 0) + 1


def _hold_batch(session: LabSession, batch_id: int) -> Batch:
    """The batch as it is now, kept from others until the transaction ends."""
    batch = session.hold(Batch, batch_id)
    if batch is None:
        raise NotFound("There is no such batch in this lab. Choose one from Chemistry.")
    return batch


def _hold_charge(session: LabSession, charge_id: int) -> Charge:
    """The charge as it is now, kept from others until the transaction ends."""
    charge = session.hold(Charge, charge_id)
    if charge is None:
        raise NotFound("There is no such charge in this lab. Choose one from Chemistry.")
    return charge


def _refuse_other_substance(session: LabSession, bottle_id: int, wanted: Substance) -> None:
    held = get_bottle(session, bottle_id).substance
    if held != wanted:
        raise Refusal(f"This bottle holds {held}, not {wanted}. Choose a bottle of {wanted}.")


def _refuse_odd_time(session: LabSession, mixed_at: datetime, now: datetime) -> None:
    if mixed_at > now:
        raise Refusal(
            f"{_moment(session, mixed_at)} is still to come. Write the time at which it was mixed, now or earlier."
        )
    if now - mixed_at > LONGEST_AGO:
        raise Refusal(
            f"{_moment(session, mixed_at)} is more than 24 hours ago. A batch is entered on the day it is mixed."
        )


def _enter(
    session: LabSession,
    batch: Batch,
    kind: BatchEntryKind,
    change_ul: int,
    *,
    by: str,
    now: datetime,
    charge_id: int | None = None,
    note: str = "",
) -> None:
    batch.left_ul += change_ul
    session.add(
        BatchEntry(
            batch_id=batch.id,
            kind=kind,
            change_ul=change_ul,
            charge_id=charge_id,
            note=note,
            entered_at=now,
            entered_by=by,
        )
    )
    session.flush()  # the database refuses a balance below nothing here, not at the end


def _refuse_twice(
    session: LabSession, solution: Solution, drawn: list[tuple[int, int]], mixed_at: datetime
) -> None:
    """A button that was pressed twice must not empty the bottles twice; times are typed to the minute."""
    for number in session.exec(
        select(Batch.number).where(Batch.solution == solution, Batch.mixed_at == mixed_at)
    ).all():
        entries = list_entries_into_batch(session, number)
        if [(bottle.id, -entry.change_ul) for entry, bottle, _kit in entries] == drawn:
            raise Refusal(
                f"Batch {number} is entered with the same bottles, volume and time. Look at it; "
                "if you mixed one more like it, write a time of its own."
            )


def _mix(
    session: LabSession,
    *,
    solution: Solution,
    drawn: list[tuple[int, int]],
    mixed_at: datetime,
    life_s: int,
    by: str,
    now: datetime,
) -> Batch:
    """Draw each (bottle id, microlitres) and enter the batch they make together."""
    _refuse_odd_time(session, mixed_at, now)
    number = _next_number(session)
    _refuse_twice(session, solution, drawn, mixed_at)
    for bottle_id, volume_ul in drawn:
        draw_from_bottle(session, bottle_id, volume_ul=volume_ul, batch_number=number, by=by, now=now)
    volume_ul = sum(part_ul for _bottle, part_ul in drawn)
    batch = Batch(
        number=number,
        solution=solution,
        volume_ul=volume_ul,
        left_ul=0,
        mixed_at=mixed_at,
        ends_at=end_of_life(mixed_at=mixed_at, life_s=life_s),
        mixed_by=by,
    )
    session.add(batch)
    session.flush()  # its entries name its id
    _enter(session, batch, BatchEntryKind.MIXED, volume_ul, by=by, now=now)
    return batch


def mix_developer(
    session: LabSession,
    *,
    bottle_a_id: int,
    bottle_b_id: int,
    volume_ul: int,
    mixed_at: datetime,
    by: str,
    now: datetime,
) -> Batch:
    """Working developer from stock A and stock B in equal parts. Its life begins when they meet."""
    _refuse_other_substance(session, bottle_a_id, Substance.STOCK_A)
    _refuse_other_substance(session, bottle_b_id, Substance.STOCK_B)
    parts = equal_parts(volume_ul=volume_ul)
    return _mix(
        session,
        solution=Solution.DEVELOPER,
        drawn=[(bottle_a_id, parts.stock_a_ul), (bottle_b_id, parts.stock_b_ul)],
        mixed_at=mixed_at,
        life_s=get_usual_quantities(session).developer_life_s,
        by=by,
        now=now,
    )


def mix_bleach(
    session: LabSession, *, bottle_id: int, volume_ul: int, mixed_at: datetime, by: str, now: datetime
) -> Batch:
    """Bleach made ready from its bottle, as it is."""
    _refuse_other_substance(session, bottle_id, Substance.BLEACH)
    return _mix(
        session,
        solution=Solution.BLEACH,
        drawn=[(bottle_id, volume_ul)],
        mixed_at=mixed_at,
        life_s=get_usual_quantities(session).bleach_life_s,
        by=by,
        now=now,
    )


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
    batch = _hold_batch(session, batch_id)
    if now >= batch.ends_at:
        raise Refusal(
            f"Batch {batch.number} ended {_moment(session, batch.ends_at)}. Discard its rest and mix a new one."
        )
    _refuse_unfit_tray(session, _hold_tray(session, place_id), batch)
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
    _enter(session, batch, BatchEntryKind.CHARGED, -volume_ul, by=by, now=now, charge_id=charge.id)
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
            f"Batch {batch.number} ended {_moment(session, batch.ends_at)}. Pour a charge of a fresh batch first."
        )
    if state is ChargeState.USED_UP:
        raise Refusal(f"This charge has had its {charge.plates_at_most} plates. Pour a fresh charge first.")
    charge.plates += 1
    bleach = _hold_bleach_beside(session, charge)
    if bleach is not None:
        bleach.plates += 1


def discard_batch(session: LabSession, batch_id: int, *, by: str, now: datetime, note: str = "") -> None:
    """Write off what is left of a batch. The pour into a waste container is entered under Waste."""
    batch = _hold_batch(session, batch_id)
    if batch.left_ul == 0:
        raise Refusal(f"Nothing is left of batch {batch.number}. There is nothing to discard.")
    _enter(session, batch, BatchEntryKind.DISCARDED, -batch.left_ul, by=by, now=now, note=note)


def correct_batch(
    session: LabSession, batch_id: int, *, measured_ul: int, reason: str, by: str, now: datetime
) -> None:
    """Set what is left to what was measured, by an entry of the difference that carries its reason."""
    batch = _hold_batch(session, batch_id)
    if measured_ul == batch.left_ul:
        raise Refusal(f"The ledger already says {volume_words(measured_ul)}. There is nothing to correct.")
    _enter(
        session, batch, BatchEntryKind.CORRECTION, measured_ul - batch.left_ul, by=by, now=now, note=reason
    )


def set_usual_quantities(
    session: LabSession,
    *,
    developer_life_s: int,
    bleach_life_s: int,
    developer_charge_ul: int,
    bleach_charge_ul: int,
    plates_per_charge: int,
    rinse_ul_per_plate: int,
    test_plates_per_station: int,
) -> UsualQuantities:
    """Set the lab's own figures. Batches and charges that exist keep what they were made with."""
    usual = get_usual_quantities(session)
    usual.developer_life_s, usual.bleach_life_s = developer_life_s, bleach_life_s
    usual.developer_charge_ul, usual.bleach_charge_ul = developer_charge_ul, bleach_charge_ul
    usual.plates_per_charge, usual.rinse_ul_per_plate = plates_per_charge, rinse_ul_per_plate
    usual.test_plates_per_station = test_plates_per_station
    usual.assumed = False
    session.add(usual)
    session.flush()  # a second transaction at once meets the one row per lab here
    return usual
