"""Marking in a browser: one tap a level, or the keyboard alone."""

from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest

from server.data.session import LabSession
from tests.browser.conftest import Open
from tests.casts import Cast
from tests.marks.marking import marked_by_a_rubric, students_of

pytestmark = pytest.mark.browser

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def ada(in_lab: InLab, cast: Cast) -> str:
    with in_lab() as session:
        marked_by_a_rubric(session, cast.section_id)
        return f"/marks/sections/{cast.section_id}/students/{students_of(session, cast.section_id)[0]}"


def test_a_tap_gives_a_level_and_leaves_it_where_it_is(opened: Open, ada: str) -> None:
    """Every level is a target of 44 px and more."""
    page = opened("mira", width=390, height=700)
    page.goto(ada)
    level = page.get_by_role("button", name="5 points’ worth")
    level.scroll_into_view_if_needed()
    before = level.bounding_box()
    level.click()
    page.get_by_text("1 of 3", exact=True).wait_for()

    assert level.get_attribute("aria-pressed") == "true"
    assert page.evaluate("scrollY") > 0
    assert level.bounding_box() == before
    assert page.url.endswith(ada)
    heights = page.evaluate(
        "[...document.querySelectorAll('[data-key]')].map(one => one.getBoundingClientRect().height)"
    )
    assert min(heights) >= 44


def test_a_student_is_marked_with_the_keyboard_alone(opened: Open, ada: str) -> None:
    """A figure gives that many points, arrows go on to the next criterion."""
    page = opened("mira")
    page.goto(ada)
    page.locator("[data-key]").first.focus()
    page.keyboard.press("3")
    page.get_by_text("1 of 3", exact=True).wait_for()
    for _ in range(2):
        page.keyboard.press("ArrowDown")
    page.keyboard.press("1")
    page.get_by_text("2 of 3", exact=True).wait_for()
    for _ in range(3):
        page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.get_by_text("3 of 3 criteria marked").wait_for()

    assert page.locator("#mark-criteria .figure-number").inner_text() == "62.5 %"
    assert page.evaluate("document.activeElement.dataset.key") == "5"
