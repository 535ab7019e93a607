"""Why a class ends when it does, opened on the rotation's page and read on paper."""

import re

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


def test_the_chain_is_opened_beneath_the_answer_and_fits_every_screen(opened: Open, rotation: str) -> None:
    page = opened("mira", width=1440)
    page.goto(rotation)
    why = page.locator("#why")
    expect(why.locator("ol")).not_to_be_visible()
    why.get_by_text(re.compile("^Why does it end at ")).click()

    expect(why.locator("ol li").first).to_contain_text("It begins with the class.")
    wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    for width in (390, 800, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate(wide) <= 0


def test_the_paper_says_it_in_one_sentence(opened: Open, rotation: str) -> None:
    page = opened("mira", width=1440)
    page.goto(f"{rotation}/sheet")
    page.emulate_media(media="print")

    expect(page.get_by_text(re.compile("^It ends at .* is last: of "))).to_be_visible()
