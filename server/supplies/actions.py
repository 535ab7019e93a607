"""Writing down classes to come, orders on their way, and how sure the lab wants to be."""

from datetime import date, datetime

from server.core.moments import day_at
from server.core.recipe import Measure
from server.core.units import mass_mg, volume_ul
from server.data.session import LabSession
from server.people.queries import get_section
from server.refusal import Refusal
from server.supplies.models import ClassesAhead, ReserveChoice, SupplyOrder
from server.supplies.queries import (
    Supply,
    find_reserve_choice,
    find_supplies,
    get_classes_ahead,
    get_order,
)

MOST_PLATES = 100_000


def write_down_classes(
    session: LabSession,
    *,
    name: str,
    section_id: int | None,
    first_day: date,
    last_day: date,
    every_days: int,
    groups: int,
    plates_per_group: int,
    other_plates: int,
    by: str,
    now: datetime,
) -> ClassesAhead:
    """Count classes that have no rotation yet."""
    if section_id is not None:
        get_section(session, section_id)
    classes = ClassesAhead(
        name=name,
        section_id=section_id,
        first_day=first_day,
        last_day=last_day,
        every_days=every_days,
        groups=groups,
        plates_per_group=plates_per_group,
        other_plates=other_plates,
        entered_at=now,
        entered_by=by,
    )
    session.add(classes)
    return classes


def strike_out_classes(session: LabSession, classes_id: int) -> None:
    """Count these classes no longer."""
    session.delete(get_classes_ahead(session, classes_id))


def _amount(supply: Supply, typed: str) -> int:
    """A number of plates, milligrams or microlitres."""
    if supply.measure is None:
        if not (typed.isascii() and typed.isdigit() and 0 < int(typed) <= MOST_PLATES):
            raise Refusal(f"Please write a whole number of plates, from 1 to {MOST_PLATES}, such as 60.")
        return int(typed)
    try:
        amount = mass_mg(typed) if supply.measure is Measure.MASS else volume_ul(typed)
    except ValueError as fault:
        raise Refusal(f"{fault}") from None
    if not amount:
        raise Refusal("Please write more than nothing, such as 500 mL or 250 g.")
    return amount


def record_order(
    session: LabSession, *, what: str, amount: str, expected_on: date, by: str, zone: str, now: datetime
) -> SupplyOrder:
    """Say that something is on its way, so that it counts from the day after it is expected. `amount` is as typed: 60, 250 g, 0.5 L."""
    supply = next((one for one in find_supplies(session, now, zone).all if one.what == what), None)
    if supply is None:
        raise Refusal(
            f"Nothing here is called “{what}”. Choose plates, or something that the usual recipes take."
        )
    if expected_on < day_at(now, zone):
        raise Refusal(
            "That day is over. If the delivery has come, take it in under Stock; otherwise write the day on which it will come."
        )
    order = SupplyOrder(
        what=what, amount=_amount(supply, amount), expected_on=expected_on, ordered_at=now, ordered_by=by
    )
    session.add(order)
    return order


def close_order(session: LabSession, order_id: int, *, now: datetime) -> None:
    """Count the order no longer: it has come and was taken in, or it is not coming. Saying it again changes nothing."""
    order = get_order(session, order_id)
    order.closed_at = order.closed_at or now


def choose_reserve(session: LabSession, *, percent: int) -> None:
    """Say how sure the lab wants to be that its plates last."""
    choice = find_reserve_choice(session)
    if choice is None:
        session.add(ReserveChoice(percent=percent))
    else:
        choice.percent = percent
