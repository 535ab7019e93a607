"""Pouring charges into trays, topping them up, counting plates through them, emptying them."""

from datetime import datetime

from sqlmodel import col, or_, select

from server.charges.models import SOLUTION_IN, Charge, EarlyPouring, MorePlates, PlateThrough
from server.charges.queries import (
    TrayCharge,
    find_area_until,
    find_early_pouring,
    find_size_at_hand,
    get_tray_charge,
    state_of_charge,
)
from server.chemistry.actions import draw_into_charge, hold_batch, refuse_ended
from server.chemistry.models import Batch
from server.chemistry.queries import get_usual_quantities
from server.core.moments import moment_words
from server.core.units import area_words, duration_words, volume_words
from server.core.working_solution import ChargeState, capacity_mm2, charge_state, plates_within
from server.data.session import LabSession
from server.people.queries import get_lab
from server.refusal import NotFound, Refusal
from server.stations.models import Bath, Place
from server.stations.queries import get_place


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


def _find_standing(session: LabSession, tray: Place) -> TrayCharge | None:
    """What stands in a tray that is held."""
    charge_id = session.exec(
        select(Charge.id).where(Charge.place_id == tray.id, col(Charge.emptied_at).is_(None))
    ).first()
    return None if charge_id is None else get_tray_charge(session, charge_id)


def _refuse_unfit_tray(session: LabSession, tray: Place, batch: Batch) -> None:
    if tray.bath is None or SOLUTION_IN.get(Bath(tray.bath)) != batch.solution:
        raise Refusal(f"{tray.name} is not for {batch.solution}. Choose a tray that is.")
    standing = _find_standing(session, tray)
    if standing is not None:
        raise Refusal(
            f"{tray.name} still holds a charge of {standing.batches}. Empty it first, under Waste, or top it up."
        )


def _refuse_more_than_left(batch: Batch, volume_ul: int) -> None:
    if volume_ul > batch.left_ul:
        raise Refusal(
            f"Batch {batch.number} has {volume_words(batch.left_ul)} left, not {volume_words(volume_ul)}. "
            "Pour less, or mix another batch."
        )


def _refuse_unstood(session: LabSession, batch: Batch, now: datetime) -> None:
    """A batch stands still after mixing as long as its recipe says, unless an instructor allowed to pour it sooner."""
    if now < batch.ready_at and find_early_pouring(session, batch.id) is None:
        stand_s = round((batch.ready_at - batch.mixed_at).total_seconds())
        raise Refusal(
            f"Batch {batch.number} stands still until {moment_words(batch.ready_at, get_lab(session).time_zone)}: "
            f"{duration_words(stand_s)} after mixing, so that everything is dissolved and no bubbles are left. Pour it then, "
            "or ask your instructor, who may allow it sooner."
        )


def allow_early_pouring(
    session: LabSession, batch_id: int, *, reason: str, by: str, now: datetime
) -> EarlyPouring:
    """An instructor's override: the batch may be poured before it has stood."""
    batch = hold_batch(session, batch_id)
    if now >= batch.ready_at:
        raise Refusal(f"Batch {batch.number} has stood as long as its recipe says. Pour it.")
    if find_early_pouring(session, batch_id) is not None:
        raise Refusal(f"Batch {batch.number} may be poured already. There is nothing to allow.")
    allowed = EarlyPouring(batch_id=batch_id, reason=reason, allowed_at=now, allowed_by=by)
    session.add(allowed)
    session.flush()  # the database refuses a second one for the same batch here
    return allowed


def _capacity(session: LabSession, solution: str, volume_ul: int) -> int:
    """The plate area that so much of a solution serves by the lab's usual quantities, in square millimetres."""
    usual = get_usual_quantities(session)
    return capacity_mm2(
        volume_ul=volume_ul,
        usual_charge_ul=usual.charge_ul_of(solution),
        plates_per_charge=usual.plates_per_charge,
        plate_mm2=usual.plate_mm2,
    )


def pour_charge(
    session: LabSession, *, batch_id: int, place_id: int, volume_ul: int, by: str, now: datetime
) -> Charge:
    """Pour microlitres of a batch into an empty tray made for it. The charge lives as long as its batch."""
    batch = hold_batch(session, batch_id)
    refuse_ended(session, batch, now)
    _refuse_unstood(session, batch, now)
    tray = _hold_tray(session, place_id)
    _refuse_unfit_tray(session, tray, batch)
    _refuse_more_than_left(batch, volume_ul)
    area_at_most_mm2 = _capacity(session, batch.solution, volume_ul)
    if not plates_within(area_mm2=area_at_most_mm2, plate_mm2=get_usual_quantities(session).plate_mm2):
        raise Refusal(f"{volume_words(volume_ul)} serve no plate by the lab's usual quantities. Pour more.")
    charge = Charge(
        place_id=place_id,
        solution=batch.solution,
        volume_ul=volume_ul,
        area_at_most_mm2=area_at_most_mm2,
        poured_at=now,
    )
    session.add(charge)
    session.flush()  # the batch's entry names its id
    draw_into_charge(session, batch, volume_ul=volume_ul, charge_id=charge.id, tray=tray.name, by=by, now=now)
    return charge


def _refuse_emptied(charge: Charge) -> None:
    if charge.emptied_at is not None:
        raise Refusal("This charge was emptied already. Choose one that is still in a tray.")


def _refuse_spent(session: LabSession, found: TrayCharge, now: datetime) -> None:
    """What has ended or is used up is not made good by pouring something fresh to it."""
    state = state_of_charge(found, now, plate_mm2=find_size_at_hand(session).area_mm2)
    if state in {ChargeState.PAST_ITS_LIFE, ChargeState.FAILED}:
        ended = moment_words(found.ends_at, get_lab(session).time_zone)
        raise Refusal(
            f"The charge in {found.tray.name} ended {ended} with {_part_name(found)}, and topping up doesn't restart it. "
            "Empty it, under Waste, and pour a fresh one."
        )
    if state is ChargeState.USED_UP:
        raise Refusal(
            f"The charge in {found.tray.name} is used up, and topping up doesn't restart it. "
            "Empty it, under Waste, and pour a fresh one."
        )


def _part_name(found: TrayCharge) -> str:
    return f"batch {found.first_ending.batch.number}"


def top_up_charge(
    session: LabSession,
    charge_id: int,
    *,
    batch_id: int,
    volume_ul: int,
    after_parts: int,
    by: str,
    now: datetime,
) -> Charge:
    """Pour microlitres of a batch of the same solution to what stands in the tray.

    The oldest part goes on ruling the life; the capacity grows with the volume, and what went through stays counted.
    `after_parts` is how many parts the charge had when that was decided: a button pressed twice pours once.
    """
    batch = hold_batch(session, batch_id)
    charge = _hold_charge(session, charge_id)
    _refuse_emptied(charge)
    found = get_tray_charge(session, charge_id)
    if len(found.parts) != after_parts:
        last = found.parts[-1]
        raise Refusal(
            f"{found.tray.name} was topped up meanwhile, with {volume_words(last.volume_ul)} of batch {last.batch.number}. "
            "Look at it; if you poured more than that, enter it now."
        )
    if batch.solution != charge.solution:
        raise Refusal(
            f"{found.tray.name} holds {charge.solution}, and batch {batch.number} is {batch.solution}. "
            f"Choose a batch of {charge.solution}."
        )
    refuse_ended(session, batch, now)
    _refuse_unstood(session, batch, now)
    _refuse_spent(session, found, now)
    _refuse_more_than_left(batch, volume_ul)
    # The difference of two capacities, so that parts together serve to the square millimetre what one pouring would.
    whole_ul = charge.volume_ul + volume_ul
    charge.area_at_most_mm2 += _capacity(session, charge.solution, whole_ul) - _capacity(
        session, charge.solution, charge.volume_ul
    )
    charge.volume_ul = whole_ul
    draw_into_charge(
        session, batch, volume_ul=volume_ul, charge_id=charge.id, tray=found.tray.name, by=by, now=now
    )
    return charge


def allow_more_plates(
    session: LabSession, charge_id: int, *, plates: int, reason: str, by: str, now: datetime
) -> MorePlates:
    """An instructor's override of the capacity: from now on `plates` of the size at hand, and no more, may go through.

    Its life stays what it is; that of a batch is overridden on the batch.
    """
    charge = _hold_charge(session, charge_id)
    _refuse_emptied(charge)
    found = get_tray_charge(session, charge_id)
    if now >= found.ends_at:
        raise Refusal(
            f"The charge in {found.tray.name} has ended, and more plates don't change that. Empty it, under Waste, "
            "and pour a fresh one; the end of a batch is overridden on its own page."
        )
    size = find_size_at_hand(session)
    more_mm2 = plates * size.area_mm2 - charge.room_mm2
    if more_mm2 <= 0:
        room = plates_within(area_mm2=charge.room_mm2, plate_mm2=size.area_mm2)
        raise Refusal(
            f"This charge has room for {room} more plates of {size.words} as it is. There is nothing to allow."
        )
    charge.allowed_mm2 += more_mm2
    allowed = MorePlates(
        charge_id=charge.id, plates=plates, area_mm2=more_mm2, reason=reason, allowed_at=now, allowed_by=by
    )
    session.add(allowed)
    session.flush()  # its id orders it among the others
    return allowed


def empty_charge(session: LabSession, charge_id: int, *, now: datetime) -> Charge:
    """Mark the tray as empty. Where the charge went is the caller's to enter."""
    charge = _hold_charge(session, charge_id)
    _refuse_emptied(charge)
    charge.emptied_at = now
    return charge


def put_back_charge(session: LabSession, charge_id: int) -> str:
    """Undo an emptying that was entered by mistake. What hinders it, in words, where the tray holds something else by now."""
    charge = _hold_charge(session, charge_id)
    tray = _hold_tray(session, charge.place_id)
    standing = _find_standing(session, tray)
    if standing is not None:
        return f"{tray.name} holds a charge of {standing.batches} by now"
    charge.emptied_at = None
    return ""


def _hold_bleach_beside(session: LabSession, charge: Charge, through_at: datetime) -> Charge | None:
    """The bleach that stood in the same tray line at that moment, which every plate of the line goes through next."""
    tray_line_id = get_place(session, charge.place_id).tray_line_id
    return session.exec(
        select(Charge)
        .join(Place, col(Place.id) == col(Charge.place_id))
        .where(
            col(Place.tray_line_id).is_not(None),
            Place.tray_line_id == tray_line_id,
            Place.bath == Bath.BLEACH,
            col(Charge.poured_at) <= through_at,
            or_(col(Charge.emptied_at).is_(None), col(Charge.emptied_at) > through_at),
            col(Charge.id) != charge.id,
        )
        .order_by(col(Charge.poured_at), col(Charge.id))
        .limit(1)
        .with_for_update(key_share=True, of=Charge),
        execution_options={"populate_existing": True},
    ).first()


def _count(session: LabSession, charge: Charge, plate_mm2: int, through_at: datetime, now: datetime) -> None:
    charge.plates += 1
    charge.area_mm2 += plate_mm2
    session.add(PlateThrough(charge_id=charge.id, area_mm2=plate_mm2, through_at=through_at, entered_at=now))


def count_plate_through(
    session: LabSession, charge_id: int, *, plate_mm2: int | None = None, through_at: datetime, now: datetime
) -> None:
    """Count one plate through a developer charge, and through the bleach beside it in the tray line.

    `plate_mm2` is the plate's area in square millimetres; without it the plate counts as a usual one. What the charge was like at
    `through_at` decides, because a note may come late: one that was emptied, past its life or used up by then is refused, one that has
    come to be so since is not.
    """
    charge = _hold_charge(session, charge_id)
    if charge.emptied_at is not None and charge.emptied_at <= through_at:
        _refuse_emptied(charge)
    found = get_tray_charge(session, charge_id)
    if plate_mm2 is None:
        plate_mm2 = get_usual_quantities(session).plate_mm2
    capacity = charge.area_at_most_mm2 + charge.allowed_mm2
    room_mm2 = capacity - find_area_until(session, charge_id, through_at)
    state = charge_state(now=through_at, ends_at=found.ends_at, room_mm2=room_mm2, plate_mm2=plate_mm2)
    if state is ChargeState.PAST_ITS_LIFE:
        raise Refusal(
            f"{_part_name(found).capitalize()} ended {moment_words(found.ends_at, get_lab(session).time_zone)}. "
            "Pour a charge of a fresh batch first."
        )
    if state is ChargeState.USED_UP:
        raise Refusal(
            f"This charge serves {area_words(capacity)} of plates and has had {area_words(capacity - room_mm2)}: "
            f"a plate of {area_words(plate_mm2)} is too much for it. Pour a fresh charge first."
        )
    _count(session, charge, plate_mm2, through_at, now)
    bleach = _hold_bleach_beside(session, charge, through_at)
    if bleach is not None:
        _count(session, bleach, plate_mm2, through_at, now)
