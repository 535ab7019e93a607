"""The screens near plates, over HTTP: their own page, what they are told meanwhile, and the staff's list."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest

from server.data.session import LabSession
from server.plates.queries import list_plate_boxes
from server.tablets.queries import list_screen_tests, list_screens
from server.tablets.routes import DEVICE_COOKIE
from server.web.lights import LEVEL_COOKIE, LIGHT_COOKIE
from tests.callings.calls import at, published
from tests.casts import MORNING, Cast
from tests.conftest import Running, Visitor
from tests.prep.days import furnish, stock
from tests.reading import text_of

InLab = Callable[[], AbstractContextManager[LabSession]]

TEST: dict[str, Any] = {
    "colour": "green", "level": "3", "stage": "after exposure", "distance_cm": "50", "step_s": "60", "last_clear_s": "420",
    "made_on": "2027-02-16", "note": "",
}  # fmt: skip


@pytest.fixture
def box_id(in_lab: InLab) -> int:
    with in_lab() as session:
        furnish(session)
        return stock(session)


def _sees_everything(in_lab: InLab) -> None:
    with in_lab() as session:
        for box in list_plate_boxes(session):
            box.sees_red = box.sees_green = True
            box.opened_at = MORNING


def test_a_tablet_is_named_tested_and_then_warns_no_more(tablet: Visitor, in_lab: InLab, box_id: int) -> None:
    before = tablet.get("/light").json()
    tablet.submit("/screen/name", screen_name="tablet 3")
    page = tablet.submit("/screen/tests", plate_box_id=box_id, **TEST)
    with in_lab() as session:
        [screen] = list_screens(session)
        [test] = list_screen_tests(session, screen.id)
        assert (screen.name, screen.named_by, test.distance_mm) == ("tablet 3", "G1", 500)

    assert "no fog test for box 1" in before["warning"]
    assert page.html["data-light"] == "green"  # type: ignore[index]
    assert "safe for 3 min 30 s at a time, from 50 cm away on" in text_of(page)
    assert tablet.get("/light").json() == {"colour": "green", "shown": "green", "level": 3, "warning": ""}


def test_a_tablet_that_staff_named_is_chosen_from_the_list(tablet: Visitor, tomas: Visitor) -> None:
    tomas.submit("/tablets", screen_name="tablet 5")
    page = tablet.page("/screen")
    chosen = page.find("span", string="tablet 5").find_parent("label").find("input")["value"]  # type: ignore[union-attr, index]
    named = tablet.submit("/screen/name", screen_id=chosen)

    assert named.h1.text == "This screen: tablet 5"  # type: ignore[union-attr]
    assert DEVICE_COOKIE in tablet.cookies


def test_what_is_missing_is_asked_back_in_the_dark(tablet: Visitor, box_id: int) -> None:
    nameless = tablet.submit("/screen/name", 422)
    untested = tablet.submit("/screen/tests", 409, plate_box_id=box_id, **TEST)
    tablet.submit("/screen/name", screen_name="tablet 3")
    wrong = tablet.submit("/screen/tests", 422, plate_box_id=box_id, **{**TEST, "last_clear_s": "long"})

    assert "choose a tablet of the list, or write a name" in text_of(nameless)
    assert "Give this screen a name first" in text_of(untested)
    assert wrong.select_one("#last_clear_s")["value"] == "long"  # type: ignore[index]
    assert {page.html["data-light"] for page in (nameless, untested, wrong)} == {"green"}  # type: ignore[index]


@pytest.mark.parametrize(("typed", "kept"), [("1", "1"), ("4", "4"), ("9", "3"), ("", "3")])
def test_the_brightness_stays_with_the_device(tablet: Visitor, box_id: int, typed: str, kept: str) -> None:
    page = tablet.submit("/screen/level", level=typed)

    assert box_id
    assert tablet.cookies[LEVEL_COOKIE] == kept
    assert page.html["data-level"] == kept  # type: ignore[index]
    assert tablet.page("/tablet").html["data-level"] == kept  # type: ignore[index]


def test_every_level_says_what_it_is(tablet: Visitor, box_id: int) -> None:
    text = text_of(tablet.page("/screen"))

    assert box_id
    assert "green 105 of 255, 3.0 : 1, large letters only" in text
    assert "green 174 of 255, 7.1 : 1, reads well" in text


def test_where_plates_see_every_colour_a_screen_shows_itself_only_while_lights_are_allowed(
    tablet: Visitor, in_lab: InLab, server: Running, cast: Cast
) -> None:
    with in_lab() as session:
        published(session, cast.section_id)
    _sees_everything(in_lab)
    told = []
    for minutes in (1, 8.5):
        server.clock.instant = at(minutes)
        told.append(tablet.get("/light").json())

    assert [(one["colour"], one["shown"]) for one in told] == [("none", "green"), ("none", "none")]
    assert tablet.cookies[LIGHT_COOKIE] == "none"
    assert tablet.page("/tablet").html["data-light"] == "none"  # type: ignore[index]


def test_staff_write_tests_down_and_see_what_they_say(tomas: Visitor, box_id: int) -> None:
    tomas.submit("/tablets", screen_name="wall")
    page = tomas.page("/tablets")
    address = page.find("a", string="wall")["href"]  # type: ignore[index]
    before = text_of(page)
    tomas.submit(f"{address}/tests", 422, plate_box_id=box_id, **{**TEST, "made_on": "tomorrow"})
    after = tomas.submit(f"{address}/tests", plate_box_id=box_id, **{**TEST, "last_clear_s": "0"})
    renamed = tomas.submit(f"{address}/name", screen_name="wall, left")

    assert "box 1: untested , no fog test at this brightness in this colour" in before
    assert "a mark from 1 min on" in text_of(after)
    assert "failed , safe for 0 s only" in text_of(after)
    assert renamed.h1.text == "wall, left"  # type: ignore[union-attr]


def test_an_estimate_opens_to_its_inputs(tomas: Visitor) -> None:
    """By hand: 5 cd/m² x 0.3027 x 10 % = 0.151 cd/m², x 0.03 m² / 0.25 m² = 0.018 lux; / 588.7 x 100 = 0.0031 µW/cm², x 300 s."""
    page = tomas.page(
        "/tablets?colour=green&level=3&white_cd_per_m2=5&lit_percent=10&width_cm=20&height_cm=15&distance_cm=50&minutes=5"
        "&sensitivity_percent=1"
    )
    text = text_of(page)

    assert (
        "0.018 lux and 0.0031 µW/cm² at the plate; 0.93 µJ/cm² arrive, of which 0.0093 µJ/cm² count." in text
    )
    assert "White of the screen as it is set: 5 cd/m²" in text


def test_an_estimate_of_nonsense_is_asked_back(tomas: Visitor) -> None:
    assert "This can't be read" in text_of(
        tomas.page("/tablets?colour=green&level=3&white_cd_per_m2=nan&minutes=5")
    )


def test_staff_see_a_screen_s_own_page_too(tomas: Visitor, box_id: int) -> None:
    page = tomas.page("/screen")

    assert box_id
    assert page.html["data-light"] == "green"  # type: ignore[index]
