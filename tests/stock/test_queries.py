"""What on the shelf runs out."""

from datetime import date

from server.data.session import LabSession
from server.plates.actions import draw_plates
from server.plates.models import PlateBox, PlateEntryKind
from server.stock.queries import list_expiring, list_short
from tests.casts import MORNING
from tests.kits.shelf import kit
from tests.plates.shelf import box

TODAY = date(2027, 2, 16)


def _take(session: LabSession, full: PlateBox, plates: int) -> None:
    draw_plates(session, full.id, plates=plates, kind=PlateEntryKind.TEST, by="Tomas", now=MORNING)


def test_what_expires_within_thirty_days_is_listed_earliest_first(session: LabSession) -> None:
    box(session, "in 30 days", expires_on=date(2027, 3, 18))
    box(session, "in 31 days", expires_on=date(2027, 3, 19))
    box(session, "yesterday", expires_on=date(2027, 2, 15))
    kit(session, "kit 4", expires_on=TODAY, stock_b_ul=0, bleach_ul=0)
    gone = box(session, "used up", plates=2, expires_on=TODAY)
    _take(session, gone, 2)

    assert [(found.what, found.left, found.expired) for found in list_expiring(session, TODAY)] == [
        ("plate box “yesterday”", "30 plates", True),
        ("stock A of kit “kit 4”", "1 L", False),
        ("plate box “in 30 days”", "30 plates", False),
    ]


def test_plates_are_short_below_a_quarter_of_the_last_delivery(session: LabSession) -> None:
    full = box(session, plates=40)
    _take(session, full, 30)
    assert list_short(session, TODAY) == []
    _take(session, full, 1)

    (short,) = list_short(session, TODAY)
    assert (short.what, short.left, short.last_delivery) == ("plates", "9 plates", "40 plates")


def test_an_expired_bottle_leaves_its_substance_short(session: LabSession) -> None:
    kit(session, expires_on=date(2027, 2, 15), stock_b_ul=0, bleach_ul=0)

    (short,) = list_short(session, TODAY)
    assert (short.what, short.left, short.last_delivery) == ("stock A", "0 mL", "1 L")
