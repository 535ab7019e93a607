"""No student's name leaves the staff's pages."""

import re

import pytest
from fastapi.routing import APIRoute

from server.app import FEATURES
from tests.casts import STUDENTS
from tests.conftest import Visitor
from tests.test_access import Walk, walk_through

ROUTES = [route for feature in FEATURES for route in feature.routes if isinstance(route, APIRoute)]
PAGES = [route for route in ROUTES if "GET" in (route.methods or set())]
# The only pages with names, all for staff at a desk: everything else may hang on a wall or lie beside a tray.
WITH_NAMES = {
    "students.section", "students.student", "students.consents", "students.adjustments", "activities.roles",
    "marks.section", "marks.student", "marks.file",
}  # fmt: skip
NEVER_ENDING = {"callings.feed"}


pytestmark = pytest.mark.furnished.with_args(walk_through)


@pytest.fixture
def walk(furnished: Walk) -> Walk:
    return furnished


def _named(text: str) -> list[str]:
    """Students whose first or family name stands in the text, whoever it is."""
    return [part for name in STUDENTS for part in name.split() if re.search(rf"\b{part}\b", text)]


def test_a_tablet_reads_no_student_s_name_anywhere(tablet: Visitor, walk: Walk) -> None:
    read = 0
    for route in PAGES:
        if route.name in NEVER_ENDING:
            continue
        answer = tablet.get(walk.address(route))
        read += answer.status_code == 200
        assert _named(answer.text) == [], route.name

    assert read > 6


def test_of_all_pages_only_those_for_a_desk_show_names(mira: Visitor, walk: Walk) -> None:
    named = {
        route.name
        for route in PAGES
        if route.name not in NEVER_ENDING and _named(mira.get(walk.address(route)).text)
    }

    assert named == WITH_NAMES


def test_the_role_sheet_has_codes_that_tell_sections_apart(mira: Visitor, walk: Walk) -> None:
    (route,) = (route for route in PAGES if route.name == "activities.role_sheet")

    assert "Tue-G1-a" in mira.get(walk.address(route)).text
