"""Marks and rubrics over HTTP."""

import csv
import io
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.core.rubric import By
from server.data.session import LabSession
from server.marks.actions import mark_by
from server.marks.queries import list_marks
from server.people.actions import remove_student
from server.people.models import Student
from server.students.actions import erase_names, move_student
from tests.callings.calls import at
from tests.casts import Cast
from tests.conftest import Running, Visitor
from tests.marks.marking import (
    LAB,
    asked,
    class_held,
    criteria_of,
    marked_by_a_rubric,
    students_of,
    tap,
)
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def section(in_lab: InLab, cast: Cast) -> str:
    """The address of the marks of “Tuesday”, which is marked by the small rubric."""
    with in_lab() as session:
        marked_by_a_rubric(session, cast.section_id)
    return f"/marks/sections/{cast.section_id}"


@pytest.fixture
def ada(section: str, in_lab: InLab, cast: Cast) -> str:
    with in_lab() as session:
        return f"{section}/students/{students_of(session, cast.section_id)[0]}"


def _rows(page: BeautifulSoup, label: str = "Students") -> list[list[str]]:
    return [
        [" ".join(cell.get_text(" ").split()) for cell in row.select("th, td")]
        for row in page.select(f"[aria-label='{label}'] tbody tr")
    ]


def _levels(page: BeautifulSoup, criterion: str) -> dict[str, dict[str, Any]]:
    """What each level's button of a criterion sends, by its points."""
    (form,) = (one for one in page.select("form.levels") if text_of(one.legend) == criterion)  # type: ignore[arg-type]
    of = str(form.select_one("input[name=criterion_id]")["value"])  # type: ignore[index]
    return {
        str(button["data-key"]): {"criterion_id": of, "level_id": str(button["value"])}
        for button in form.select("button[data-key]")
    }


def _tap(visitor: Visitor, address: str, criterion: str, points: str) -> BeautifulSoup:
    return visitor.submit(f"{address}/levels", **_levels(visitor.page(address), criterion)[points])


def _table(visitor: Visitor, section: str) -> list[dict[str, str]]:
    answer = visitor.get(f"{section}/marks.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))


def test_an_instructor_begins_with_the_usual_rubric_and_marks_a_student(mira: Visitor, cast: Cast) -> None:
    assert "Theory 30, technique 60" in text_of(mira.page("/marks/rubrics"))
    page = mira.submit("/marks/rubrics/usual")
    assert "Everything in it is assumed" in text_of(page)
    address = f"/marks/sections/{cast.section_id}"
    page = mira.submit(address, rubric_id=1, notes_within_min=20)

    assert "0 of 6 marked" in text_of(page)
    student = address + "/students/" + str(page.select_one("[aria-label=Students] a")["href"]).split("/")[-1]  # type: ignore[index]
    for criterion, points in (
        ("Theory", "3"),
        ("Hands and stillness", "4"),
        ("The plate", "2"),
        ("Run notes", "4"),
    ):
        page = _tap(mira, student, criterion, points)
    assert "4 of 5 criteria marked" in text_of(page)
    assert "72.5 of the 90 weighed so far" in text_of(page)
    page = _tap(mira, student, "Analysis", "2")

    assert "77.5 %" in text_of(page)
    assert "1 of 6 marked" in text_of(mira.page("/marks"))
    assert _rows(mira.page(address))[1][2:4] == ["", "2 of 5"]


def test_only_a_tapped_level_is_pressed_and_it_can_be_taken_back(mira: Visitor, ada: str) -> None:
    page = _tap(mira, ada, "theory", "3")
    pressed = [str(one["data-key"]) for one in page.select("button[aria-pressed=true]")]
    assert pressed == ["3"]
    assert "3 of 4 points: 30 × 3 ÷ 4 = 22.5" in text_of(page)

    sent = _levels(page, "theory")["3"]
    page = mira.submit(f"{ada}/levels", criterion_id=sent["criterion_id"], level_id="")
    assert page.select("button[aria-pressed=true]") == []
    assert "theory, taken back" in text_of(page)


def test_a_part_alone_comes_back_where_the_page_is_open(mira: Visitor, ada: str) -> None:
    sent = _levels(mira.page(ada), "theory")["3"]
    answer = mira.post(
        f"{ada}/levels", data=sent, headers={"HX-Request": "true", "HX-Request-Type": "partial"}
    )

    assert BeautifulSoup(answer.text, "html.parser").find("html") is None
    assert "1 of 3" in answer.text


def test_an_override_needs_its_reason_and_stays_visible(mira: Visitor, ada: str) -> None:
    criterion = _levels(mira.page(ada), "theory")["3"]["criterion_id"]
    fields: dict[str, Any] = {"own_criterion_id": criterion, "points": "2.5", "reason": ""}
    page = mira.submit(f"{ada}/points", 422, **fields)
    assert "Please fill this in." in text_of(page)
    assert typed_in(page, "points") == "2.5"

    page = mira.submit(f"{ada}/points", **{**fields, "reason": "explained it at the board"})
    assert "Overridden: 2.5 points of their own: explained it at the board" in text_of(page)
    assert "2.5 of 4 points" in text_of(page)
    assert "from 0 to 4" in text_of(
        mira.submit(f"{ada}/points", 409, **{**fields, "points": "5", "reason": "x"})
    )


def test_the_evidence_stands_beside_the_criteria(
    mira: Visitor, server: Running, ada: str, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        held = class_held(session, cast.section_id)
        held.run(session, 15)
        held.run(session, 60, emulsion_by="a")
    server.clock.instant = at(90)
    page = mira.page(ada)

    assert [row[1:] for row in _rows(page, "Plates")] == [
        ["loader, processor", "waiting", "none", "on time, 1 min 45 s after the exposure"],
        [
            "shutter, caller, recorder, checked the emulsion side",
            "waiting",
            "none",
            "late, 40 min 45 s after the exposure",
        ],
    ]
    assert "Notes in time 1 of 2" in text_of(page)
    assert "To make up nothing" in text_of(page)

    page = mira.submit(f"{ada}/absences", rotation_id=held.rotation_id, was_away="true")
    assert "Was away" in text_of(page)
    assert "To make up loading, exposing, processing" in text_of(page)
    page = mira.submit(f"{ada}/absences", rotation_id=held.rotation_id, was_away="false")
    assert "To make up nothing" in text_of(page)


def test_a_plate_without_a_note_is_not_in_time_once_its_time_is_over(
    mira: Visitor, server: Running, ada: str, in_lab: InLab, cast: Cast
) -> None:
    """The shutters were planned to close at 09:13:15, 09:19:15 and 09:25:15, and only the first plate has a note."""
    with in_lab() as session:
        class_held(session, cast.section_id, rounds=3).run(session, 15)
    server.clock.instant = at(48)
    assert "Notes in time 1 of 1" in text_of(mira.page(ada))
    server.clock.instant = at(90)
    page = mira.page(ada)

    assert "Notes in time 1 of 3" in text_of(page)
    assert "No note of plates 2, 3." in text_of(page)


def test_who_is_in_no_group_has_not_done_everything(
    mira: Visitor, server: Running, section: str, ada: str, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        held = class_held(session, cast.section_id)
        move_student(session, cast.section_id, int(ada.rsplit("/", 1)[1]), group_id=None)
        held.run(session, 15)
    server.clock.instant = at(90)

    assert "To make up no group" in text_of(mira.page(ada))
    assert [row["to make up"] for row in _table(mira, section) if row["name"] == "Ada Quist"] == ["no group"]


def test_without_a_class_nobody_has_anything_to_make_up(mira: Visitor, section: str) -> None:
    page = mira.page(section)

    assert [row[-1] for row in _rows(page)] == [""] * 6
    assert "nobody has anything to make up" in text_of(page)


def test_the_table_holds_every_criterion_and_what_was_done(
    mira: Visitor, server: Running, section: str, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        held = class_held(session, cast.section_id, rounds=1)
        held.run(session, 15)
        ada, bo, *_others = students_of(session, cast.section_id)
        for name, points in (("theory", 3), ("technique", 1), ("analysis", 5)):
            tap(session, cast.section_id, ada, name, points)
        student = session.get(Student, bo)
        assert student is not None
        student.name = "=HYPERLINK(1)"
    server.clock.instant = at(90)
    first, second, *_rest = _table(mira, section)

    assert first["code"].endswith("G1-a")
    assert list(first.values())[1:8] == ["Ada Quist", "62.5", "3 of 3", "3", "1", "5", ""]
    assert list(first.values())[8:] == ["first, plate 1: loader, processor", "exposing", "", "1", "1 of 1"]
    assert second["name"] == "'=HYPERLINK(1)"
    assert list(second.values())[2:7] == ["", "1 of 3", "", "1", ""]


def test_the_table_keeps_marks_by_code_when_a_name_is_gone(
    mira: Visitor, section: str, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        ada, bo, *_others = students_of(session, cast.section_id)
        tap(session, cast.section_id, ada, "theory", 3)
        tap(session, cast.section_id, bo, "theory", 4)
        remove_student(session, cast.section_id, ada)
        session.flush()
        erase_names(session, [cast.section_id], now=at(90))
    rows = _table(mira, section)

    (erased,) = (row for row in rows if row["code"].endswith("G1-b"))
    assert (erased["name"], erased["theory: points of 4, weight 30"]) == ("", "4")
    assert rows[-1]["code"].endswith("G1-a")
    assert rows[-1]["theory: points of 4, weight 30"] == "3"
    assert "kept by their codes" in text_of(mira.page(section))


def test_two_who_left_with_the_same_code_keep_their_own_marks(
    mira: Visitor, section: str, in_lab: InLab, cast: Cast
) -> None:
    """Ada is G1-a and leaves; Bo is put into G2 and back, becomes G1-a, and leaves too."""
    with in_lab() as session:
        ada, bo, *_others = students_of(session, cast.section_id)
        tap(session, cast.section_id, ada, "theory", 3)
        remove_student(session, cast.section_id, ada)
        for group_id in (cast.group_ids[1], cast.group_ids[0]):
            move_student(session, cast.section_id, bo, group_id=group_id)
            session.flush()
        tap(session, cast.section_id, bo, "analysis", 5)
        remove_student(session, cast.section_id, bo)
    gone = [row for row in _table(mira, section) if row["name"] == ""]

    assert [row["code"][-4:] for row in gone] == ["G1-a", "G1-a"]
    assert [(row["theory: points of 4, weight 30"], row["criteria marked"]) for row in gone] == [
        ("3", "1 of 3"),
        ("", "1 of 3"),
    ]


LINES: dict[str, Any] = {
    "name": ["theory", "technique", ""],
    "weight": ["40", "60", ""],
    "by": ["student", "group", "student"],
    "position": ["20", "10", "30"],
    "says": ["", "at the bench", ""],
    "points_1": ["0", "0", ""],
    "says_1": ["nothing", "", ""],
    "points_2": ["2.5", "1", ""],
    "says_2": ["all of it", "", ""],
    **{f"{what}_{number}": ["", "", ""] for what in ("points", "says") for number in (3, 4, 5)},
}


def _new_rubric(visitor: Visitor) -> str:
    page = visitor.submit("/marks/rubrics", name="first year")
    return str(page.find("form", {"novalidate": True})["action"])  # type: ignore[index]


def test_a_rubric_is_written_read_and_changed(mira: Visitor, in_lab: InLab, cast: Cast) -> None:
    address = _new_rubric(mira)
    page = mira.submit(address, **LINES)
    headings = [text_of(one) for one in page.select("h2")]
    assert headings[:2] == ["technique", "theory"]
    assert "Weight 60 of 100, marked for a group together" in text_of(page)

    form = mira.page(address)
    assert [field["value"] for field in form.select("input[name=weight]")] == ["60", "40", "", ""]
    with in_lab() as session:
        criteria = _marked_by_the_first(session, cast)
        tap(session, cast.section_id, students_of(session, cast.section_id)[0], criteria[0], 1)
    assert "becomes edition 2" in text_of(mira.page(address))
    changed = {**LINES, "weight": ["30", "60", ""]}
    assert "Say in a few words why" in text_of(mira.submit(address, 409, **changed))
    page = mira.submit(address, **changed, note="less theory")
    assert "Edition 2" in text_of(page)
    old = mira.page(address.replace("next-edition", "editions/1"))
    assert "This edition is not the latest one" in text_of(old)
    section = mira.page(f"/marks/sections/{cast.section_id}")
    assert "stays with edition 1 until you choose" in text_of(section)


def _marked_by_the_first(session: LabSession, cast: Cast) -> list[str]:
    """The section is marked by the only rubric there is; its criteria."""
    mark_by(session, cast.section_id, rubric_id=1, notes_within_s=60, by="Mira", now=at(0))
    session.flush()
    return list(criteria_of(session, cast.section_id))


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("name", ["", "technique", ""], "Please name it"),
        ("name", ["technique", "Technique", ""], "stands here twice"),
        ("weight", ["", "60", ""], "Please write its weight"),
        ("weight", ["heavy", "60", ""], "Please write a number"),
        ("weight", ["0", "60", ""], "weighs nothing"),
        ("points_2", ["", "1", ""], "Please write this level's points"),
        ("points_1", ["2.5", "0", ""], "Two levels have the same points"),
        ("points_1", ["-1", "0", ""], "Please write 0 or more"),
        ("by", ["everybody", "group", ""], "Please choose one of the list"),
    ],
)
def test_a_fault_stands_beside_its_field_and_the_typed_text_stays(
    mira: Visitor, field: str, typed: list[str], words: str
) -> None:
    page = mira.submit(_new_rubric(mira), 422, **{**LINES, field: typed})

    assert words in text_of(page)
    if field != "by":
        assert [one["value"] for one in page.select(f"input[name={field}]")][:2] == typed[:2]


def test_what_changes_between_rubrics_is_marked_anew(
    mira: Visitor, section: str, in_lab: InLab, cast: Cast
) -> None:
    with in_lab() as session:
        ada = students_of(session, cast.section_id)[0]
        tap(session, cast.section_id, ada, "theory", 3)
        marked_by_a_rubric(
            session, cast.section_id, (LAB[0], asked("care", 70, 0, 1, by=By.GROUP)), name="other"
        )
    assert _rows(mira.page(section))[0][3] == "1 of 2"
    with in_lab() as session:
        assert len(list_marks(session, cast.section_id)) == 2


def test_a_technician_sees_no_marks_and_no_door_to_them(tomas: Visitor, section: str) -> None:
    assert "Only an instructor" in text_of(tomas.page(section, 403))
    assert tomas.page("/").select("nav a[href='/marks']") == []
