"""Kits on the shelf of a test: taken in through the actions, with figures that a test may change."""

from datetime import date
from typing import Any

from server.data.session import LabSession
from server.kits.actions import take_in_kit
from server.kits.forms import NewBottle
from server.kits.models import BLEACH, STOCK_A, STOCK_B, Bottle, Kit
from server.kits.queries import list_bottles_of_kit
from tests.casts import MORNING

ARRIVED = date(2027, 2, 1)


def kit(
    session: LabSession,
    name: str = "kit 4",
    *,
    stock_a_ul: int = 1_000_000,
    stock_b_ul: int = 1_000_000,
    bleach_ul: int = 500_000,
    **changed: Any,
) -> Kit:
    """A litre of stock A and of stock B and half a litre of bleach, good until 30 June 2027."""
    given: dict[str, Any] = {
        "arrived_on": ARRIVED,
        "expires_on": date(2027, 6, 30),
        "storage": "cool cupboard",
        "contents": [
            NewBottle(substance, volume_ul)
            for substance, volume_ul in ((STOCK_A, stock_a_ul), (STOCK_B, stock_b_ul), (BLEACH, bleach_ul))
            if volume_ul
        ],
    }
    return take_in_kit(session, name=name, **(given | changed), by="Tomas", now=MORNING)


def bottle(session: LabSession, of: Kit, substance: str) -> Bottle:
    return next(found for found in list_bottles_of_kit(session, of.id) if found.substance == substance)
