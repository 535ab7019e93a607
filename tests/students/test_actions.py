"""What is done about a section's students."""

from datetime import date, timedelta

import pytest
from sqlalchemy.exc import IntegrityError
from sqlmodel import select

from server.data.session import LabSession
from server.people.actions import add_section, enter_students
from server.people.models import Student
from server.people.queries import get_section, list_codes, list_students
from server.refusal import NotFound, Refusal
from server.students.actions import (
    describe_section,
    keep_consents,
    mark_minors,
    move_student,
    sign_everybody,
)
from server.students.models import Consent, Signing
from server.students.queries import list_consents, list_papers
from tests.casts import MORNING, Cast


def _student(session: LabSession, name: str) -> Student:
    return session.exec(select(Student).where(Student.name == name)).one()


def _code(session: LabSession, cast: Cast, name: str) -> str:
    session.flush()
    return list_codes(session, cast.section_id).get(_student(session, name).id, "")


def test_a_short_name_of_another_section_is_refused_however_it_is_written(
    session: LabSession, cast: Cast
) -> None:
    other = add_section(session, name="Wednesday")
    with pytest.raises(Refusal, match="Another section is called “TUE”"):
        describe_section(session, other.id, short_name="TUE", term_ends_on=None)


def test_codes_change_with_the_short_name(session: LabSession, cast: Cast) -> None:
    describe_section(session, cast.section_id, short_name="T9", term_ends_on=date(2027, 3, 1))

    assert _code(session, cast, "Ada Quist") == "T9-G1-a"
    assert get_section(session, cast.section_id).term_ends_on == date(2027, 3, 1)


def test_who_changes_groups_gets_the_first_free_letter(session: LabSession, cast: Cast) -> None:
    move_student(session, cast.section_id, _student(session, "Ada Quist").id, group_id=cast.group_ids[1])
    assert _code(session, cast, "Ada Quist") == "Tue-G2-c"

    move_student(session, cast.section_id, _student(session, "Cleo Varga").id, group_id=cast.group_ids[0])
    assert _code(session, cast, "Cleo Varga") == "Tue-G1-a"
    assert _code(session, cast, "Bo Lind") == "Tue-G1-b"


def test_moving_to_the_own_group_changes_nothing(session: LabSession, cast: Cast) -> None:
    move_student(session, cast.section_id, _student(session, "Bo Lind").id, group_id=cast.group_ids[0])

    assert _code(session, cast, "Bo Lind") == "Tue-G1-b"


def test_who_leaves_a_group_has_no_code(session: LabSession, cast: Cast) -> None:
    move_student(session, cast.section_id, _student(session, "Bo Lind").id, group_id=None)

    assert _code(session, cast, "Bo Lind") == ""


def test_nobody_is_moved_to_a_group_of_another_section(session: LabSession, cast: Cast) -> None:
    with pytest.raises(Refusal, match="not in the section any more"):
        move_student(session, cast.section_id, _student(session, "Bo Lind").id, group_id=cast.other_group_id)


def test_a_student_of_another_section_is_not_moved(session: LabSession, cast: Cast) -> None:
    other = add_section(session, name="Other")
    with pytest.raises(NotFound):
        move_student(session, other.id, _student(session, "Bo Lind").id, group_id=None)


def _keep(
    session: LabSession, cast: Cast, student_id: int, *, given: bool, day: date = MORNING.date()
) -> int:
    ticks = [(student_id, Signing.SAFETY)]
    count = keep_consents(
        session, cast.section_id, given=ticks if given else (), withdrawn=() if given else ticks, on_day=day,
        by="Mira", now=MORNING,
    )  # fmt: skip
    session.flush()
    return count


def test_what_was_given_stays_kept_beside_what_was_taken_back(session: LabSession, cast: Cast) -> None:
    bo = _student(session, "Bo Lind").id
    before = len(list_consents(session, cast.section_id))

    assert _keep(session, cast, bo, given=False) == 1
    assert list_papers(session, cast.section_id)[bo].missing == (Signing.SAFETY,)
    assert _keep(session, cast, bo, given=True) == 1
    assert list_papers(session, cast.section_id)[bo].missing == ()
    added = list_consents(session, cast.section_id)[before:]
    assert [(one.given, one.on_day, one.kept_by) for one in added] == [
        (False, date(2027, 2, 16), "Mira"),
        (True, date(2027, 2, 16), "Mira"),
    ]


def test_an_older_paper_that_comes_late_counts_until_the_day_it_was_taken_back(
    session: LabSession, cast: Cast
) -> None:
    bo = _student(session, "Bo Lind").id
    _keep(session, cast, bo, given=False)
    assert _keep(session, cast, bo, given=True, day=date(2027, 2, 9)) == 1

    assert list_papers(session, cast.section_id)[bo].missing == (Signing.SAFETY,)
    assert list_papers(session, cast.section_id, until=date(2027, 2, 15))[bo].missing == ()
    assert list_papers(session, cast.section_id, until=date(2027, 2, 8))[bo].missing == (Signing.SAFETY,)


def test_what_was_signed_later_is_not_taken_back_on_a_day_before(session: LabSession, cast: Cast) -> None:
    with pytest.raises(Refusal, match="safety agreement was signed on Tue 16 Feb 2027, after the day"):
        _keep(session, cast, _student(session, "Bo Lind").id, given=False, day=date(2027, 2, 15))


def test_what_is_so_already_is_not_written_twice(session: LabSession, cast: Cast) -> None:
    assert _keep(session, cast, _student(session, "Bo Lind").id, given=True) == 0


def test_nobody_signs_tomorrow(session: LabSession, cast: Cast) -> None:
    with pytest.raises(Refusal, match="still to come"):
        _keep(session, cast, 1, given=False, day=MORNING.date() + timedelta(days=1))


def test_a_student_of_another_section_is_left_alone(session: LabSession, cast: Cast) -> None:
    other = add_section(session, name="Other")
    count = keep_consents(
        session, other.id, given=(), withdrawn=[(_student(session, "Bo Lind").id, Signing.SAFETY)],
        on_day=MORNING.date(), by="Mira", now=MORNING,
    )  # fmt: skip

    assert count == 0


def test_all_sign_at_once_what_is_asked_of_each_and_no_photo(session: LabSession, cast: Cast) -> None:
    enter_students(session, cast.section_id, ("Gus Tamm", "Hal Moor"))
    session.flush()
    gus, hal = _student(session, "Gus Tamm").id, _student(session, "Hal Moor").id
    mark_minors(session, cast.section_id, minors=[hal], grown=[])

    assert list_papers(session, cast.section_id)[hal].missing == (Signing.SAFETY, Signing.GUARDIAN)
    assert sign_everybody(session, cast.section_id, by="Mira", now=MORNING) == 3
    session.flush()
    papers = list_papers(session, cast.section_id)
    assert (papers[gus].missing, papers[hal].missing) == ((), ())
    assert not papers[gus].has(Signing.PHOTO)


def test_who_leaves_the_list_takes_the_consents_along(session: LabSession, cast: Cast) -> None:
    bo = _student(session, "Bo Lind")
    session.delete(bo)
    session.flush()

    assert session.exec(select(Consent).where(Consent.student_id == bo.id)).all() == []
    assert len(list_students(session, cast.section_id)) == 5


def test_two_of_a_group_never_have_one_letter(session: LabSession, cast: Cast) -> None:
    _student(session, "Bo Lind").letter = "a"
    with pytest.raises(IntegrityError):
        session.flush()
