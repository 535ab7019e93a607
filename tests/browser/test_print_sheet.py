"""The print sheet of a large class on paper."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date, time
from itertools import combinations
from typing import Any

import pytest

from server.core.planning import whiteboard
from server.data.session import LabSession
from server.people.actions import add_section, enter_students, form_section_groups
from server.rotations.actions import add_rotation, keep_plan, plan_question
from tests.browser.conftest import Open
from tests.casts import MORNING
from tests.rotations.rooms import furnish

pytestmark = pytest.mark.browser

InLab = Callable[[], AbstractContextManager[LabSession]]
# Paper on its side within margins of 10 mm, at 96 px to the inch.
PAPERS = {
    "A4": (277 / 25.4 * 96, 190 / 25.4 * 96),
    "Letter": ((11 * 25.4 - 20) / 25.4 * 96, (8.5 * 25.4 - 20) / 25.4 * 96),
}


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


# What a wall sheet's words and a table's are to be at least, in px: 7 and 10 points.
SMALLEST_WORDS_PX, SMALLEST_TABLE_PX = 7 / 72 * 96, 10 / 72 * 96

HEIGHTS = """() => [...document.querySelectorAll('.timeline-sheet')].map((sheet, at) =>
    sheet.getBoundingClientRect().bottom -
    (at ? sheet : document.querySelector('h1')).getBoundingClientRect().top)"""
WORDS = """() => [...document.querySelectorAll('.timeline svg')].map(svg => {
    const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    const frame = svg.getBoundingClientRect();
    return [...svg.querySelectorAll('text')].map(text => {
        const box = text.getBoundingClientRect();
        return {
            words: text.textContent, size: parseFloat(getComputedStyle(text).fontSize) * scale,
            inside: box.left >= frame.left - 1 && box.right <= frame.right + 1,
            box: [box.left, box.top + box.height * 0.2, box.right, box.bottom - box.height * 0.2],
        };
    });
})"""


def _in_each_other_s_way(words: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """Pairs of texts whose letters meet; a line's upper and lower fifth are empty."""
    found = []
    for one, other in combinations(words, 2):
        left, top, right, bottom = one["box"]
        if (
            left < other["box"][2] - 0.5
            and other["box"][0] < right - 0.5
            and top < other["box"][3]
            and other["box"][1] < bottom
        ):
            found.append((one["words"], other["words"]))
    return found


@pytest.mark.parametrize("paper", PAPERS)
def test_the_drawing_of_twenty_groups_is_read_on_a_wall(opened: Open, large: str, paper: str) -> None:
    width, height = PAPERS[paper]
    page = opened("mira", width=int(width))
    page.goto(large)
    page.emulate_media(media="print")

    heights = page.evaluate(HEIGHTS)
    assert len(heights) > 1
    assert max(heights) <= height, "each piece of the drawing stands on one sheet with its heading"
    assert page.evaluate("document.documentElement.scrollWidth") <= int(width)
    for words in page.evaluate(WORDS):
        assert min(word["size"] for word in words) >= SMALLEST_WORDS_PX
        assert [word["words"] for word in words if not word["inside"]] == []
        assert _in_each_other_s_way(words) == []


def test_a_group_s_name_stands_beside_its_boxes(opened: Open, large: str) -> None:
    page = opened("mira", width=int(PAPERS["A4"][0]))
    page.goto(large)
    page.emulate_media(media="print")

    name = page.locator(".timeline-names .timeline-group >> nth=0").bounding_box()
    row = page.locator(".timeline-plot .timeline-visit >> nth=0").bounding_box()
    assert name is not None
    assert row is not None
    assert row["y"] <= name["y"] + name["height"] / 2 <= row["y"] + row["height"]


def test_each_sheet_begins_on_paper_of_its_own_and_says_of_which_plan_it_is(opened: Open, large: str) -> None:
    page = opened("mira")
    page.goto(large)
    page.emulate_media(media="print")

    breaks = "all => all.map(one => getComputedStyle(one).breakBefore)"
    assert page.locator("h2").evaluate_all(breaks) == ["page"] * 6
    assert set(page.locator(".timeline-sheet + .timeline-sheet").evaluate_all(breaks)) == {"page"}
    version = "plan of Tue 16 Feb 2027, 08:00"
    for part in (".timeline-sheet > .sheet-of", ".slips caption", ".wall-table thead tr:first-child"):
        said = page.locator(part).all_inner_texts()
        assert said
        assert [words for words in said if version not in words or "Large" not in words] == []
    sizes = page.locator("td, th").evaluate_all(
        "all => all.map(one => parseFloat(getComputedStyle(one).fontSize))"
    )
    assert min(sizes) >= SMALLEST_TABLE_PX - 0.01


def test_on_a_phone_the_drawing_scrolls_and_its_names_stay(opened: Open, large: str) -> None:
    page = opened("mira", width=390)
    page.goto(large.removesuffix("/sheet"))
    page.locator(".timeline-scroll").evaluate("one => one.scrollTo(600, 0)")

    name = page.locator(".timeline-names").bounding_box()
    assert name is not None
    assert 0 <= name["x"] <= 32
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    for words in page.evaluate(WORDS):
        assert _in_each_other_s_way(words) == []
