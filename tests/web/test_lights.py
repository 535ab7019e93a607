"""White pages stay shut on a device that showed a page near plates, until lights are allowed or somebody leaves the dark room."""

from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest

from server.core.calling import EventKind
from server.data.session import LabSession
from server.plates.queries import get_plate_box
from server.web.lights import LIGHT_COOKIE
from tests.callings.calls import at, called, published, said
from tests.casts import Cast
from tests.conftest import Running, Visitor, words
from tests.runs.room import Room, fill_room

InLab = Callable[[], AbstractContextManager[LabSession]]

# The class loads in the dark from 09:08 on, and is lit again before 10:00; by hand from its rounds of 6 minutes.
TALK, LOADING = 7, 8.5


@pytest.fixture
def rotation(in_lab: InLab, cast: Cast) -> int:
    """Published, at 09:00 on the lab's clock."""
    with in_lab() as session:
        return published(session, cast.section_id)


def _in_the_dark(visitor: Visitor, server: Running, rotation: int) -> None:
    server.clock.instant = at(LOADING)
    assert visitor.get(f"/board/{rotation}").status_code == 200


def test_while_the_plan_is_in_its_dark_a_white_page_stays_shut_on_a_screen_that_showed_the_board(
    tomas: Visitor, server: Running, rotation: int
) -> None:
    _in_the_dark(tomas, server, rotation)
    answer = tomas.get("/stock?of=all")

    assert answer.status_code == 409
    assert "White pages stay shut" in words(answer)
    assert 'data-light="green"' in answer.text
    assert "paper.css" not in answer.text
    assert 'href="/stock?of=all"' in answer.text
    assert answer.headers["content-security-policy"]


def test_the_same_page_opens_on_a_device_that_never_was_in_the_dark(
    tomas: Visitor, mira: Visitor, server: Running, rotation: int
) -> None:
    _in_the_dark(tomas, server, rotation)

    assert "paper.css" in mira.get("/stock").text


@pytest.mark.parametrize("minutes", [TALK, 600])
def test_it_opens_while_lights_are_allowed_by_the_plan(
    tomas: Visitor, server: Running, rotation: int, minutes: float
) -> None:
    _in_the_dark(tomas, server, rotation)
    server.clock.instant = at(minutes)

    assert tomas.get("/stock").status_code == 200


def test_what_is_called_counts_and_not_what_was_planned(
    tomas: Visitor, server: Running, rotation: int, in_lab: InLab
) -> None:
    """Lights are called off a minute before they are planned to be, and LIGHTS opens white pages when the plan is dark."""
    with in_lab() as session:
        called(session, rotation, TALK)
    tomas.get(f"/board/{rotation}")
    server.clock.instant = at(TALK + 0.1)
    early = tomas.get("/stock").status_code
    with in_lab() as session:
        said(session, rotation, EventKind.STOPPED, LOADING)
    server.clock.instant = at(LOADING + 1)

    assert (early, tomas.get("/stock").status_code) == (409, 200)


def test_a_lab_without_a_class_allows_light(tomas: Visitor) -> None:
    tomas.cookies.set(LIGHT_COOKIE, "green")

    assert tomas.get("/stock").status_code == 200


def test_whoever_is_out_of_the_dark_room_says_so_and_goes_on_where_they_were_going(
    tomas: Visitor, server: Running, rotation: int
) -> None:
    _in_the_dark(tomas, server, rotation)
    answer = tomas.post("/out-of-the-dark-room", data={"next": "/stock"})

    assert (answer.status_code, answer.url.path) == (200, "/stock")
    assert LIGHT_COOKIE not in tomas.cookies
    assert tomas.get("/runs").status_code == 200


def test_leaving_leads_nowhere_else(tomas: Visitor) -> None:
    answer = tomas.post(
        "/out-of-the-dark-room", data={"next": "//elsewhere.example/"}, follow_redirects=False
    )

    assert answer.headers["location"] == "/"


def test_a_tablet_that_signs_out_in_the_dark_lands_on_no_white_page(
    tablet: Visitor, in_lab: InLab, server: Running
) -> None:
    with in_lab() as session:
        fill_room(session)
    tablet.get("/tablet")
    answer = tablet.post("/sign-out")

    assert (answer.url.path, answer.status_code) == ("/sign-in", 409)
    assert "White pages stay shut" in words(answer)
    assert "paper.css" not in tablet.get("/join").text
    assert server


def test_whoever_was_asked_for_a_class_code_keeps_the_colour_too_for_a_day(stranger: Visitor) -> None:
    """A browser forgets what has no age when it is closed, and opens again in the same dark room."""
    kept = stranger.get("/join").headers["set-cookie"]

    assert kept.startswith(f"{LIGHT_COOKIE}=green;")
    assert "Max-Age=86400" in kept
    assert stranger.get("/sign-in").status_code == 409


def test_what_a_browser_only_fetches_is_not_kept_from_it(
    tomas: Visitor, server: Running, rotation: int
) -> None:
    _in_the_dark(tomas, server, rotation)

    assert tomas.get("/clock").headers["content-type"] == "application/json"
    assert tomas.get("/stock/account/plates.csv").headers["content-disposition"].startswith("attachment")
    assert tomas.get("/static/css/paper.css").status_code == 200
    assert tomas.get("/clock", headers={"Accept": "text/html,*/*"}).status_code == 409


def test_the_tablet_s_own_white_pages_go_through_the_same_gate(
    tablet: Visitor, in_lab: InLab, server: Running, rotation: int
) -> None:
    tablet.get("/tablet")
    server.clock.instant = at(LOADING)
    dark = words(tablet.get("/tablet/lit/runs/1/photo"))
    server.clock.instant = at(TALK)

    assert "White pages stay shut" in dark
    assert "White pages stay shut" not in words(tablet.get("/tablet/lit/runs/1/photo"))


def test_a_fault_is_dark_too_where_the_device_keeps_a_colour(tomas: Visitor, server: Running) -> None:
    tomas.cookies.set(LIGHT_COOKIE, "red")
    database = server.app.state.database
    del server.app.state.database
    try:
        answer = tomas.get("/stock")
    finally:
        server.app.state.database = database

    assert answer.status_code == 500
    assert 'data-light="red"' in answer.text


@pytest.mark.parametrize("address", ["/tablet", "/tablet/board", "/board/1", "/board/1/call", "/join/NOBODY"])
def test_whoever_is_not_signed_in_is_told_so_in_the_dark(stranger: Visitor, address: str) -> None:
    answer = stranger.get(address, follow_redirects=False)

    assert answer.status_code in {401, 404}
    assert 'data-light="green"' in answer.text


@pytest.fixture
def panchromatic(in_lab: InLab) -> Room:
    with in_lab() as session:
        room = fill_room(session)
        box = get_plate_box(session, room.plate_box_id)
        box.sees_green = box.sees_red = box.sees_blue = True
    return room


def test_a_screen_that_shows_nothing_lights_up_only_when_asked_twice(
    tablet: Visitor, panchromatic: Room
) -> None:
    assert panchromatic
    tablet.get("/tablet")
    assert tablet.cookies[LIGHT_COOKIE] == "none"
    once = tablet.post("/out-of-the-dark-room", data={"next": "/tablet"})
    kept = tablet.cookies.get(LIGHT_COOKIE)
    tablet.post("/out-of-the-dark-room", data={"next": "/tablet", "is_sure": "yes"}, follow_redirects=False)

    assert (once.status_code, kept) == (409, "none")
    assert 'data-light="none"' in once.text
    assert LIGHT_COOKIE not in tablet.cookies


def test_a_colour_that_cannot_be_read_emits_nothing(tablet: Visitor) -> None:
    tablet.cookies.set(LIGHT_COOKIE, "white")

    assert 'data-light="none"' in tablet.get("/tablet/runs/99999").text
