"""What changes would bring fills the page by itself, line by line."""

import pytest
from playwright.sync_api import expect

from server.data.session import Database
from server.demo import furnish
from tests.browser.conftest import Open
from tests.casts import MORNING, Cast

pytestmark = pytest.mark.browser


@pytest.fixture
def rotation(database: Database, cast: Cast) -> str:
    with database.writing(cast.lab_id) as session:
        things = furnish(session, cast.section_id, zone="Europe/Berlin", now=MORNING, seconds=1)
    return f"/rotations/{things.rotation_id}"


def test_the_answers_come_into_the_page(opened: Open, rotation: str) -> None:
    page = opened("mira", width=800)
    page.goto(rotation)
    page.get_by_role("link", name="What if").click()
    page.get_by_role("button", name="Work it out").click()

    expect(page.get_by_role("region", name="One change at a time")).to_be_visible()
    expect(page.locator("#what-if[hx-get]")).to_have_count(0, timeout=40_000)
    expect(page.get_by_role("row", name="One group fewer")).not_to_contain_text("not yet")
    page.get_by_text("Why", exact=True).first.click()
    expect(page.get_by_role("region", name="One change at a time")).to_contain_text("with it =")
    wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    for width in (390, 800, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate(wide) <= 0
