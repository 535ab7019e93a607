"""Lives of containers, waste areas and the waste shelf over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest

from server.containers.models import Source
from server.core.container_life import AreaKind
from server.data.session import LabSession
from server.shelves.actions import add_area
from tests.conftest import Visitor
from tests.containers.bench import Bench, keep_rules
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def carboy_id(in_lab: InLab, bench: Bench) -> int:
    """A rinse carboy at 13.2 L of 18 L, its lid off."""
    with in_lab() as session:
        return bench.rinse_carboy(session, held_ul=13_200_000).id


def test_a_container_is_set_out_and_its_line_moved(tomas: Visitor, in_lab: InLab, bench: Bench) -> None:
    with in_lab() as session:
        stream_id = next(iter(bench.streams(session).values()))
    page = tomas.submit("/waste/containers", stream_id=stream_id, name="Dev 1", size="20 L", tare="1.2 kg")
    assert page.select_one("h1").text == "Dev 1"  # type: ignore[union-attr]
    assert "0 mL of 18 L, room for 18 L" in text_of(page)
    assert "90 % is assumed" in text_of(page)

    life = str(page.select_one("a[href$='/life']")["href"])  # type: ignore[index]
    assert "Weighs 1.2 kg empty" in text_of(tomas.page(life))
    line = life.replace("/life", "/line")
    page = tomas.submit(line, fill_line="15 L")
    assert "0 mL of 15 L" in text_of(page)
    assert "75 % of the size" in text_of(page)
    page = tomas.submit(line, 422, fill_line="fifteen")
    assert page.select_one("#fill_line")["value"] == "fifteen"  # type: ignore[index]
    page = tomas.submit(line, 409, fill_line="21 L")
    assert "at most the size" in text_of(page)


def test_a_container_without_unit_or_with_unwashed_rests_is_refused(
    tomas: Visitor, in_lab: InLab, bench: Bench
) -> None:
    with in_lab() as session:
        developer, bleach, _rinse = bench.streams(session).values()
    page = tomas.submit(
        "/waste/containers",
        422,
        stream_id=bleach,
        name="B 1",
        size="20",
        tare="1",
        previous_stream_id=developer,
    )
    assert "Please write the unit too: 20 mL or 20 L." in text_of(page)
    assert "Please write the unit too: 1 g or 1 kg." in text_of(page)
    assert page.select_one("#size")["value"] == "20"  # type: ignore[index]

    page = tomas.submit(
        "/waste/containers", 409, stream_id=bleach, name="B 1", size="20 L", previous_stream_id=developer
    )
    assert "40 CFR 265.177" in text_of(page)


def test_a_lab_without_streams_is_led_to_them(tomas: Visitor) -> None:
    assert "There is no stream yet" in text_of(tomas.page("/waste/containers/new"))


def test_a_container_left_open_is_said_everywhere_until_its_lid_is_shut(
    tomas: Visitor, carboy_id: int
) -> None:
    for address in ("/", "/waste"):
        assert "lid off since Tue 16 Feb 2027, 08:00" in text_of(tomas.page(address))
    page = tomas.page(f"/waste/containers/{carboy_id}")
    shut = page.select_one("form[action$='/state']")
    assert shut is not None
    assert shut.select_one("button").text == "Shut the lid"  # type: ignore[union-attr]

    page = tomas.submit(str(shut["action"]), to="closed")
    assert "closed" in text_of(page)
    for address in ("/", "/waste"):
        assert "lid off" not in text_of(tomas.page(address))


def test_a_container_at_its_line_is_proposed_as_full_and_reopened_with_a_reason(
    tomas: Visitor, carboy_id: int
) -> None:
    pour: dict[str, Any] = {
        "container_id": carboy_id,
        "source": "rinse",
        "method": "graduate",
        "is_closed_again": "true",
    }
    page = tomas.submit("/waste/pour", **pour, tablet_id="pour-0001", amount="4.8 L")
    assert "Note it as full" in text_of(page)

    state = f"/waste/containers/{carboy_id}/state"
    tomas.submit(state, to="full")
    assert "is full and takes nothing" in text_of(
        tomas.submit("/waste/pour", 409, **pour, tablet_id="pour-0002", amount="1 mL")
    )
    assert "full: takes no more, waits for its pickup" in text_of(tomas.page("/waste"))
    assert "Please write why" in text_of(tomas.submit(state, 409, to="closed"))
    page = tomas.submit(state, to="closed", state_note="the office moved the line")
    assert "Note it as full" in text_of(page)
    events = text_of(tomas.page(f"/waste/containers/{carboy_id}/life"))
    assert "closed the office moved the line" in events


def test_a_state_that_does_not_exist_is_asked_back_on_the_life_s_page(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.submit(f"/waste/containers/{carboy_id}/state", 422, to="lost", state_note="nobody knows")

    assert "Please choose one of the list." in text_of(page)
    assert page.select_one("#state_note")["value"] == "nobody knows"  # type: ignore[index]


def test_a_vessel_is_followed_from_one_filling_to_the_next(
    tomas: Visitor, in_lab: InLab, bench: Bench
) -> None:
    with in_lab() as session:
        carboy_id = bench.rinse_carboy(session).id
        rinse = bench.known_streams(session)[Source.RINSE]
    for to in ("open", "washed"):
        tomas.submit(f"/waste/containers/{carboy_id}/state", to=to)
    page = tomas.submit(f"/waste/containers/{carboy_id}/filling", 422, name="", stream_id=rinse)
    assert "Please fill this in." in text_of(page)
    page = tomas.submit(f"/waste/containers/{carboy_id}/filling", name="Rinse 2", stream_id=rinse)

    assert "Held before Rinse, washed since ; as Rinse 1" in text_of(page)
    life = tomas.page(str(page.select_one("a[href$='/life']")["href"]))  # type: ignore[index]
    assert "Filling before: Rinse 1 ." in text_of(life)
    assert "Next filling: Rinse 2 ." in text_of(tomas.page(f"/waste/containers/{carboy_id}/life"))


def test_a_long_life_is_shown_in_pages(tomas: Visitor, carboy_id: int) -> None:
    for _pair in range(26):
        for to in ("closed", "open"):
            tomas.submit(f"/waste/containers/{carboy_id}/state", to=to)
    page = tomas.page(f"/waste/containers/{carboy_id}/life")
    earlier = page.select_one("a[href*='before=']")
    assert earlier is not None
    assert len(page.select("tbody tr")) == 50
    page = tomas.page(str(earlier["href"]))
    assert [cell.text.strip() for cell in page.select("tbody tr td:nth-child(2)")] == [
        "open", "closed", "open", "empty",
    ]  # fmt: skip


def test_areas_are_added_and_a_container_carried_there(tomas: Visitor, in_lab: InLab, carboy_id: int) -> None:
    assert "There is no waste area yet" in text_of(tomas.page("/waste/areas"))
    assert "Please fill this in." in text_of(tomas.submit("/waste/areas", 422, kind="satellite"))
    page = tomas.submit("/waste/areas", name="bench", kind="satellite")
    assert "In no area yet Rinse 1" in text_of(page)
    with in_lab() as session:
        next_room = add_area(session, name="next room", kind=AreaKind.SATELLITE).id
        keep_rules(session, "us-small")
    area = f"/waste/containers/{carboy_id}/area"
    option = tomas.page(f"/waste/containers/{carboy_id}/life").select_one("#area_id option")
    assert option is not None
    page = tomas.submit(area, area_id=option["value"])
    assert "Stands in bench." in text_of(page)
    assert "isn't carried from one satellite area to another" in text_of(
        tomas.submit(area, 409, area_id=next_room)
    )
    tomas.submit(area, 422, area_id="nowhere")
    assert "Rinse 1: 13.2 L" in text_of(tomas.page("/waste/areas"))


def test_other_courses_waste_is_logged_and_goes(tomas: Visitor) -> None:
    typed: dict[str, Any] = {
        "course": "Etching",
        "contents": "spent ferric chloride",
        "volume": "2 L",
        "since": "2027-02-15",
    }
    page = tomas.submit("/waste/shelf", 422, **{**typed, "volume": "some"})
    assert page.select_one("#volume")["value"] == "some"  # type: ignore[index]
    page = tomas.submit("/waste/shelf", **typed, mass="2.6 kg")
    assert (
        "Etching spent ferric chloride: 2 L, 2.6 kg. Here since Mon 15 Feb 2027; written down by Tomas."
        in text_of(page)
    )

    gone = str(page.select_one("form[action$='/gone']")["action"])  # type: ignore[index]
    page = tomas.submit(gone, 422, gone_on="soon")
    assert "Please write a date" in text_of(page)
    page = tomas.submit(gone, gone_on="2027-02-16")
    assert "No other course's waste is on the shelf" in text_of(page)
    assert "here from Mon 15 Feb 2027 to Tue 16 Feb 2027" in text_of(page)


def test_a_tare_is_written_down(tomas: Visitor, carboy_id: int) -> None:
    tomas.submit(f"/waste/containers/{carboy_id}/tare", 422, tare="light")
    page = tomas.submit(f"/waste/containers/{carboy_id}/tare", tare="1.2 kg")

    assert "Weighs 1.2 kg empty." in text_of(page)


def test_another_lab_changes_nothing_here(petra: Visitor, carboy_id: int) -> None:
    petra.page(f"/waste/containers/{carboy_id}/life", 404)
    petra.submit(f"/waste/containers/{carboy_id}/state", 404, to="closed")
    petra.submit(f"/waste/containers/{carboy_id}/line", 404, fill_line="1 L")
    petra.submit(f"/waste/containers/{carboy_id}/tare", 404, tare="1 kg")
