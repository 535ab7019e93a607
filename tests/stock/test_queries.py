"""What is on the shelf, what runs out, and what does not add up."""

from datetime import date
from typing import Any

import pytest
from sqlmodel import col, update

from server.data.session import LabSession
from server.stock.actions import draw_plates
from server.stock.models import Bottle, PlateBox, PlateEntryKind, Substance
from server.stock.queries import (
    count_plates_left,
    find_safelight,
    list_bottles,
    list_expiring,
    list_plate_boxes,
    list_short,
    list_unbalanced,
    list_usable_bottles,
)
from tests.casts import MORNING
from tests.stock import shelf

TODAY = date(2027, 2, 16)


def _take(session: LabSession, box: PlateBox, plates: int) -> None:
    draw_plates(session, box.id, plates=plates, kind=PlateEntryKind.TEST, by="Tomas", now=MORNING)


def test_the_first_expiring_comes_first_and_empty_boxes_last(session: LabSession) -> None:
    empty = shelf.box(session, "empty", plates=1, expires_on=date(2027, 2, 20))
    _take(session, empty, 1)
    shelf.box(session, "no date", expires_on=None)
    shelf.box(session, "june")
    shelf.box(session, "march", expires_on=date(2027, 3, 1))

    assert [box.name for box in list_plate_boxes(session)] == ["march", "june", "no date", "empty"]


def test_bottles_come_first_expiring_first_and_empty_ones_not_at_all(session: LabSession) -> None:
    later = shelf.kit(session, "later")
    sooner = shelf.kit(session, "sooner", expires_on=date(2027, 3, 1))
    past = shelf.kit(session, "past", expires_on=date(2027, 2, 15))
    shelf.kit(session, "bleach only", stock_a_ul=0, stock_b_ul=0)

    assert [bottle.kit_id for bottle in list_bottles(session, Substance.STOCK_A)] == [
        past.id,
        sooner.id,
        later.id,
    ]
    usable = list_usable_bottles(session, Substance.STOCK_A, TODAY)
    assert [kit.name for _bottle, kit in usable] == ["sooner", "later"]


def test_plates_are_counted_over_all_boxes_or_over_those_that_are_good(session: LabSession) -> None:
    shelf.box(session, "box 7", plates=30)
    shelf.box(session, "box 8", plates=9, expires_on=date(2027, 2, 15))

    assert count_plates_left(session) == 39
    assert count_plates_left(session, usable_on=TODAY) == 30
    assert count_plates_left(session, usable_on=date(2027, 2, 15)) == 39


@pytest.mark.parametrize(
    ("seen", "safelight"),
    [
        ("red blue", "green"),
        ("green blue", "red"),
        ("blue", "red"),
        ("red", "green"),
        ("red green", "blue"),
        ("red green blue", None),
    ],
)
def test_the_safelight_is_a_colour_the_plates_do_not_see(
    session: LabSession, seen: str, safelight: str | None
) -> None:
    """Common practice: green for red-sensitive plates, red for plates that see green and blue, none for every colour."""
    colours: dict[str, Any] = {
        f"sees_{colour}": colour in seen.split() for colour in ("red", "green", "blue")
    }

    assert find_safelight(shelf.box(session, **colours)) == safelight


def test_what_expires_within_thirty_days_is_listed_earliest_first(session: LabSession) -> None:
    shelf.box(session, "in 30 days", expires_on=date(2027, 3, 18))
    shelf.box(session, "in 31 days", expires_on=date(2027, 3, 19))
    shelf.box(session, "yesterday", expires_on=date(2027, 2, 15))
    shelf.kit(session, "kit 4", expires_on=TODAY, stock_b_ul=0, bleach_ul=0)
    gone = shelf.box(session, "used up", plates=2, expires_on=TODAY)
    _take(session, gone, 2)

    assert [(found.what, found.left, found.expired) for found in list_expiring(session, TODAY)] == [
        ("plate box “yesterday”", "30 plates", True),
        ("stock A of kit “kit 4”", "1 L", False),
        ("plate box “in 30 days”", "30 plates", False),
    ]


def test_plates_are_short_below_a_quarter_of_the_last_delivery(session: LabSession) -> None:
    box = shelf.box(session, plates=40)
    _take(session, box, 30)
    assert list_short(session, TODAY) == []
    _take(session, box, 1)

    (short,) = list_short(session, TODAY)
    assert (short.what, short.left, short.last_delivery) == ("plates", "9 plates", "40 plates")


def test_an_expired_bottle_leaves_its_substance_short(session: LabSession) -> None:
    shelf.kit(session, expires_on=date(2027, 2, 15), stock_b_ul=0, bleach_ul=0)

    (short,) = list_short(session, TODAY)
    assert (short.what, short.left, short.last_delivery) == ("stock A", "0 mL", "1 L")


def test_a_planted_error_in_a_box_and_in_a_bottle_is_found(session: LabSession) -> None:
    box = shelf.box(session)
    bottle = shelf.bottle(session, shelf.kit(session), Substance.STOCK_B)
    assert list_unbalanced(session) == []
    session.execute(update(PlateBox).where(col(PlateBox.id) == box.id).values(plates_left=31))
    session.execute(update(Bottle).where(col(Bottle.id) == bottle.id).values(left_ul=999_999))
    session.expire_all()

    assert list_unbalanced(session) == [
        "Plate box “box 7” says 31 plates, its ledger adds up to 30.",
        "The stock B of kit “kit 4” says 999999 µL, its ledger adds up to 1000000 µL.",
    ]
