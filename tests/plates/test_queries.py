"""Which plates are there, which light may burn near them, and what does not add up."""

from datetime import date, time, timedelta
from typing import Any

import pytest
from sqlmodel import col, delete, update

from server.core.plate_box import BoxEventKind
from server.data.session import LabSession
from server.plates.actions import draw_plates, log_light, open_plate_box, record_fog_test
from server.plates.models import LightIncident, PlateBox, PlateBoxEvent, PlateEntryKind
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


def _plant(session: LabSession, change: Any) -> list[str]:
    """What the audit says once a row was changed behind the actions' back."""
    assert list_unbalanced(session) == []
    session.execute(change)
    session.expire_all()
    return list_unbalanced(session)


def test_a_box_said_to_be_open_without_an_opening_is_found(session: LabSession) -> None:
    box = shelf.box(session)
    planted = update(PlateBox).where(col(PlateBox.id) == box.id).values(opened_at=MORNING)

    assert _plant(session, planted) == [
        "Plate box “box 7” is kept as open: since Tue 16 Feb 2027, 08:00; its events say not."
    ]


def _lit_box(session: LabSession) -> PlateBox:
    box = shelf.box(session)
    open_plate_box(session, box.id, by="Tomas", now=MORNING)
    log_light(session, clock=time(8, 0), light_zone_id=None, note="", by="Mira", now=MORNING)
    return box


def test_a_flag_that_was_taken_away_is_found(session: LabSession) -> None:
    box = _lit_box(session)
    planted = update(PlateBox).where(col(PlateBox.id) == box.id).values(light_at=None)

    assert _plant(session, planted) == [
        "Plate box “box 7” is kept as caught by light: not; its events say since Tue 16 Feb 2027, 08:00."
    ]


def test_a_fogged_box_made_good_without_a_test_is_found(session: LabSession) -> None:
    box = shelf.box(session)
    record_fog_test(session, box.id, plates=1, is_fogged=True, note="", by="Tomas", now=MORNING)
    planted = update(PlateBox).where(col(PlateBox.id) == box.id).values(fogged_at=None)

    assert _plant(session, planted) == [
        "Plate box “box 7” is kept as fogged: not; its events say since Tue 16 Feb 2027, 08:00."
    ]


def test_light_that_was_moved_to_another_minute_is_found(session: LabSession) -> None:
    _lit_box(session)
    planted = update(LightIncident).values(lit_at=MORNING - timedelta(minutes=1))

    assert _plant(session, planted) == [
        "Plate box “box 7” was closed at the light incident on Tue 16 Feb 2027, 07:59, but it is flagged."
    ]


def test_an_open_box_that_light_did_not_flag_is_found(session: LabSession) -> None:
    box = _lit_box(session)
    session.execute(update(PlateBox).where(col(PlateBox.id) == box.id).values(light_at=None))
    session.execute(delete(PlateBoxEvent).where(col(PlateBoxEvent.kind) == BoxEventKind.LIGHT))
    session.expire_all()

    assert list_unbalanced(session) == [
        "Plate box “box 7” was open at the light incident on Tue 16 Feb 2027, 08:00, but it is not flagged."
    ]


def test_a_fog_test_that_names_other_plates_than_the_ledger_is_found(session: LabSession) -> None:
    record_fog_test(
        session, shelf.box(session).id, plates=2, is_fogged=False, note="", by="Tomas", now=MORNING
    )
    planted = update(PlateBoxEvent).where(col(PlateBoxEvent.kind) == BoxEventKind.CLEAR).values(plates=1)

    assert _plant(session, planted) == [
        "The fog tests of plate box “box 7” name 1 plate, its ledger gave them 2."
    ]
