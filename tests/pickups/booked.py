"""Pickups of the tests: Friday 19 February 2027, to be requested by Wednesday noon, and what follows it."""

from datetime import date, time

from server.data.session import LabSession
from server.pickups.actions import book_pickup, choose_containers, request_pickup
from server.pickups.models import Pickup
from tests.casts import MORNING

BERLIN = "Europe/Berlin"
WEDNESDAY = date(2027, 2, 17)
FRIDAY = date(2027, 2, 19)
NEXT_FRIDAY = date(2027, 2, 26)


def booked(session: LabSession, day: date = FRIDAY, request_day: date = WEDNESDAY) -> Pickup:
    """A pickup with its cut-off at noon."""
    return book_pickup(
        session,
        on_day=day,
        request_day=request_day,
        request_clock=time(12, 0),
        zone=BERLIN,
        by="Tomas",
        now=MORNING,
    )


def asked(session: LabSession, pickup: Pickup, *container_ids: int) -> Pickup:
    """The pickup requested for these containers."""
    choose_containers(session, pickup.id, container_ids, zone=BERLIN, by="Tomas", now=MORNING)
    return request_pickup(session, pickup.id, zone=BERLIN, by="Tomas", now=MORNING)
