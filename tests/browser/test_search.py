"""Watching a search in a browser: the finish and the drawing improve without a reload, and the best plan stays when it is stopped."""

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Open
from tests.casts import Cast
from tests.conftest import Running, Visitor

pytestmark = pytest.mark.browser

SHOTS = os.environ.get("STILLROOM_SHOTS", "")
LARGE = Path(__file__).parents[1] / "core" / "planning" / "instances" / "large-20-groups-4-stations.json"


@pytest.fixture
def in_a_hurry(server: Running) -> Iterator[None]:
    """Whoever presses Plan is sent to watch the search unless it is over at once."""
    settings = server.app.state.settings
    server.app.state.settings = settings.model_copy(update={"answer_within_s": 0.1})
    yield
    server.app.state.settings = settings


@pytest.fixture
def address(mira: Visitor, cast: Cast) -> str:
    """A rotation of twenty groups at four stations with two plates each."""
    asked = {
        "section_id": cast.section_id,
        "day": "2027-02-23",
        "starts": "09:00",
        "class_file": LARGE.read_text(),
    }
    return mira.post("/class-file", data=asked).url.path


def _fits(page: Page) -> bool:
    """Whether nothing stands beyond the window's edge."""
    return bool(page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"))


def test_a_search_is_watched_stopped_and_kept(opened: Open, address: str, in_a_hurry: None) -> None:
    page = opened("mira")
    page.goto(address)
    page.get_by_label("How long to search").select_option("60")
    page.get_by_role("button", name="Plan", exact=True).click()

    finish = page.locator("#search .figure-number")
    expect(finish).to_have_text(re.compile(r"^\d\d:\d\d$"))
    expect(page).to_have_url(re.compile(r"/search$"))
    expect(page.locator("#search")).to_contain_text("Plates placed")
    first = finish.inner_text()
    stop = page.get_by_role("button", name="Stop and keep")
    stop.focus()
    page.evaluate("window.notLoadedAgain = true")
    drawn = page.locator("#search-drawing").inner_html()

    expect(finish).not_to_have_text(first, timeout=30_000)
    page.wait_for_function(
        "drawn => document.getElementById('search-drawing').innerHTML !== drawn", arg=drawn
    )
    assert finish.inner_text() < first
    assert page.evaluate("window.notLoadedAgain")
    expect(stop).to_be_focused()
    for width in (390, 800, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        assert _fits(page)
        if SHOTS:
            page.screenshot(path=Path(SHOTS) / f"search-{width}.png", full_page=True)

    stop.click()
    expect(page).to_have_url(re.compile(rf"{address}$"), timeout=15_000)
    expect(page.locator("#main")).to_contain_text(re.compile("best found|proven earliest"))
    expect(page.locator("#search-state")).to_contain_text("The search was stopped")
    assert page.locator(".figure-number").first.inner_text() < first
