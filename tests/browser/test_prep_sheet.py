"""The prep sheet on tablets and on paper."""

from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest

from server.data.session import LabSession
from tests.browser.conftest import Open
from tests.casts import Cast
from tests.prep.days import furnish, publish_capacity_day, stock

pytestmark = pytest.mark.browser

InLab = Callable[[], AbstractContextManager[LabSession]]
DAY = "/prep/2027-02-16"
# An A4 sheet within margins of 12 mm, at 96 px to the inch.
PAPER = (186 / 25.4 * 96, 273 / 25.4 * 96)


@pytest.fixture(autouse=True)
def capacity_day(in_lab: InLab, cast: Cast) -> None:
    with in_lab() as session:
        furnish(session)
        stock(session)
        publish_capacity_day(session, cast.section_id)


def test_a_tick_leaves_the_page_where_it_is(opened: Open) -> None:
    """The place on the page, an opened reason and the keyboard's place stay; every line is a target of 44 px and more."""
    page = opened("tomas", width=800, height=700)
    page.goto(DAY)
    page.locator("#after-waste summary").click()
    line = page.locator("#tick-after-lights")
    line.scroll_into_view_if_needed()
    line.focus()
    before = page.evaluate("scrollY")
    line.press("Enter")
    page.locator("#after-lights .prep-done").wait_for()

    assert page.evaluate("scrollY") == before > 0
    assert page.locator("#after-waste details").get_attribute("open") is not None
    assert page.evaluate("document.activeElement.id") == "tick-after-lights"
    assert line.get_attribute("aria-pressed") == "true"
    heights = page.evaluate(
        "[...document.querySelectorAll('button.prep-row')].map(row => row.getBoundingClientRect().height)"
    )
    assert min(heights) >= 44


def test_two_tablets_tick_one_sheet(opened: Open) -> None:
    """What the other tablet ticked is seen with the next tick, and when somebody comes back to the tablet."""
    one, other = opened("tomas", width=800), opened("mira", width=800)
    for page in (one, other):
        page.goto(DAY)
    other.locator("#tick-rinse").click()
    other.locator("#rinse .prep-done").wait_for()
    one.locator("#tick-bleach").click()
    one.locator("#bleach .prep-done").wait_for()

    assert one.locator("#rinse .prep-done").inner_text() == "done Mira, 08:00"
    other.evaluate("window.dispatchEvent(new Event('focus'))")
    other.locator("#bleach .prep-done").wait_for()
    one.reload()
    assert one.locator("#prep-lines .lead").inner_text().startswith("Today: 2 of")


def test_the_sheet_fits_on_two_pages_with_a_box_for_every_line(opened: Open) -> None:
    """By its length: what is below the lines, the rotations and the cautions, counts too."""
    page = opened("tomas", width=round(PAPER[0]), height=round(PAPER[1]))
    page.goto(DAY)
    page.emulate_media(media="print")

    assert page.locator(".prep-sheet").bounding_box()["height"] < 2 * PAPER[1]  # type: ignore[index]
    boxes = page.evaluate(
        "[...document.querySelectorAll('.prep-line')].map(line => line.querySelector('.prep-box').getBoundingClientRect().width)"
    )
    assert len(boxes) > 25
    assert min(boxes) > 3 / 25.4 * 96
