"""Writing rubrics and giving marks."""

from fractions import Fraction

import pytest
from sqlmodel import select

from server.core.rubric import By, total
from server.data.session import LabSession
from server.marks.actions import (
    USUAL_CRITERIA,
    add_rubric,
    add_usual_rubric,
    give_level,
    give_own_points,
    mark_by,
    write_edition,
)
from server.marks.models import Mark
from server.marks.queries import (
    Standing,
    find_marking,
    get_edition,
    list_criteria,
    list_editions,
    list_marks,
    points_of,
    standing_marks,
)
from server.people.actions import form_section_groups, remove_student
from server.refusal import NotFound, Refusal
from tests.callings.calls import NINE
from tests.casts import MORNING, Cast
from tests.marks.marking import (
    LAB,
    asked,
    criteria_of,
    marked_by_a_rubric,
    students_of,
    tap,
)


def _points(session: LabSession, cast: Cast, student_id: int, name: str) -> Fraction | None:
    kept = criteria_of(session, cast.section_id)[name]
    standing = standing_marks(list_marks(session, cast.section_id))
    return points_of(standing.get((student_id, kept.row.id), Standing()), kept)


def test_the_usual_rubric_weighs_theory_technique_and_analysis_as_published(session: LabSession) -> None:
    """Berkeley's advanced laboratory: 30 % theory, 60 % technique, 10 % analysis."""
    rubric = add_usual_rubric(session, by="Mira", now=MORNING)
    edition = list_editions(session, rubric.id)[0]
    weights = [kept.core.weight for kept in list_criteria(session, edition.id)]

    assert edition.is_assumed
    assert [weights[0], sum(weights[1:4]), weights[4]] == [30, 60, 10]
    assert total([one.core for one in USUAL_CRITERIA], {}).full == 100


def test_an_edition_that_nobody_was_marked_by_is_written_anew(session: LabSession, cast: Cast) -> None:
    rubric = marked_by_a_rubric(session, cast.section_id)
    write_edition(session, rubric, LAB[:2], note="", by="Mira", now=MORNING)

    assert [edition.number for edition in list_editions(session, rubric)] == [1]
    assert list(criteria_of(session, cast.section_id)) == ["theory", "technique"]


def test_a_page_from_before_a_rubric_was_written_anew_marks_nothing(session: LabSession, cast: Cast) -> None:
    rubric = marked_by_a_rubric(session, cast.section_id)
    shown = criteria_of(session, cast.section_id)["theory"]
    write_edition(session, rubric, (LAB[2], LAB[0]), note="", by="Mira", now=MORNING)
    student, level = students_of(session, cast.section_id)[0], shown.levels[0].id

    with pytest.raises(NotFound, match="not marked by this criterion"):
        give_level(
            session, cast.section_id, student, criterion_id=shown.row.id, level_id=level, by="Mira", now=MORNING
        )  # fmt: skip
    written = [one.id for kept in criteria_of(session, cast.section_id).values() for one in kept.levels]
    assert not {one.id for one in shown.levels} & set(written)


def test_a_change_after_the_first_mark_is_a_new_edition_and_says_why(session: LabSession, cast: Cast) -> None:
    rubric = marked_by_a_rubric(session, cast.section_id)
    tap(session, cast.section_id, students_of(session, cast.section_id)[0], "theory", 3)

    with pytest.raises(Refusal, match="Say in a few words why"):
        write_edition(session, rubric, LAB[:2], note="", by="Mira", now=MORNING)
    write_edition(session, rubric, LAB[:2], note="no analysis this term", by="Mira", now=MORNING)

    assert [edition.number for edition in list_editions(session, rubric)] == [2, 1]
    assert list(criteria_of(session, cast.section_id)) == ["theory", "technique", "analysis"]


def test_an_unchanged_edition_a_doubtful_or_an_empty_one_is_refused(session: LabSession) -> None:
    rubric = add_rubric(session, name="lab")
    with pytest.raises(Refusal, match="at least one criterion"):
        write_edition(session, rubric.id, [], note="", by="Mira", now=MORNING)
    with pytest.raises(Refusal, match="stands here twice"):
        write_edition(session, rubric.id, [LAB[0], LAB[0]], note="", by="Mira", now=MORNING)
    write_edition(session, rubric.id, LAB, note="", by="Mira", now=MORNING)
    with pytest.raises(Refusal, match="Nothing is changed"):
        write_edition(session, rubric.id, LAB, note="again", by="Mira", now=MORNING)
    with pytest.raises(Refusal, match="called “LAB” already"):
        add_rubric(session, name="LAB")


def test_a_group_s_criterion_marks_all_its_members_and_a_student_s_only_one(
    session: LabSession, cast: Cast
) -> None:
    marked_by_a_rubric(session, cast.section_id)
    ada, bo, cleo, *_others = students_of(session, cast.section_id)

    assert tap(session, cast.section_id, bo, "technique", 2) == 2
    assert tap(session, cast.section_id, ada, "theory", 3) == 1

    assert [_points(session, cast, who, "technique") for who in (ada, bo, cleo)] == [2, 2, None]
    assert [_points(session, cast, who, "theory") for who in (ada, bo)] == [3, None]


def test_every_change_is_kept_and_the_latest_counts(session: LabSession, cast: Cast) -> None:
    marked_by_a_rubric(session, cast.section_id)
    ada = students_of(session, cast.section_id)[0]
    for points in (3, 1, None, 4):
        tap(session, cast.section_id, ada, "theory", points)
    assert tap(session, cast.section_id, ada, "theory", 4) == 0

    assert len(list_marks(session, cast.section_id)) == 4
    assert _points(session, cast, ada, "theory") == 4


def test_points_of_a_student_s_own_go_before_the_group_s_level_until_they_are_taken_back(
    session: LabSession, cast: Cast
) -> None:
    marked_by_a_rubric(session, cast.section_id)
    ada, bo, *_others = students_of(session, cast.section_id)
    technique = criteria_of(session, cast.section_id)["technique"].row.id
    own = {"criterion_id": technique, "by": "Mira", "now": MORNING}
    tap(session, cast.section_id, ada, "technique", 2)
    give_own_points(session, cast.section_id, bo, points=Fraction("1.5"), reason="came late", **own)  # type: ignore[arg-type]
    tap(session, cast.section_id, ada, "technique", 1)

    assert [_points(session, cast, who, "technique") for who in (ada, bo)] == [1, Fraction(3, 2)]

    give_own_points(session, cast.section_id, bo, points=None, reason="excused", **own)  # type: ignore[arg-type]
    assert _points(session, cast, bo, "technique") == 1
    with pytest.raises(Refusal, match="has no points of their own"):
        give_own_points(session, cast.section_id, bo, points=None, reason="again", **own)  # type: ignore[arg-type]
    with pytest.raises(Refusal, match="from 0 to 2 points"):
        give_own_points(session, cast.section_id, bo, points=Fraction(3), reason="splendid", **own)  # type: ignore[arg-type]


def test_marks_follow_no_regrouping(session: LabSession, cast: Cast) -> None:
    marked_by_a_rubric(session, cast.section_id)
    ada, bo, cleo, *_others = students_of(session, cast.section_id)
    tap(session, cast.section_id, ada, "technique", 2)
    form_section_groups(session, cast.section_id, size=3)

    assert [_points(session, cast, who, "technique") for who in (ada, bo, cleo)] == [2, 2, None]


def test_the_marks_of_who_leaves_the_list_stay_by_code(session: LabSession, cast: Cast) -> None:
    marked_by_a_rubric(session, cast.section_id)
    ada = students_of(session, cast.section_id)[0]
    tap(session, cast.section_id, ada, "theory", 3)
    remove_student(session, cast.section_id, ada)
    session.flush()
    session.expire_all()

    (mark,) = session.exec(select(Mark)).all()
    assert (mark.student_id, mark.code[-4:]) == (None, "G1-a")
    theory = criteria_of(session, cast.section_id)["theory"].row.id
    assert standing_marks([mark])[ada, theory].level == mark


def test_a_section_that_is_marked_by_the_next_edition_keeps_what_means_the_same(
    session: LabSession, cast: Cast
) -> None:
    """The weight of theory changes, technique gets another level, analysis stays, and care is new."""
    rubric = marked_by_a_rubric(session, cast.section_id)
    ada, bo, *_others = students_of(session, cast.section_id)
    for name, points in (("theory", 3), ("technique", 2), ("analysis", 5)):
        tap(session, cast.section_id, ada, name, points)
    analysis = criteria_of(session, cast.section_id)["analysis"].row.id
    give_own_points(
        session, cast.section_id, ada, criterion_id=analysis, points=Fraction(4), reason="too short", by="Mira", now=MORNING
    )  # fmt: skip
    changed = (
        asked("Theory", 20, 0, 1, 2, 3, 4),
        asked("technique", 60, 0, 1, 2, 3, by=By.GROUP),
        LAB[2],
        asked("care", 10, 0, 1),
    )
    write_edition(session, rubric, changed, note="care counts", by="Mira", now=MORNING)
    assert _points(session, cast, ada, "theory") == 3

    for _time in range(2):
        mark_by(session, cast.section_id, rubric_id=rubric, notes_within_s=600, by="Mira", now=MORNING)
        session.flush()

    marking = find_marking(session, cast.section_id)
    assert marking is not None
    assert get_edition(session, marking.edition_id).number == 2
    assert marking.notes_within_s == 600
    assert [_points(session, cast, ada, name) for name in ("Theory", "technique", "analysis", "care")] == [
        3, None, 4, None,
    ]  # fmt: skip
    assert _points(session, cast, bo, "technique") is None
    carried = [mark for mark in list_marks(session, cast.section_id) if "carried over" in mark.reason]
    assert [mark.reason for mark in carried if mark.is_own] == [
        "too short; carried over from edition 1 of “lab”"
    ]
    assert len(carried) == 3


def test_what_was_taken_back_under_another_rubric_stays_taken_back(session: LabSession, cast: Cast) -> None:
    first = marked_by_a_rubric(session, cast.section_id)
    ada = students_of(session, cast.section_id)[0]
    theory = criteria_of(session, cast.section_id)["theory"].row.id
    tap(session, cast.section_id, ada, "theory", 3)
    give_own_points(
        session, cast.section_id, ada, criterion_id=theory, points=Fraction(2), reason="late", by="Mira", now=MORNING
    )  # fmt: skip
    marked_by_a_rubric(session, cast.section_id, LAB[:2], name="second")
    assert _points(session, cast, ada, "theory") == 2
    tap(session, cast.section_id, ada, "theory", None)
    theory = criteria_of(session, cast.section_id)["theory"].row.id
    give_own_points(
        session, cast.section_id, ada, criterion_id=theory, points=None, reason="excused", by="Mira", now=NINE
    )

    mark_by(session, cast.section_id, rubric_id=first, notes_within_s=600, by="Mira", now=NINE)
    assert _points(session, cast, ada, "theory") is None


def test_a_rubric_without_criteria_marks_nobody(session: LabSession, cast: Cast) -> None:
    rubric = add_rubric(session, name="lab")

    with pytest.raises(Refusal, match="has no criteria yet"):
        mark_by(session, cast.section_id, rubric_id=rubric.id, notes_within_s=60, by="Mira", now=MORNING)


def test_only_the_section_s_own_criteria_levels_and_students_are_marked(
    session: LabSession, cast: Cast
) -> None:
    ada = students_of(session, cast.section_id)[0]
    with pytest.raises(NotFound, match="not marked by this criterion"):
        give_level(session, cast.section_id, ada, criterion_id=1, level_id=None, by="Mira", now=MORNING)
    marked_by_a_rubric(session, cast.section_id)
    kept = criteria_of(session, cast.section_id)
    other = kept["analysis"].levels[0].id
    with pytest.raises(NotFound, match="no such level"):
        give_level(
            session, cast.section_id, ada, criterion_id=kept["theory"].row.id, level_id=other, by="Mira", now=MORNING
        )  # fmt: skip
    with pytest.raises(NotFound, match="not on the section's list"):
        tap(session, cast.section_id, 99_999, "theory", 3)
