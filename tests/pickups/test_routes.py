"""Pickups over HTTP."""

import re
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup

from server.data.session import LabSession
from server.pickups.queries import list_listed
from tests.casts import MORNING
from tests.conftest import Running, Visitor
from tests.containers.bench import LITRE, Bench
from tests.pickups.booked import NEXT_FRIDAY, booked
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def carboy_id(in_lab: InLab, bench: Bench) -> int:
    """A rinse carboy at 13.2 L of 18 L."""
    with in_lab() as session:
        return bench.rinse_carboy(session, held_ul=13_200_000).id


def _book(visitor: Visitor) -> tuple[int, BeautifulSoup]:
    page = visitor.submit(
        "/waste/pickups", on_day="2027-02-19", request_day="2027-02-17", request_clock="12:00", most="60 L"
    )
    form = page.select_one("form[action$='/call-off']")
    assert form is not None
    found = re.search(r"/waste/pickups/([0-9]+)/", str(form["action"]))
    assert found is not None
    return int(found[1]), page


def test_a_pickup_is_booked_its_containers_chosen_and_requested(
    tomas: Visitor, carboy_id: int, in_lab: InLab, bench: Bench
) -> None:
    with in_lab() as session:
        bench.rinse_carboy(session, held_ul=LITRE, name="Rinse 2")
    pickup_id, page = _book(tomas)
    assert "Rinse 1 Rinse, 13.2 L, open" in text_of(page)
    assert "if that pickup is requested by Wed 17 Feb 2027, 12:00" in text_of(tomas.page("/waste"))

    page = tomas.submit(f"/waste/pickups/{pickup_id}/containers", container_ids=[carboy_id])
    assert "Together: 1 container, 13.2 L." in text_of(page)
    assert "never a container's size" in text_of(page)
    assert "takes at most 60 L" in text_of(page)

    page = tomas.submit(f"/waste/pickups/{pickup_id}/request")
    assert "Requested Tue 16 Feb 2027, 08:00, by Tomas." in text_of(page)
    assert "Next pickup: Fri 19 Feb 2027, requested." in text_of(tomas.page("/waste"))
    page = tomas.submit(f"/waste/pickups/{pickup_id}/withdraw")
    assert "not requested yet" in text_of(page)


def test_a_request_without_containers_says_so(tomas: Visitor) -> None:
    pickup_id, _page = _book(tomas)

    assert "Nothing is on the sheet yet" in text_of(tomas.submit(f"/waste/pickups/{pickup_id}/request", 409))


def test_containers_that_nobody_can_name_are_refused(tomas: Visitor) -> None:
    pickup_id, _page = _book(tomas)
    address = f"/waste/pickups/{pickup_id}/containers"

    assert "no such waste container" in text_of(tomas.submit(address, 404, container_ids=["the blue one"]))


def test_a_booking_is_changed_and_called_off_with_its_reason(tomas: Visitor) -> None:
    pickup_id, page = _book(tomas)
    assert typed_in(page, "request_clock") == "12:00"
    typed = {"on_day": "2027-02-22", "request_day": "2027-02-19", "request_clock": "9.30", "most": "40"}
    page = tomas.submit(f"/waste/pickups/{pickup_id}/change", 422, **typed)
    assert "Please write the unit too: 40 mL or 40 L." in text_of(page)
    assert typed_in(page, "most") == "40"

    page = tomas.submit(f"/waste/pickups/{pickup_id}/change", 200, **{**typed, "most": "40 L"})
    assert "Pickup of Mon 22 Feb 2027" in text_of(page)
    assert "from Fri 19 Feb 2027 to Mon 22 Feb 2027; cut-off Fri 19 Feb 2027, 09:30" in text_of(page)
    page = tomas.submit(f"/waste/pickups/{pickup_id}/call-off", 422, reason="x" * 301)
    assert "at most 300 characters" in text_of(page)
    tomas.submit(f"/waste/pickups/{pickup_id}/call-off", reason="office is closed")
    page = tomas.page(f"/waste/pickups/{pickup_id}")
    assert "called off: office is closed" in text_of(page)


def test_alternate_fridays_are_booked_and_the_rest_called_off(tomas: Visitor) -> None:
    page = tomas.submit(
        "/waste/pickups/schedules", first_day="2027-02-19", every_weeks="2", until_day="2027-04-02", cut_off_weekday="2",
        cut_off_clock="12:00", each_most="60 L", each_most_containers="6",
    )  # fmt: skip
    assert "Friday, every other week" in text_of(page)
    assert "Fri 2 Apr 2027 Wed 31 Mar 2027, 12:00 nothing on its sheet not requested yet" in text_of(page)

    page = tomas.submit("/waste/pickups/schedules/1/end")
    assert "No pickup is booked." in text_of(page)
    assert "ended" in text_of(page)


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("every_weeks", "3", "Please write 2 or less."),
        ("cut_off_weekday", "payday", "This can't be read. Please check it."),
        ("until_day", "soon", "a date such as 2027-02-16"),
        ("each_most", "0 L", "more than nothing"),
    ],
)
def test_a_schedule_that_cannot_be_read_is_shown_again(
    tomas: Visitor, field: str, typed: str, sentence: str
) -> None:
    fields = {
        "first_day": "2027-02-19", "every_weeks": "1", "until_day": "2027-03-05", "cut_off_weekday": "same", "cut_off_clock": "8",
        field: typed,
    }  # fmt: skip
    page = tomas.submit("/waste/pickups/schedules", 422, **fields)

    assert sentence in text_of(page)
    assert typed_in(page, "until_day") == fields["until_day"]


def test_a_pickup_with_an_unreadable_day_is_shown_again(tomas: Visitor) -> None:
    page = tomas.submit("/waste/pickups", 422, on_day="soon", request_day="2027-02-17", request_clock="noon")

    assert typed_in(page, "on_day") == "soon"
    assert typed_in(page, "request_clock") == "noon"
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


def test_after_the_cut_off_the_page_says_whom_to_call(
    tomas: Visitor, server: Running, carboy_id: int
) -> None:
    pickup_id, _page = _book(tomas)
    server.clock.instant = MORNING + timedelta(days=2)
    page = tomas.page(f"/waste/pickups/{pickup_id}")

    assert "The cut-off has passed. Call your waste office." in text_of(page)
    assert page.select_one("input[name='container_ids']") is None
    address = f"/waste/pickups/{pickup_id}/containers"
    assert "Call your waste office" in text_of(tomas.submit(address, 409, container_ids=[carboy_id]))


def test_two_people_choosing_one_container_for_two_pickups_put_it_on_one_sheet(
    tomas: Visitor, mira: Visitor, in_lab: InLab, carboy_id: int
) -> None:
    with in_lab() as session:
        pickups = [booked(session).id, booked(session, NEXT_FRIDAY).id]
    ready = threading.Barrier(2)

    def _choose(visitor: Visitor, pickup_id: int) -> int:
        ready.wait(timeout=30)
        data = {"container_ids": [carboy_id]}
        return visitor.post(f"/waste/pickups/{pickup_id}/containers", data=data).status_code

    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(_choose, (tomas, mira), pickups))

    assert sorted(answers) == [200, 409]
    with in_lab() as session:
        assert len(list_listed(session, pickups)) == 1
