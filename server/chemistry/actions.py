"""Mixing batches, drawing from them, and what becomes of their rest."""

from datetime import datetime, timedelta

from sqlmodel import func, select

from server.chemistry.models import Batch, BatchEntry, BatchEntryKind, UsualQuantities
from server.chemistry.queries import get_usual_quantities
from server.core.moments import moment_words
from server.core.units import volume_words
from server.core.working_solution import end_of_life, equal_parts
from server.data.session import LabSession
from server.kits.actions import draw_from_bottle
from server.kits.models import BLEACH, STOCK_A, STOCK_B
from server.kits.queries import get_bottle, list_entries_into_batch
from server.people.models import Lab
from server.people.queries import get_lab
from server.recipes.models import Solution
from server.refusal import NotFound, Refusal

LONGEST_AGO = timedelta(hours=24)


def _moment(session: LabSession, instant: datetime) -> str:
    return moment_words(instant, get_lab(session).time_zone)


def _next_number(session: LabSession) -> int:
    """The lab's row is kept from others until the transaction ends: two mixings at once must not get one number."""
    session.exec(select(Lab.id).where(Lab.id == session.lab_id).with_for_update(key_share=True)).one()
    return (session.exec(select(func.max(Batch.number))).one() or 0) + 1


def hold_batch(session: LabSession, batch_id: int) -> Batch:
    """The batch as it is now, kept from others until the transaction ends."""
    batch = session.hold(Batch, batch_id)
    if batch is None:
        raise NotFound("There is no such batch in this lab. Choose one from Chemistry.")
    return batch


def _refuse_other_substance(session: LabSession, bottle_id: int, wanted: str) -> None:
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
        if [(bottle.id, -entry.change) for entry, bottle, _kit in entries] == drawn:
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
        draw_from_bottle(session, bottle_id, amount=volume_ul, batch_number=number, by=by, now=now)
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
    _refuse_other_substance(session, bottle_a_id, STOCK_A)
    _refuse_other_substance(session, bottle_b_id, STOCK_B)
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
    _refuse_other_substance(session, bottle_id, BLEACH)
    return _mix(
        session,
        solution=Solution.BLEACH,
        drawn=[(bottle_id, volume_ul)],
        mixed_at=mixed_at,
        life_s=get_usual_quantities(session).bleach_life_s,
        by=by,
        now=now,
    )


def refuse_ended(session: LabSession, batch: Batch, now: datetime) -> None:
    """Nothing is made with what is past its life."""
    if now >= batch.ends_at:
        raise Refusal(
            f"Batch {batch.number} ended {_moment(session, batch.ends_at)}. Discard its rest and mix a new one."
        )


def draw_into_charge(
    session: LabSession, batch: Batch, *, volume_ul: int, charge_id: int, tray: str, by: str, now: datetime
) -> None:
    """Draw microlitres of a held batch into the charge of a tray."""
    _enter(
        session,
        batch,
        BatchEntryKind.CHARGED,
        -volume_ul,
        by=by,
        now=now,
        charge_id=charge_id,
        note=f"into {tray}",
    )


def discard_batch(session: LabSession, batch_id: int, *, by: str, now: datetime, note: str = "") -> None:
    """Write off what is left of a batch. The pour into a waste container is entered under Waste."""
    batch = hold_batch(session, batch_id)
    if batch.left_ul == 0:
        raise Refusal(f"Nothing is left of batch {batch.number}. There is nothing to discard.")
    _enter(session, batch, BatchEntryKind.DISCARDED, -batch.left_ul, by=by, now=now, note=note)


def correct_batch(
    session: LabSession, batch_id: int, *, measured_ul: int, reason: str, by: str, now: datetime
) -> None:
    """Set what is left to what was measured, by an entry of the difference that carries its reason."""
    batch = hold_batch(session, batch_id)
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
    plate_width_um: int,
    plate_height_um: int,
    rinse_ul_per_plate: int,
    test_plates_per_station: int,
) -> UsualQuantities:
    """Set the lab's own figures. Batches and charges that exist keep what they were made with."""
    usual = get_usual_quantities(session)
    usual.developer_life_s, usual.bleach_life_s = developer_life_s, bleach_life_s
    usual.developer_charge_ul, usual.bleach_charge_ul = developer_charge_ul, bleach_charge_ul
    usual.plates_per_charge, usual.rinse_ul_per_plate = plates_per_charge, rinse_ul_per_plate
    usual.plate_width_um, usual.plate_height_um = plate_width_um, plate_height_um
    usual.test_plates_per_station = test_plates_per_station
    usual.assumed = False
    session.add(usual)
    session.flush()  # a second transaction at once meets the one row per lab here
    return usual
