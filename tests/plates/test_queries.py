"""Which plates are there, which light may burn near them, and what does not add up."""

from datetime import date
from typing import Any

import pytest
from sqlmodel import col, update

from server.data.session import LabSession
from server.plates.actions import draw_plates
from server.plates.models import PlateBox, PlateEntryKind
from server.plates.queries import count_plates_left, find_safelight, list_plate_boxes, list_unbalanced
from tests.casts import MORNING
from tests.plates import shelf

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


def test_a_planted_error_in_a_box_is_found(session: LabSession) -> None:
    box = shelf.box(session)
    assert list_unbalanced(session) == []
    session.execute(update(PlateBox).where(col(PlateBox.id) == box.id).values(plates_left=31))
    session.expire_all()

    assert list_unbalanced(session) == ["Plate box “box 7” says 31 plates, its ledger adds up to 30."]
