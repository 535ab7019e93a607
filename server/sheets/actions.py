"""Saying what papers need: the lab's particulars, and what is in each container of a sheet."""

from datetime import datetime

from sqlmodel import select

from server.core.sheet_quantity import NoQuantity
from server.data.session import LabSession
from server.pickups.actions import refuse_over
from server.pickups.models import PickupLine
from server.pickups.queries import get_listed, lock_pickup
from server.refusal import Refusal
from server.sheets.models import Particulars


def set_particulars(
    session: LabSession,
    *,
    generator: str,
    address: str,
    room: str,
    phone: str,
    emergency_phone: str,
    site_number: str,
    contact: str,
    waste_office: str,
) -> Particulars:
    """Keep what papers say of the lab; an empty text leaves a blank on the paper."""
    kept = session.exec(select(Particulars)).first() or Particulars()
    kept.generator, kept.address, kept.room, kept.phone = generator, address, room, phone
    kept.emergency_phone, kept.site_number = emergency_phone, site_number
    kept.contact, kept.waste_office = contact, waste_office
    session.add(kept)
    return kept


def tell_of_container(
    session: LabSession,
    pickup_id: int,
    container_id: int,
    *,
    vessel: str,
    contents: str,
    composition: str,
    physical_state: str,
    ph_hundredths: int | None,
    temperature_decicelsius: int | None,
    read_ul: int | None,
    gross_mg: int | None,
    tare_mg: int | None,
    handling: str,
    by: str,
    now: datetime,
) -> PickupLine:
    """Write on a sheet what a container holds. A quantity that can't be is refused, above all a capacity."""
    refuse_over(lock_pickup(session, pickup_id))
    listed = get_listed(session, pickup_id, container_id)
    quantity = listed.measured(read_ul=read_ul, gross_mg=gross_mg, tare_mg=tare_mg)
    if isinstance(quantity, NoQuantity):
        raise Refusal(quantity.reason)
    line = listed.line
    line.vessel, line.contents, line.composition = vessel, contents, composition
    line.physical_state, line.handling = physical_state, handling
    line.ph_hundredths, line.temperature_decicelsius = ph_hundredths, temperature_decicelsius
    line.read_ul, line.gross_mg, line.tare_mg = read_ul, gross_mg, tare_mg
    line.described_at, line.described_by = now, by
    return line
