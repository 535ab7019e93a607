"""Who takes turns at the plates of a kept plan."""

from datetime import date, timedelta

from sqlmodel import select

from server.core.roles import Role
from server.data.session import LabSession
from server.people.models import Student
from server.roles.queries import find_duties, find_turns
from server.rotations.queries import get_plan, get_rotation
from server.students.actions import arrange, keep_consents, set_away
from server.students.models import Arrangement, Signing
from server.students.queries import list_lit
from tests.callings.calls import published
from tests.casts import MORNING, Cast


def _student(session: LabSession, name: str) -> Student:
    return session.exec(select(Student).where(Student.name == name)).one()


def _holders(session: LabSession, rotation_id: int, group: str) -> list[str | None]:
    """Who loads, opens the shutter, processes and writes for the group's first plate."""
    session.flush()
    kept = get_plan(session, rotation_id)
    assert kept is not None
    duty = find_duties(session, get_rotation(session, rotation_id), kept)[group, 1]
    return [duty.holder(role) for role in (Role.LOADER, Role.SHUTTER, Role.PROCESSOR, Role.RECORDER)]


def test_everybody_who_has_signed_takes_turns(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id)

    assert _holders(session, rotation, "G1") == ["Tue-G1-a", "Tue-G1-b", "Tue-G1-a", "Tue-G1-b"]


def test_who_has_not_signed_writes_and_holds_no_role_in_the_dark(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id)
    ada = _student(session, "Ada Quist").id
    keep_consents(
        session, cast.section_id, given=(), withdrawn=[(ada, Signing.SAFETY)], on_day=MORNING.date(), by="Mira",
        now=MORNING,
    )  # fmt: skip

    assert _holders(session, rotation, "G1") == ["Tue-G1-b", "Tue-G1-b", "Tue-G1-b", "Tue-G1-a"]


def test_a_minor_without_the_guardian_s_form_keeps_to_the_light(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id)
    ada = _student(session, "Ada Quist")
    ada.is_minor = True
    keep_consents(
        session, cast.section_id, given=(), withdrawn=[(ada.id, Signing.GUARDIAN)], on_day=MORNING.date(),
        by="Mira", now=MORNING,
    )  # fmt: skip

    assert _holders(session, rotation, "G1")[0] == "Tue-G1-b"


def test_lit_activities_keep_a_student_out_of_the_dark(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id)
    bo, cleo = _student(session, "Bo Lind").id, _student(session, "Cleo Varga").id
    arrange(session, cast.section_id, bo, arrangements=[Arrangement.LIT], words="")
    arrange(session, cast.section_id, cleo, arrangements=[Arrangement.NITRILE], words="")

    assert _holders(session, rotation, "G1") == ["Tue-G1-a", "Tue-G1-a", "Tue-G1-a", "Tue-G1-b"]
    assert _holders(session, rotation, "G2")[:2] == ["Tue-G2-a", "Tue-G2-b"]


def test_who_is_away_on_the_rotation_s_day_takes_no_turn_on_it(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id)
    kept = get_plan(session, rotation)
    assert kept is not None
    day = kept.starts_at.date()
    bo = _student(session, "Bo Lind").id
    set_away(session, cast.section_id, bo, day=day - timedelta(days=1), is_away=True)
    assert find_turns(session, get_rotation(session, rotation), kept).away == frozenset()
    set_away(session, cast.section_id, bo, day=day, is_away=True)

    assert _holders(session, rotation, "G1") == ["Tue-G1-a"] * 4
    set_away(session, cast.section_id, bo, day=day, is_away=False)
    assert _holders(session, rotation, "G1")[1] == "Tue-G1-b"


def test_who_stands_on_the_list_without_a_group_takes_no_turn(session: LabSession, cast: Cast) -> None:
    rotation = published(session, cast.section_id)
    bo = _student(session, "Bo Lind")
    set_away(session, cast.section_id, bo.id, day=date(2027, 2, 16), is_away=True)
    bo.group_id, bo.letter = None, ""

    assert _holders(session, rotation, "G1") == ["Tue-G1-a"] * 4


def test_what_is_signed_or_taken_back_later_changes_no_class_before_it(
    session: LabSession, cast: Cast
) -> None:
    rotation = published(session, cast.section_id)
    ada, later = _student(session, "Ada Quist").id, MORNING + timedelta(days=2)
    keep_consents(
        session, cast.section_id, given=(), withdrawn=[(ada, Signing.SAFETY)], on_day=later.date(), by="Mira",
        now=later,
    )  # fmt: skip

    assert _holders(session, rotation, "G1")[0] == "Tue-G1-a"
    assert list_lit(session, cast.section_id, MORNING.date()) == frozenset()
    assert list_lit(session, cast.section_id, later.date()) == {ada}
