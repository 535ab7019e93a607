"""The sheets by student role on paper, for a large class."""

from playwright.sync_api import Page

from tests.browser.conftest import Open
from tests.browser.test_print_sheet import large, pytestmark

__all__ = ["large", "pytestmark"]

# A4 within margins of 10 mm, at 96 px to the inch.
WIDTH_PX, HEIGHT_PX = 190 / 25.4 * 96, 277 / 25.4 * 96


def _printed(opened: Open, large: str) -> Page:
    page = opened("mira", width=round(WIDTH_PX))
    page.goto(large.replace("/sheet", "/roles/sheet"))
    page.emulate_media(media="print")
    return page


def test_each_student_has_a_card_that_fits_a_sheet_of_paper(opened: Open, large: str) -> None:
    page = _printed(opened, large)
    cards = page.locator("#cards-students table")
    boxes = [cards.nth(index).bounding_box() for index in range(cards.count())]

    assert len(boxes) == 40
    assert max(box["height"] for box in boxes if box) < HEIGHT_PX
    assert max(box["x"] + box["width"] for box in boxes if box) <= WIDTH_PX + 1


def test_a_card_is_never_torn_and_the_groups_begin_on_a_sheet_of_their_own(opened: Open, large: str) -> None:
    page = _printed(opened, large)
    torn = page.locator(".cards table").evaluate_all(
        "all => all.map(one => getComputedStyle(one).breakInside)"
    )

    assert set(torn) == {"avoid"}
    assert (
        page.locator("h2", has_text="By group").evaluate("one => getComputedStyle(one).breakBefore") == "page"
    )
