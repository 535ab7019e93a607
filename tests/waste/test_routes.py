"""The overview of waste over HTTP."""

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup

from server.data.session import LabSession
from tests.casts import MORNING
from tests.conftest import Running, Visitor
from tests.containers.bench import Bench
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def carboy_id(in_lab: InLab, bench: Bench) -> int:
    """A rinse carboy at 13.2 L of 18 L, and the day's three sections published."""
    with in_lab() as session:
        carboy = bench.rinse_carboy(session, held_ul=13_200_000)
        for name, hours in (("morning", 1), ("noon", 3), ("afternoon", 6)):
            bench.publish(session, name, MORNING + timedelta(hours=hours), plates=12)
        return carboy.id


def _book(visitor: Visitor) -> tuple[int, BeautifulSoup]:
    page = visitor.submit(
        "/waste/pickups", on_day="2027-02-19", request_day="2027-02-17", request_clock="12:00"
    )
    form = page.select_one("form[action$='/call-off']")
    assert form is not None
    found = re.search(r"/waste/pickups/([0-9]+)/", str(form["action"]))
    assert found is not None
    return int(found[1]), page


def test_an_empty_lab_is_told_how_to_begin(tomas: Visitor) -> None:
    assert "There is no stream yet" in text_of(tomas.page("/waste"))

    page = tomas.submit("/waste/streams/usual")

    assert [heading.text for heading in page.select("main section h2")][:3] == [
        "Developer",
        "Bleach",
        "Rinse",
    ]
    assert "No container" in text_of(page)


def test_the_first_screen_says_what_will_not_hold_why_and_what_to_do(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.page("/waste")
    words = text_of(page)

    assert "13.2 L of 18 L, room for 4.8 L" in words
    assert "will not hold: full during Tuesday, afternoon, Tue 16 Feb 2027, 14:00" in words
    assert "1.7 L too much" in words
    assert "Coming: 6.5 L; room in the containers that take it: 4.8 L, the rinse of 28 plates." in words
    assert "12 plates × 166.7 mL of rinse a plate = 2 L" in words
    assert "assumed until the lab sets its own" in words
    assert "No pickup is booked" in words
    assert (
        "Set out another labelled container for Rinse before Tue 16 Feb 2027, 14:00, with room for 1.7 L or more"
        in words
    )
    drawing = page.select_one(f"#gauge-{carboy_id}")
    assert drawing is not None
    assert drawing["aria-label"] == "Rinse 1: 13.2 L of 18 L, room for 4.8 L; 18 L with what is coming"


def test_a_pickup_that_nobody_requested_is_said_to_be_lost(tomas: Visitor, server: Running) -> None:
    pickup_id, _page = _book(tomas)
    server.clock.instant = MORNING + timedelta(days=2)

    assert "was not requested by its cut-off" in text_of(tomas.page("/waste"))
    assert "not counted on" in text_of(tomas.page("/waste/pickups"))
    assert "Call your waste office" in text_of(tomas.submit(f"/waste/pickups/{pickup_id}/request", 409))
    server.clock.instant = MORNING + timedelta(days=4)
    assert "was not requested" not in text_of(tomas.page("/waste"))
    assert "not requested, so nobody came" in text_of(tomas.page("/waste/pickups"))
    assert "Ask your waste office" in text_of(tomas.submit(f"/waste/pickups/{pickup_id}/call-off"))
