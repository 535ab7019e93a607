"""Plate boxes on the shelf of a test: taken in through the actions, with figures that a test may change."""

from datetime import date
from typing import Any

from server.data.session import LabSession
from server.plates.actions import take_in_plate_box
from server.plates.models import PlateBox
from tests.casts import MORNING

ARRIVED = date(2027, 2, 1)


def box(session: LabSession, name: str = "box 7", **changed: Any) -> PlateBox:
    """Thirty red-sensitive plates of 63 mm, good until 30 June 2027."""
    given: dict[str, Any] = {
        "plates": 30,
        "width_um": 63_000,
        "height_um": 63_000,
        "dose_uj_per_cm2": 600,
        "sees_red": True,
        "sees_green": False,
        "sees_blue": True,
        "arrived_on": ARRIVED,
        "expires_on": date(2027, 6, 30),
        "warm_up_s": 3600,
    }
    return take_in_plate_box(session, name=name, **(given | changed), by="Tomas", now=MORNING)
