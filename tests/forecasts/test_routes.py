"""The forecast of waste over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest

from server.data.session import LabSession
from tests.casts import MORNING
from tests.conftest import Visitor
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


def test_an_empty_lab_is_sent_to_set_up_its_streams(tomas: Visitor) -> None:
    assert "There is no stream yet" in text_of(tomas.page("/waste/forecast"))


def test_the_page_says_when_it_does_not_hold_what_to_do_and_why(tomas: Visitor, carboy_id: int) -> None:
    tomas.submit("/waste/pickups", on_day="2027-02-19", request_day="2027-02-17", request_clock="12:00")
    page = tomas.page("/waste/forecast")
    words = text_of(page)

    assert "19.7 L" in words
    assert "no room for 1.7 L of “Rinse”: Tuesday, afternoon, 14:00" in words
    assert "Set out another labelled container for Rinse before Tue 16 Feb 2027, 14:00" in words
    assert "Rinse in still baths of 1 L, changed after 10 plates" in words
    assert "12 plates × 166.7 mL of rinse a plate = 2 L" in words
    assert "assumed until the lab sets its own" in words
    assert "1: request it by Wed 17 Feb 2027, 12:00" in words
    drawings = page.select("svg[role=img]")
    assert len(drawings) == len(page.select("main table.forecast")) == 3
    assert len({str(title["id"]) for title in page.select("svg title")}) == 3
    assert carboy_id


def test_the_overview_and_today_lead_to_it(tomas: Visitor, carboy_id: int) -> None:
    assert tomas.page("/waste").select_one("a[href='/waste/forecast']") is not None
    assert tomas.page("/").select_one("a[href='/waste/forecast']") is not None
    assert carboy_id
