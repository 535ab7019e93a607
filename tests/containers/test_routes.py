"""Containers over HTTP."""

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.data.session import LabSession
from tests.casts import MORNING
from tests.conftest import Visitor
from tests.containers.bench import Bench
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]


def _pour_fields(container_id: int, tablet_id: str, volume: str = "250 mL", **more: object) -> dict[str, Any]:
    return {
        "container_id": container_id,
        "tablet_id": tablet_id,
        "source": "rinse",
        "volume": volume,
        "method": "graduate",
        **more,
    }


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


def test_a_container_is_opened_and_its_line_moved(tomas: Visitor, in_lab: InLab, bench: Bench) -> None:
    with in_lab() as session:
        stream_id = next(iter(bench.streams(session).values()))
    page = tomas.submit("/waste/containers", stream_id=stream_id, name="Dev 1", size="20 L")
    assert page.select_one("h1").text == "Dev 1"  # type: ignore[union-attr]
    assert "0 mL of 18 L, room for 18 L" in text_of(page)
    assert "90 % is assumed" in text_of(page)

    form = page.select_one("form[action$='/line']")
    assert form is not None
    page = tomas.submit(str(form["action"]), fill_line="15 L")
    assert "0 mL of 15 L" in text_of(page)
    assert "75 % of the size" in text_of(page)
    page = tomas.submit(str(form["action"]), 422, fill_line="fifteen")
    assert page.select_one("#fill_line")["value"] == "fifteen"  # type: ignore[index]
    page = tomas.submit(str(form["action"]), 409, fill_line="21 L")
    assert "at most the size" in text_of(page)


def test_a_container_without_unit_or_with_unwashed_rests_is_refused(
    tomas: Visitor, in_lab: InLab, bench: Bench
) -> None:
    with in_lab() as session:
        developer, bleach, _rinse = bench.streams(session).values()
    page = tomas.submit(
        "/waste/containers", 422, stream_id=bleach, name="B 1", size="20", previous_stream_id=developer
    )
    assert "Please write the unit too: 20 mL or 20 L." in text_of(page)
    assert page.select_one("#size")["value"] == "20"  # type: ignore[index]

    page = tomas.submit(
        "/waste/containers", 409, stream_id=bleach, name="B 1", size="20 L", previous_stream_id=developer
    )
    assert "40 CFR 265.177" in text_of(page)


def test_a_container_is_closed_and_opened_again(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.submit(f"/waste/containers/{carboy_id}/close")
    assert page.select_one(f"form[action='/waste/containers/{carboy_id}/open']") is not None
    assert "is closed" in text_of(tomas.submit("/waste/pour", 409, **_pour_fields(carboy_id, "pour-0001")))
    assert "closed: takes no more" in text_of(tomas.page("/waste"))

    tomas.submit(f"/waste/containers/{carboy_id}/open")
    tomas.submit("/waste/pour", **_pour_fields(carboy_id, "pour-0001"))


def test_the_label_says_what_is_in_it_since_when_and_whom_to_ask(tomas: Visitor, carboy_id: int) -> None:
    words = text_of(tomas.page(f"/waste/containers/{carboy_id}/label"))

    assert "Rinse water from photographic plates" in words
    assert "Tue 16 Feb 2027" in words
    assert "ask your waste office for the required wording" in words
    assert "Cellar lab" in words


def test_another_labs_waste_is_not_here(petra: Visitor, tomas: Visitor, carboy_id: int) -> None:
    pickup_id, _page = _book(tomas)
    entry_fields = {"entry_id": 1, "reason": "not mine"}

    assert "Rinse 1" not in text_of(petra.page("/waste"))
    for ending in ("", "/label"):
        petra.page(f"/waste/containers/{carboy_id}{ending}", 404)
    petra.page(f"/waste/pour?container_id={carboy_id}", 404)
    petra.page(f"/waste/pickups/{pickup_id}", 404)
    petra.submit("/waste/pour", 404, **_pour_fields(carboy_id, "pour-0001"))
    petra.submit(f"/waste/containers/{carboy_id}/close", 404)
    petra.submit(f"/waste/containers/{carboy_id}/open", 404)
    petra.submit(f"/waste/containers/{carboy_id}/line", 404, fill_line="1 L")
    petra.submit(f"/waste/containers/{carboy_id}/reverse", 404, **entry_fields)
    petra.submit(f"/waste/pickups/{pickup_id}/request", 404)
    petra.submit(f"/waste/pickups/{pickup_id}/call-off", 404)
    petra.submit(f"/waste/pickups/{pickup_id}/hand-over", 404, container_ids=[carboy_id])
    assert "13.2 L of 18 L" in text_of(tomas.page("/waste"))


def test_a_container_for_another_labs_stream_is_not_opened(
    petra: Visitor, in_lab: InLab, bench: Bench
) -> None:
    with in_lab() as session:
        stream_id = next(iter(bench.streams(session).values()))
    petra.submit("/waste/streams/usual")

    petra.submit("/waste/containers", 404, stream_id=stream_id, name="Mine", size="5 L")


@pytest.mark.parametrize(
    "address", ["/waste", "/waste/pour", "/waste/pickups", "/waste/containers/1", "/waste/pickups/1"]
)
def test_students_do_not_see_the_waste_pages(tablet: Visitor, address: str) -> None:
    assert "for the lab's staff" in text_of(tablet.page(address, 403))


@pytest.mark.parametrize(
    "address",
    [
        "/waste/streams",
        "/waste/streams/usual",
        "/waste/containers",
        "/waste/containers/1/close",
        "/waste/containers/1/open",
        "/waste/containers/1/line",
        "/waste/containers/1/reverse",
        "/waste/pour",
        "/waste/pickups",
        "/waste/pickups/1/request",
        "/waste/pickups/1/call-off",
        "/waste/pickups/1/hand-over",
    ],
)
def test_students_write_nothing_about_waste(tablet: Visitor, address: str) -> None:
    tablet.submit(address, 403)
