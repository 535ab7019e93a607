"""Codes, and what is read of consents."""

import pytest

from server.data.session import LabSession
from server.people.actions import add_section, enter_students
from server.people.queries import list_codes, list_students
from server.refusal import NotFound
from server.students.actions import keep_consents
from server.students.models import Signing
from server.students.queries import find_photo_bar
from tests.casts import MORNING, Cast


def _take_back(session: LabSession, cast: Cast, *names: str) -> None:
    students = list_students(session, cast.section_id)
    ticks = [(one.id, Signing.PHOTO) for one in students if one.name in names]
    keep_consents(
        session, cast.section_id, given=(), withdrawn=ticks, on_day=MORNING.date(), by="Mira", now=MORNING
    )
    session.flush()


def test_a_code_names_section_group_and_letter(session: LabSession, cast: Cast) -> None:
    codes = sorted(list_codes(session, cast.section_id).values())

    assert codes == ["Tue-G1-a", "Tue-G1-b", "Tue-G2-a", "Tue-G2-b", "Tue-G3-a", "Tue-G3-b"]


def test_who_is_in_no_group_has_no_code(session: LabSession, cast: Cast) -> None:
    enter_students(session, cast.section_id, ("Gus Tamm",))
    session.flush()

    assert len(list_codes(session, cast.section_id)) == 6


def test_a_group_takes_photos_when_everybody_of_it_agreed(session: LabSession, cast: Cast) -> None:
    assert find_photo_bar(session, cast.group_ids[0]) == ""


def test_one_who_has_not_agreed_bars_the_group_s_photos_by_code(session: LabSession, cast: Cast) -> None:
    _take_back(session, cast, "Bo Lind")
    bar = find_photo_bar(session, cast.group_ids[0])

    assert "Tue-G1-b has not agreed" in bar
    assert "Bo" not in bar
    assert find_photo_bar(session, cast.group_ids[1]) == ""


def test_several_are_named_together(session: LabSession, cast: Cast) -> None:
    _take_back(session, cast, "Ada Quist", "Bo Lind")

    assert "Tue-G1-a and Tue-G1-b have not agreed" in find_photo_bar(session, cast.group_ids[0])


def test_a_group_that_nobody_is_listed_in_takes_no_photo(session: LabSession, cast: Cast) -> None:
    for student in list_students(session, cast.section_id):
        session.delete(student)
    session.flush()

    assert "nobody stands on the list of G1" in find_photo_bar(session, cast.group_ids[0])


def test_a_group_of_another_lab_is_not_here(session: LabSession, cast: Cast) -> None:
    with pytest.raises(NotFound):
        find_photo_bar(session, cast.other_group_id)


def test_each_section_gets_a_short_name_of_its_own(session: LabSession) -> None:
    names = ("Tuesday evening", "tuesday late", "Übung 4, Mittwoch", "14:00", "Tuesday 9:00")

    assert [add_section(session, name=name).short_name for name in names] == [
        "Tue2", "Tue3", "Ubu4", "Sec14", "Tue9",
    ]  # fmt: skip
