"""Pickups over HTTP."""

import re
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup

from server.containers.queries import list_unbalanced
from server.data.session import LabSession
from tests.casts import MORNING
from tests.conftest import Visitor
from tests.containers.bench import LITRE, Bench
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


def test_a_pickup_is_booked_requested_and_handed_over_to(
    tomas: Visitor, carboy_id: int, in_lab: InLab, bench: Bench
) -> None:
    with in_lab() as session:
        bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    pickup_id, page = _book(tomas)
    assert "13.2 L" in text_of(page)
    assert "14.2 L" in text_of(page)
    assert "never its size" in text_of(page)
    assert "if that pickup is requested by Wed 17 Feb 2027, 12:00" in text_of(tomas.page("/waste"))

    tomas.submit(f"/waste/pickups/{pickup_id}/request")
    assert "Next pickup: Fri 19 Feb 2027, requested." in text_of(tomas.page("/waste"))
    page = tomas.submit(f"/waste/pickups/{pickup_id}/hand-over", 422, collected_by="Waste office")
    assert "Please tick at least one container." in text_of(page)
    assert page.select_one("#collected_by")["value"] == "Waste office"  # type: ignore[index]

    page = tomas.submit(
        f"/waste/pickups/{pickup_id}/hand-over", container_ids=[carboy_id], collected_by="Waste office"
    )
    assert "handed over to Waste office" in text_of(page)
    assert "Rinse 2" not in text_of(page)
    assert "13.2 L" in text_of(page)
    page = tomas.submit(f"/waste/pickups/{pickup_id}/hand-over", 409, container_ids=[carboy_id])
    assert "was handed over already" in text_of(page)
    assert "Rinse 2" in text_of(tomas.page("/waste"))
    assert "collected" in text_of(tomas.page(f"/waste/containers/{carboy_id}"))


def test_a_pickup_with_an_unreadable_day_is_shown_again(tomas: Visitor) -> None:
    page = tomas.submit("/waste/pickups", 422, on_day="soon", request_day="2027-02-17", request_clock="noon")

    assert page.select_one("#on_day")["value"] == "soon"  # type: ignore[index]
    assert page.select_one("#request_clock")["value"] == "noon"  # type: ignore[index]
    assert "Please write a date such as 2027-02-16." in text_of(page)


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("on_day", "9999-12-31", "between the years 2000 and 2199"),
        ("request_day", "0001-01-01", "between the years 2000 and 2199"),
        ("on_day", "0", "a date such as 2027-02-16"),
        ("request_clock", "930 s", "a time such as 09:40"),
    ],
)
def test_a_pickup_at_the_end_of_the_calendar_is_shown_again(
    tomas: Visitor, field: str, typed: str, sentence: str
) -> None:
    """The day after the last day of the calendar can't be counted, and the forecast counts it."""
    fields = {"on_day": "2027-02-19", "request_day": "2027-02-17", "request_clock": "12:00", field: typed}

    assert sentence in text_of(tomas.submit("/waste/pickups", 422, **fields))
    tomas.page("/waste")


def test_a_cut_off_typed_without_a_colon_is_that_time(tomas: Visitor) -> None:
    page = tomas.submit("/waste/pickups", on_day="2027-02-19", request_day="2027-02-17", request_clock="0930")

    assert "Wed 17 Feb 2027, 09:30" in text_of(page)


def test_twenty_hand_overs_at_once_collect_once(tomas: Visitor, carboy_id: int, in_lab: InLab) -> None:
    pickup_id, _page = _book(tomas)
    ready = threading.Barrier(20)

    def _hand_over(_number: int) -> int:
        ready.wait(timeout=30)
        data = {"container_ids": [carboy_id]}
        return tomas.post(f"/waste/pickups/{pickup_id}/hand-over", data=data).status_code

    with ThreadPoolExecutor(20) as pool:
        answers = list(pool.map(_hand_over, range(20)))

    assert sorted(answers) == [200, *[409] * 19]
    with in_lab() as session:
        assert list_unbalanced(session) == []
