"""Every page, at every width: titled, without barriers, without sideways scrolling, and usable with the keyboard."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi.routing import APIRoute
from playwright.sync_api import Page

from tests.browser.conftest import Open
from tests.casts import Cast
from tests.test_access import ROUTES, STUDENT, Walk, walk_through

pytestmark = [pytest.mark.browser, pytest.mark.furnished.with_args(walk_through)]

WIDTHS = (390, 800, 1440)
HEIGHT = 900
# What lies between is laid out as the one or the other.
BARRIERS_AT = (390, 1440)
# The staff's pages are many; each part of them is walked by a test of its own, so that several walk at once.
PARTS = 3
SHOTS = os.environ.get("STILLROOM_SHOTS", "")
# Answers that are no pages: downloads, and parts that a page fetches by itself.
NO_PAGE = {
    "rotations.class_file", "rotations.visits_file", "calendars.fetch", "calendars.file", "runs.rows", "runs.file_of_runs", "runs.own_photo", "runs.staffs_photo", "callings.feed", "callings.clock", "tablets.light",
    "callings.tablet_boards", "callings.wrists",
    "labels.paper", "kits.sheet", "stock.plates_file", "safety.rounds_file",
    "registers.entries_file", "registers.lives_file", "handovers.records_file", "marks.file",
}  # fmt: skip


@pytest.fixture
def walk(furnished: Walk) -> Walk:
    return furnished


def _pages(names: set[str]) -> list[APIRoute]:
    return [
        route for name, route in ROUTES.items() if "GET" in (route.methods or ()) and name in names - NO_PAGE
    ]


def _faults(page: Page, address: str, *, barriers_at: tuple[int, ...] = BARRIERS_AT) -> Iterator[str]:
    """What is wrong with the page, opened once and then looked at at every width."""
    answer = page.goto(address)
    assert answer is not None
    if answer.status != 200:
        yield f"{address}: status {answer.status}"
    if not page.title().strip(" ·").endswith("Stillroom"):
        yield f"{address}: title “{page.title()}”"
    if page.locator("h1").count() != 1:
        yield f"{address}: {page.locator('h1').count()} headings of the first level"
    twice = page.evaluate(
        "[...document.querySelectorAll('[id]')].map(one => one.id).filter((id, at, all) => all.indexOf(id) !== at)"
    )
    if twice:
        yield f"{address}: ids that stand twice: {twice}"
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": HEIGHT})
        yield from _faults_at(page, f"{address} at {width}", has_axe=width in barriers_at)
        if SHOTS:
            name = address.strip("/").replace("/", "-") or "today"
            page.screenshot(path=Path(SHOTS) / f"{name}-{width}.png", full_page=True)


def _faults_at(page: Page, where: str, *, has_axe: bool) -> Iterator[str]:
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    if wide > 0:
        yield f"{where}: {wide} px wider than the screen"
    if has_axe:
        for finding in Axe().run(page).response["violations"]:
            nodes = "; ".join(node["html"][:160] for node in finding["nodes"][:3])
            yield f"{where}: {finding['id']}: {finding['help']}: {nodes}"


def _walk(opened: Open, walk: Walk, name: str, routes: list[APIRoute]) -> list[str]:
    page = opened(name)
    return [fault for route in routes for fault in _faults(page, walk.address(route))]


@pytest.mark.parametrize("part", range(PARTS))
def test_the_staff_s_pages_have_no_barriers(opened: Open, walk: Walk, part: int) -> None:
    routes = _pages(set(ROUTES) - STUDENT)[part::PARTS]

    assert _walk(opened, walk, "mira", routes) == []


def test_the_tablet_s_pages_have_no_barriers(opened: Open, walk: Walk) -> None:
    assert _walk(opened, walk, "tablet", _pages(STUDENT)) == []


def test_what_a_stranger_sees_has_no_barriers(opened: Open, walk: Walk) -> None:
    routes = _pages({"people.set_up", "people.sign_in", "people.join", "people.join_with_code"})

    assert _walk(opened, walk, "", routes) == []


def test_an_empty_lab_s_pages_have_no_barriers(opened: Open, cast: Cast) -> None:
    page = opened("mira")
    rooms = [
        "/",
        "/rotations",
        "/prep",
        "/supplies",
        "/prep/settings",
        "/chemistry",
        "/chemistry/mix",
        "/labels",
        "/charges",
        "/recipes",
        "/strengths",
        "/stock",
        "/stock/kits",
        "/stock/plate-boxes",
        "/stock/account",
        "/waste",
        "/waste/labels",
        "/waste/balances",
        "/waste/balances/figures",
        "/people/names",
        "/password",
        "/waste/containers/new",
        "/waste/areas",
        "/waste/shelf",
        "/waste/pickups",
        "/waste/pickups/particulars",
        "/waste/pickups/records",
        "/waste/register",
        "/waste/forecast",
        "/waste/rules",
        "/waste/limits",
        "/waste/limits/months",
        "/waste/streams",
        "/runs",
        "/exposures",
        "/stations",
        "/safety",
        "/safety/shelf",
        "/safety/history",
        "/marks",
        "/marks/rubrics",
        f"/marks/sections/{cast.section_id}",
    ]

    # The same templates are asked for barriers at every width where they are full.
    assert [fault for address in rooms for fault in _faults(page, address, barriers_at=WIDTHS[:1])] == []


def test_the_keyboard_alone_reaches_and_sends_a_form(opened: Open) -> None:
    page = opened("mira")
    page.goto("/people")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    page.keyboard.press("Enter")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "name":
            break
    page.keyboard.type("Thursday")
    page.keyboard.press("Enter")

    page.get_by_role("heading", name="Thursday", level=1).wait_for()


def test_what_was_typed_stays_when_the_server_is_gone(opened: Open) -> None:
    page = opened("mira")
    page.goto("/people")
    page.get_by_label("Name of a new section").fill("Thursday")
    page.context.set_offline(True)
    page.get_by_role("button", name="Add section").click()

    page.get_by_text("No answer came from the server").wait_for()
    assert page.get_by_label("Name of a new section").input_value() == "Thursday"

    page.context.set_offline(False)
    page.get_by_role("button", name="Add section").click()
    page.get_by_role("heading", name="Thursday", level=1).wait_for()


def test_what_was_typed_stays_when_a_rule_refuses_it(opened: Open) -> None:
    page = opened("mira")
    page.goto("/people")
    page.get_by_label("Name of a new section").fill("Tuesday")
    page.get_by_role("button", name="Add section").click()

    page.get_by_text("There is a section “Tuesday” already").wait_for()
    assert page.get_by_label("Name of a new section").input_value() == "Tuesday"
    assert page.url.endswith("/people")


def test_the_keyboard_stands_in_the_field_that_is_asked_back(opened: Open) -> None:
    page = opened("mira")
    page.goto("/people")
    page.get_by_role("button", name="Add section").click()

    page.get_by_text("Please fill this in.").wait_for()
    assert page.evaluate("document.activeElement.getAttribute('aria-invalid')") == "true"


def test_a_redirect_after_a_form_shows_the_next_page_s_address(opened: Open) -> None:
    page = opened("mira")
    page.goto("/people")
    page.get_by_label("Name of a new section").fill("Thursday")
    page.get_by_role("button", name="Add section").click()
    page.get_by_role("heading", name="Thursday", level=1).wait_for()

    assert "/people/sections/" in page.url
