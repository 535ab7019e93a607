"""A rotation's page fetches its chance of finishing by itself, and leads to it where nothing can be fetched."""

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


def test_the_curve_comes_into_the_rotation_s_page(opened: Open, rotation: str) -> None:
    page = opened("mira")
    page.goto(rotation)

    expect(page.get_by_role("img", name="Chance of having finished")).to_be_visible()
    expect(page.get_by_role("region", name="Reserve plates")).to_contain_text("This rotation")
    expect(page.locator("#chance")).to_have_count(1)
    assert page.url.endswith(rotation)


def test_a_link_leads_there_where_the_part_does_not_come(opened: Open, rotation: str) -> None:
    page = opened("mira")
    page.route("**/htmx-*.js", lambda route: route.fulfill(body="", content_type="text/javascript"))
    page.goto(rotation)
    page.get_by_role("link", name="How likely the class is to finish by the bell").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("Chance of Tuesday: First hologram")
