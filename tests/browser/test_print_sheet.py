"""The print sheet of a large class on paper."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, time

import pytest
from playwright.sync_api import Page

from server.core.planning import whiteboard
from server.data.session import LabSession
from server.people.actions import add_section, enter_students, form_section_groups
from server.rotations.actions import add_rotation, keep_plan, plan_question
from tests.browser.conftest import Open
from tests.casts import MORNING
from tests.rotations.rooms import furnish

pytestmark = pytest.mark.browser

InLab = Callable[[], AbstractContextManager[LabSession]]
# A4 on its side within margins of 10 mm, at 96 px to the inch.
SHEET_WIDTH_PX, SHEET_HEIGHT_PX = 277 / 25.4 * 96, 190 / 25.4 * 96


@pytest.fixture
def large(in_lab: InLab) -> str:
    """The address of the sheet of 20 groups that make two plates each."""
    with in_lab() as session:
        furnish(session)
        section = add_section(session, name="Large")
        enter_students(
            session, section.id, tuple(f"Student {one}{two}" for one in "ABCDEFGH" for two in "ABCDE")
        )
        form_section_groups(session, section.id, size=2)
        rotation = add_rotation(
            session, section_id=section.id, name="Two plates", day=date(2027, 2, 16), starts=time(8), ends=time(22),
            plates_per_group=2, now=MORNING, zone="Europe/Berlin",
        )  # fmt: skip
        problem = plan_question(session, rotation.id)
        keep_plan(session, rotation.id, problem, whiteboard(problem), seed=1, now=MORNING)
        return f"/rotations/{rotation.id}/sheet"


def _top_and_bottom(page: Page, selector: str) -> tuple[float, float]:
    box = page.locator(selector).bounding_box()
    assert box is not None
    return box["y"], box["y"] + box["height"]


def test_the_drawing_of_twenty_groups_shares_the_first_sheet_with_its_heading(
    opened: Open, large: str
) -> None:
    page = opened("mira", width=round(SHEET_WIDTH_PX))
    page.goto(large)
    page.emulate_media(media="print")

    assert page.locator(".timeline-group").count() == 20
    heading, _ = _top_and_bottom(page, "h1")
    _, drawing_ends = _top_and_bottom(page, "#timeline")
    assert drawing_ends - heading <= SHEET_HEIGHT_PX
    name_begins, _ = _top_and_bottom(page, ".timeline-names .timeline-group >> nth=19")
    row_begins, row_ends = _top_and_bottom(page, ".timeline-plot .timeline-visit >> nth=-1")
    assert row_begins <= name_begins <= row_ends, "the last group's name stands beside its boxes"


def test_each_wall_sheet_begins_on_paper_of_its_own(opened: Open, large: str) -> None:
    page = opened("mira")
    page.goto(large)
    page.emulate_media(media="print")

    breaks = page.locator("h2").evaluate_all("all => all.map(one => getComputedStyle(one).breakBefore)")
    assert breaks == ["page"] * 6
