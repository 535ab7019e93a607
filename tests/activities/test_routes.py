"""Roles and activities over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, time

import pytest
from bs4 import BeautifulSoup

from server.activities.actions import add_usual_activities
from server.activities.queries import find_kept
from server.core.planning import whiteboard
from server.data.session import LabSession
from server.rotations.actions import SEED, add_rotation, keep_plan, plan_question, publish, set_plates
from server.rotations.queries import get_rotation, list_group_plates
from tests.casts import MORNING, STUDENTS, Cast
from tests.conftest import Visitor
from tests.reading import text_of
from tests.rotations.rooms import furnish

InLab = Callable[[], AbstractContextManager[LabSession]]


def _rows(page: BeautifulSoup, label: str) -> list[list[str]]:
    """The cells of the table in the region of this name."""
    return [
        [" ".join(cell.get_text(" ").split()) for cell in row.select("th, td")]
        for row in page.select(f"[aria-label='{label}'] tbody tr")
    ]


def _card(page: BeautifulSoup, title: str) -> list[list[str]]:
    (card,) = (
        table
        for table in page.select(".cards table")
        if (table.caption or table).get_text().strip().split(",")[0] == title
    )
    return [
        [" ".join(cell.get_text(" ").split()) for cell in row.select("th, td")]
        for row in card.select("tbody tr")
    ]


@dataclass(frozen=True)
class Planning:
    """Plans rotations of “Tuesday” (three pairs) in the cellar lab's room, in rounds by hand."""

    in_lab: InLab
    section_id: int

    def rotation(
        self,
        *,
        plates: int = 2,
        day: date = date(2027, 2, 16),
        published: bool = True,
        talk_s: int = 0,
        reserve_rounds: int = 0,
    ) -> int:
        with self.in_lab() as session:
            added = add_rotation(
                session, section_id=self.section_id, name="First plates", day=day, starts=time(10), ends=time(14),
                plates_per_group=plates, now=MORNING, zone="Europe/Berlin",
            )  # fmt: skip
            added.talk_s, added.reserve_rounds = talk_s, reserve_rounds
            problem = plan_question(session, added.id)
            keep_plan(session, added.id, problem, whiteboard(problem), seed=SEED, now=MORNING)
            if published:
                publish(session, added.id, now=MORNING)
            return added.id

    def usual(self) -> None:
        with self.in_lab() as session:
            add_usual_activities(session, light_zone_id=None, still_zone_id=None)


@pytest.fixture
def planning(in_lab: InLab, cast: Cast) -> Planning:
    with in_lab() as session:
        furnish(session)
    return Planning(in_lab, cast.section_id)


def test_the_page_says_who_holds_which_role_for_each_plate(tomas: Visitor, planning: Planning) -> None:
    rows = _rows(tomas.page(f"/rotations/{planning.rotation()}/roles"), "Who does what")

    assert [(row[0], row[3:]) for row in rows if row[0].startswith("G2")] == [
        ("G2, plate 1", ["Tue-G2-a", "Tue-G2-b", "Tue-G2-b", "Tue-G2-a", "Tue-G2-b"]),
        ("G2, plate 2", ["Tue-G2-b", "Tue-G2-a", "Tue-G2-a", "Tue-G2-b", "Tue-G2-a"]),
    ]
    assert len(rows) == 6


def test_with_one_plate_for_a_pair_the_page_lists_who_misses_which(mira: Visitor, planning: Planning) -> None:
    page = mira.page(f"/rotations/{planning.rotation(plates=1)}/roles")

    assert _rows(page, "Who misses which")[:2] == [
        ["Tue-G1-a , Ada Quist", "shutter", "the group makes too few plates"],
        ["Tue-G1-b , Bo Lind", "loader, processor", "the group makes too few plates"],
    ]
    full = mira.page(f"/rotations/{planning.rotation(day=date(2027, 2, 23), published=False)}/roles")
    assert "Nobody: each student loads, exposes and processes once at least." in text_of(full)


def test_the_turns_go_on_in_the_section_s_next_rotation(mira: Visitor, planning: Planning) -> None:
    planning.rotation(plates=1)
    later = planning.rotation(plates=1, day=date(2027, 2, 23))

    (row,) = (
        row
        for row in _rows(mira.page(f"/rotations/{later}/roles"), "Who does what")
        if row[0].startswith("G1")
    )
    assert row[3:] == ["Tue-G1-b", "Tue-G1-a", "Tue-G1-a", "Tue-G1-b", "Tue-G1-a"]


def test_activities_take_up_the_waiting(mira: Visitor, planning: Planning) -> None:
    rotation = planning.rotation()
    bare = mira.page(f"/rotations/{rotation}/roles")
    planning.usual()
    filled = mira.page(f"/rotations/{rotation}/roles")

    assert "There is no activity yet" in text_of(bare)
    assert {row[1] for row in _rows(bare, "Waiting")} == {row[2] for row in _rows(bare, "Waiting")}
    assert [row[1] for row in _rows(filled, "Waiting")] == [row[1] for row in _rows(bare, "Waiting")]
    assert _card(filled, "G3")[0][2:] == ["", "safety talk"]
    assert "wait" in [line[3] for line in _card(bare, "G3")]


def test_a_student_s_sheet_has_the_clock_the_role_and_what_lies_between(
    mira: Visitor, planning: Planning
) -> None:
    planning.usual()
    page = mira.page(f"/rotations/{planning.rotation()}/roles/sheet")
    lines = _card(page, "Tue-G3-a")

    assert [line[2] for line in lines if "plate 1" in line[3]][:3] == ["everybody", "loader", "processor"]
    first = next(line for line in lines if line[2] == "everybody")
    assert first[2:] == ["everybody", "align, plate 1 at S1"]
    assert "safety talk" in [line[3] for line in lines]
    assert any(line[2:] == ["shutter", "settle, expose, plate 2 at S2"] for line in lines)
    assert any(line[2:] == ["recorder", "write the run note, plate 2"] for line in lines)


def test_the_printed_sheet_has_codes_and_no_names(mira: Visitor, planning: Planning) -> None:
    rotation = planning.rotation()
    sheet = mira.get(f"/rotations/{rotation}/roles/sheet").text
    page = mira.get(f"/rotations/{rotation}/roles").text

    assert [name for name in STUDENTS if name in page] == list(STUDENTS)
    assert [name for name in STUDENTS if name in sheet] == []
    assert "Tue-G1-a" in sheet


def test_who_is_away_holds_no_role_and_who_keeps_to_the_light_none_in_the_dark(
    mira: Visitor, planning: Planning
) -> None:
    planning.usual()
    address = f"/rotations/{planning.rotation()}/roles"
    page = mira.page(f"{address}?away=Tue-G1-a&lit=Tue-G2-b&away=Tue-G9-x")
    rows = {row[0]: row[3:] for row in _rows(page, "Who does what")}

    assert rows["G1, plate 1"] == ["Tue-G1-b"] * 5
    assert rows["G2, plate 2"] == ["Tue-G2-a"] * 4 + ["Tue-G2-b"]
    assert ["Tue-G1-a , Ada Quist", "loader, shutter, processor", "away"] in _rows(page, "Who misses which")
    assert "G1 has fewer than two students for the dark" in text_of(page)
    assert "Tue-G9-x" not in text_of(page)
    sheet = mira.page(str(page.select_one(".actions a.button")["href"]))  # type: ignore[index]
    assert "Tue-G1-a" not in text_of(sheet)
    in_the_dark = {"load", "settle", "expose", "develop"}
    assert not in_the_dark & {line[3].split(",")[0].split(" at ")[0] for line in _card(sheet, "Tue-G2-b")}
    assert {"everybody", "recorder", ""} == {line[2] for line in _card(sheet, "Tue-G2-b")}


def test_who_is_written_down_as_away_or_has_not_signed_needs_no_tick(
    mira: Visitor, planning: Planning, cast: Cast
) -> None:
    address = f"/rotations/{planning.rotation()}/roles"
    mira.submit(f"/people/sections/{cast.section_id}/students/1/away", is_away="true")
    mira.submit(
        f"/people/sections/{cast.section_id}/consents", ticks=[], before=["safety-4"], on_day="2027-02-16"
    )
    page = mira.page(f"{address}?away=Tue-G3-a")
    rows = {row[0]: row[3:] for row in _rows(page, "Who does what")}

    assert rows["G1, plate 1"] == ["Tue-G1-b"] * 5
    assert rows["G2, plate 1"] == ["Tue-G2-a"] * 4 + ["Tue-G2-b"]
    assert rows["G3, plate 1"] == ["Tue-G3-b"] * 5
    offered = [str(box["value"]) for box in page.select("[name=away]")]
    assert "Tue-G1-a" not in offered
    assert "Tue-G2-b" not in [str(box["value"]) for box in page.select("[name=lit]")]
    assert str(page.select_one(".actions a.button")["href"]).endswith("?away=Tue-G3-a")  # type: ignore[index]


def test_a_talk_for_everybody_stands_first_and_is_not_given_again(mira: Visitor, planning: Planning) -> None:
    planning.usual()
    page = mira.page(f"/rotations/{planning.rotation(talk_s=480)}/roles")

    assert _card(page, "G1")[0][2:] == ["everybody", "talk"]
    assert "safety talk" not in {line[3] for line in _card(page, "G3")}


def test_rounds_kept_for_repeats_wait_for_nobody_but_keep_their_darkness(
    mira: Visitor, planning: Planning, in_lab: InLab
) -> None:
    rotation = planning.rotation(plates=1, reserve_rounds=1)
    page = mira.page(f"/rotations/{rotation}/roles")
    with in_lab() as session:
        kept = find_kept(session, get_rotation(session, rotation))

    assert [row[0] for row in _rows(page, "Waiting")] == ["G1", "G2", "G3"]
    assert kept is not None
    repeats = [one for one in kept.busy if one.group not in kept.groups]
    assert any(one.light == "dark" for one in repeats)
    assert kept.spans[-1][1] == max(one.end_s for one in kept.busy if one.group in kept.groups)
    assert kept.spans[-1][1] < max(one.end_s for one in repeats)


def test_a_rotation_without_a_plan_has_no_roles_yet(mira: Visitor, planning: Planning, cast: Cast) -> None:
    with planning.in_lab() as session:
        draft = add_rotation(
            session, section_id=cast.section_id, name="Draft", day=date(2027, 2, 16), starts=time(10), ends=time(12),
            plates_per_group=1, now=MORNING, zone="Europe/Berlin",
        ).id  # fmt: skip

    assert "There is no plan with a plate in it yet" in text_of(mira.page(f"/rotations/{draft}/roles"))
    assert "There is nothing to print yet" in text_of(mira.page(f"/rotations/{draft}/roles/sheet"))


def test_a_rotation_changed_since_its_plan_says_so(mira: Visitor, planning: Planning) -> None:
    rotation = planning.rotation(published=False)
    with planning.in_lab() as session:
        asked = list_group_plates(session, rotation)[0]
        set_plates(session, rotation, {asked.group_id: 1})

    assert "was changed after this plan was made" in text_of(mira.page(f"/rotations/{rotation}/roles"))


def test_the_rotation_leads_to_its_roles(mira: Visitor, planning: Planning) -> None:
    rotation = planning.rotation()

    assert mira.page(f"/rotations/{rotation}").select_one(f"a[href='/rotations/{rotation}/roles']")


def test_a_lab_begins_with_the_usual_activities_in_its_own_zones(mira: Visitor, planning: Planning) -> None:
    page = mira.page("/activities")
    zone = next(str(one["value"]) for one in page.select("#usual_light_zone_id option") if one.text == "room")
    page = mira.submit("/activities/usual", usual_light_zone_id=zone)
    rows = {row[0]: row[1:] for row in _rows(page, "Activities")}

    assert len(rows) == 10
    assert rows["safety talk"] == [
        "8 to 10 min (assumed)", "once, before all others", "any number", "room", "any light, people sit"
    ]  # fmt: skip
    assert rows["interferometer watch"][1:3] == ["as often as there is time", "1"]
    again = mira.submit("/activities/usual", 409)
    assert "has activities already" in text_of(again)


def test_an_activity_is_added_changed_and_removed(mira: Visitor) -> None:
    page = mira.submit("/activities", name="fringe hunt", shortest_min="5", longest_min="9", at_once="2")
    assert _rows(page, "Activities") == [
        ["fringe hunt", "5 to 9 min", "once", "2", "elsewhere", "white light, people sit"]
    ]
    address = str(page.select_one("tbody a")["href"])  # type: ignore[index]
    assert mira.page(address).select_one("#longest_min")["value"] == "9"  # type: ignore[index]
    page = mira.submit(
        address, name="fringe hunt", shortest_min="5", longest_min="5", repeatable="true", light="any"
    )
    assert _rows(page, "Activities") == [
        [
            "fringe hunt",
            "5 min",
            "as often as there is time",
            "any number",
            "elsewhere",
            "any light, people sit",
        ]
    ]
    page = mira.submit(f"{address}/remove")
    assert "There is no activity yet" in text_of(page)
    assert "There is no such activity" in text_of(mira.page(address, 404))


def test_the_minutes_of_a_changed_activity_are_no_longer_assumed(mira: Visitor, planning: Planning) -> None:
    planning.usual()
    page = mira.page("/activities")
    address = str(page.select_one("tbody a")["href"])  # type: ignore[index]
    assert "are assumed until you save your own" in text_of(mira.page(address))
    page = mira.submit(
        address, name="safety talk", shortest_min="8", longest_min="8", opens="true", light="any"
    )

    assert _rows(page, "Activities")[0][1] == "8 min"


def test_a_second_activity_of_the_same_name_is_refused_with_a_sentence(mira: Visitor) -> None:
    mira.submit("/activities", name="quiz", shortest_min="5", longest_min="9")
    page = mira.submit("/activities", 409, name="quiz", shortest_min="5", longest_min="9")

    assert "already an activity called “quiz”" in text_of(page)


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("shortest_min", "0", "1 or more"),
        ("shortest_min", "five", "whole number"),
        ("longest_min", "4", "must not be below the shortest"),
        ("longest_min", "481", "480 or less"),
        ("at_once", "0", "1 or more"),
        ("name", "", "fill this in"),
        ("light", "purple", "choose one of the list"),
    ],
)
def test_bad_input_is_shown_again_with_its_sentence(
    mira: Visitor, field: str, typed: str, sentence: str
) -> None:
    fields = {"name": "quiz", "shortest_min": "5", "longest_min": "9", field: typed}
    page = mira.submit("/activities", 422, **fields)

    assert sentence in text_of(page)
    mira.submit("/activities", name="worksheet", shortest_min="5", longest_min="9")
    address = str(mira.page("/activities").select_one("tbody a")["href"])  # type: ignore[index]
    assert sentence in text_of(mira.submit(address, 422, **fields))


def test_only_an_instructor_changes_activities(tomas: Visitor, planning: Planning) -> None:
    planning.usual()
    page = tomas.page("/activities")

    assert page.select_one("form[action^='/activities']") is None
    assert page.select_one("tbody a") is None
    assert "Only an instructor" in text_of(tomas.submit("/activities", 403, name="quiz"))
