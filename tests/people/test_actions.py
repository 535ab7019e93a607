"""Signing in, joining, and forming groups."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from typing import Any, Literal

import pytest
from argon2 import PasswordHasher
from sqlmodel import col, select

from server.core.codes import hashed
from server.data.session import ACROSS_LABS, Database, LabSession
from server.people import actions
from server.people.actions import (
    add_person,
    add_section,
    enter_students,
    find_by_password,
    form_section_groups,
    issue_set_up_code,
    join_group,
    remove_person,
    remove_student,
    set_up_lab,
    sign_in,
    sign_out,
)
from server.people.models import Person, Role, SignIn
from server.people.queries import find_signed_in, list_groups, list_students
from server.refusal import NotFound, Refusal
from tests.casts import MORNING, PASSWORD, Cast


def _signed_in(session: LabSession, email: str, replaces: str = "", now: datetime = MORNING) -> str:
    person = find_by_password(session, email, PASSWORD)
    assert person is not None
    return sign_in(session, person, replaces=replaces, now=now)


def test_a_password_is_kept_as_argon2id_only(session: LabSession) -> None:
    person = session.exec(select(Person).where(Person.email == "mira@lab.example")).one()

    assert person.password_hash.startswith("$argon2id$")
    assert PASSWORD not in person.password_hash


def test_signing_in_keeps_only_the_hash_of_the_token(session: LabSession) -> None:
    token = _signed_in(session, "MIRA@lab.example")
    session.flush()
    kept = session.exec(select(SignIn).where(SignIn.token_hash == hashed(token))).one()

    assert token not in kept.token_hash
    assert kept.ends_at - kept.made_at == timedelta(hours=14)


@pytest.mark.parametrize(
    ("email", "password"), [("mira@lab.example", "wrong horse"), ("nobody@lab.example", PASSWORD), ("", "")]
)
def test_a_wrong_pair_is_nobody_s(session: LabSession, email: str, password: str) -> None:
    assert find_by_password(session, email, password) is None


def test_after_signing_out_the_token_is_worth_nothing(session: LabSession) -> None:
    token = _signed_in(session, "mira@lab.example")
    session.flush()
    sign_out(session, token)
    session.flush()

    assert find_signed_in(session, hashed(token), MORNING) is None


def test_signing_in_again_ends_the_browser_s_earlier_sign_in(session: LabSession) -> None:
    before = _signed_in(session, "mira@lab.example")
    after = _signed_in(session, "tomas@lab.example", replaces=before)
    session.flush()

    assert find_signed_in(session, hashed(before), MORNING) is None
    assert find_signed_in(session, hashed(after), MORNING) is not None


def test_sign_ins_that_have_ended_are_not_kept_for_ever(session: LabSession) -> None:
    _signed_in(session, "mira@lab.example")
    _signed_in(session, "mira@lab.example", now=MORNING + timedelta(days=2))
    session.flush()
    kept = session.exec(
        select(SignIn).where(col(SignIn.made_at) >= MORNING, col(SignIn.person_id).is_not(None))
    ).all()

    assert [one.made_at for one in kept if one.ends_at - one.made_at == timedelta(hours=14)] == [
        MORNING + timedelta(days=2)
    ]


def test_a_sign_in_ends_by_itself(session: LabSession) -> None:
    token = _signed_in(session, "mira@lab.example")
    session.flush()

    assert find_signed_in(session, hashed(token), MORNING + timedelta(hours=13)) is not None
    assert find_signed_in(session, hashed(token), MORNING + timedelta(hours=15)) is None


def test_two_people_never_share_an_address(session: LabSession) -> None:
    with pytest.raises(Refusal, match="already signs in"):
        add_person(
            session, name="Mira Two", email="mira@lab.example", role=Role.TECHNICIAN, password=PASSWORD
        )


def test_of_two_instructors_who_remove_each_other_in_one_moment_one_is_left(database: Database) -> None:
    with database.writing(1) as session:
        una = add_person(
            session, name="Una", email="una@lab.example", role=Role.INSTRUCTOR, password=PASSWORD
        ).id
        mira = session.exec(select(Person.id).where(Person.email == "mira@lab.example")).one()
    ready = threading.Barrier(2)

    def remove(person_id: int, by: int) -> bool:
        ready.wait()
        try:
            with database.writing(1) as session:
                remove_person(session, person_id, by=by)
        except Refusal:
            return False
        return True

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(remove, (una, mira), (mira, una))) == [False, True]
    with database.reading(1) as session:
        assert session.exec(select(Person).where(Person.role == Role.INSTRUCTOR)).one()


def test_a_tablet_joins_with_the_class_code_however_it_is_typed(session: LabSession, cast: Cast) -> None:
    token = join_group(session, code=cast.class_code.lower() + " ", group_id=cast.group_ids[0], now=MORNING)
    session.flush()
    found = find_signed_in(session, hashed(token), MORNING)

    assert found is not None
    assert found[2] is not None
    assert found[2].id == cast.group_ids[0]


def test_a_class_code_opens_only_its_own_groups(session: LabSession, cast: Cast) -> None:
    with pytest.raises(Refusal, match="not in the class"):
        join_group(session, code=cast.class_code, group_id=cast.other_group_id, now=MORNING)
    with pytest.raises(Refusal, match="not known"):
        join_group(session, code="WRONG", group_id=cast.group_ids[0], now=MORNING)


def test_a_group_out_of_use_can_not_be_joined(session: LabSession, cast: Cast) -> None:
    form_section_groups(session, cast.section_id, size=6)
    session.flush()

    with pytest.raises(Refusal, match="not in the class any more"):
        join_group(session, code=cast.class_code, group_id=cast.group_ids[1], now=MORNING)


class _Counting(PasswordHasher):
    """Counts how often a password is checked, which takes nearly all the time of signing in."""

    checks = 0

    def verify(self, *given: Any) -> Literal[True]:
        _Counting.checks += 1
        return super().verify(*given)


def test_an_unknown_address_takes_as_long_as_a_known_one(
    session: LabSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(actions, "_passwords", _Counting())
    for email in ("nobody@lab.example", "mira@lab.example"):
        before = _Counting.checks
        assert find_by_password(session, email, "wrong horse") is None
        assert _Counting.checks == before + 1


def test_names_on_the_list_are_not_added_twice(session: LabSession, cast: Cast) -> None:
    assert enter_students(session, cast.section_id, ("ada quist", "Gus Tamm")) == 1


def test_groups_are_kept_and_filled_anew(session: LabSession, cast: Cast) -> None:
    """Run notes and rotations name groups by id, so forming groups again must not make new ones."""
    before = [group.id for group in list_groups(session, cast.section_id)]
    form_section_groups(session, cast.section_id, size=3)
    session.flush()
    after = [group.id for group in list_groups(session, cast.section_id)]

    assert after == before[:2]
    members = [student.group_id for student in list_students(session, cast.section_id)]
    assert [members.count(group_id) for group_id in after] == [3, 3]


def test_the_tablets_of_a_group_that_goes_are_signed_out(session: LabSession, cast: Cast) -> None:
    form_section_groups(session, cast.section_id, size=6)
    session.flush()

    assert find_signed_in(session, hashed("token-of-tablet"), MORNING) is not None
    assert find_signed_in(session, hashed("token-of-other_tablet"), MORNING) is None


def test_a_section_without_students_has_no_groups_to_form(session: LabSession) -> None:
    section = add_section(session, name="Empty")

    with pytest.raises(Refusal, match="no students on the list yet"):
        form_section_groups(session, section.id, size=3)


def test_a_student_of_another_section_is_not_removed_from_this_one(session: LabSession, cast: Cast) -> None:
    student = list_students(session, cast.section_id)[0]
    other = add_section(session, name="Other")

    with pytest.raises(NotFound):
        remove_student(session, other.id, student.id)


def test_no_student_is_given_the_id_of_one_who_was_removed(session: LabSession, cast: Cast) -> None:
    """A page that was open meanwhile still names the old id."""
    removed = list_students(session, cast.section_id)[-1].id
    remove_student(session, cast.section_id, removed)
    session.flush()
    enter_students(session, cast.section_id, ("Gus Ray",))

    (entered,) = (one.id for one in list_students(session, cast.section_id) if one.name == "Gus Ray")
    assert entered > removed


def test_a_set_up_code_opens_one_lab_and_no_second(database: Database) -> None:
    lab = {
        "lab_name": "New lab", "time_zone": "UTC", "name": "Una", "email": "una@lab.example", "password": PASSWORD,
    }  # fmt: skip
    with database.writing(None) as session:
        code = issue_set_up_code(session, MORNING)
    with database.writing(None) as session:
        set_up_lab(session, code=f" {code.lower()} ", now=MORNING, **lab)
    with database.writing(None) as session, pytest.raises(Refusal, match="not known or was used"):
        set_up_lab(session, code=code, now=MORNING, **{**lab, "email": "second@lab.example"})
    with database.reading(None) as session:
        una = session.exec(
            select(Person).where(Person.email == "una@lab.example"), execution_options=ACROSS_LABS
        ).one()

        assert una.role == Role.INSTRUCTOR
