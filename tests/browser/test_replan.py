"""Something goes wrong in a class: one tap, a proposal, taken, and the printed sheet follows."""

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


def test_one_tap_brings_a_plan_that_is_taken_and_printed(opened: Open, rotation: str) -> None:
    page = opened("mira", width=800)
    page.goto(rotation)
    page.get_by_role("link", name="Re-plan").click()
    page.get_by_role("button", name="10 min late", exact=True).click()

    expect(page.get_by_role("heading", level=1)).to_have_text("The class begins 10 min late.")
    expect(page.get_by_role("img", name="Timeline of First hologram")).to_be_visible()
    page.get_by_role("button", name="Take it").click()

    history = page.get_by_role("region", name="What changed so far")
    expect(history.get_by_role("row").nth(1)).to_contain_text("taken")
    page.goto(f"{rotation}/sheet")
    expect(page.get_by_text("Changed at 08:00.")).to_be_visible()


def test_what_was_typed_stays_when_something_is_missing(opened: Open, rotation: str) -> None:
    page = opened("mira", width=390)
    page.goto(f"{rotation}/change")
    page.get_by_label("Plan anew from").fill("08:30")
    page.get_by_role("button", name="Late by this").click()

    expect(page.get_by_text("Please write by how many minutes, such as 12.")).to_be_visible()
    expect(page.get_by_label("Plan anew from")).to_have_value("08:30")
