"""Reads of people, sections and groups."""

from collections.abc import Collection, Sequence
from datetime import date, datetime

from sqlmodel import col, func, select

from server.core.moments import day_at
from server.core.student_codes import student_code
from server.data.session import ACROSS_LABS, LabSession
from server.people.models import Group, Lab, Person, Role, Section, SetUpCode, SignIn, Student, WrongTry
from server.refusal import NotFound, Refusal


def find_signed_in(
    session: LabSession, hashed: str, now: datetime
) -> tuple[Lab, Person | None, Group | None] | None:
    """The lab and the person or group behind a sign-in that has not ended."""
    found = session.exec(
        select(SignIn, Lab, Person, Group)
        .join(Lab, col(Lab.id) == col(SignIn.lab_id))
        .outerjoin(Person, col(Person.id) == col(SignIn.person_id))
        .outerjoin(Group, col(Group.id) == col(SignIn.group_id))
        .where(SignIn.token_hash == hashed, col(SignIn.ends_at) > now),
        execution_options=ACROSS_LABS,
    ).first()
    return None if found is None else (found[1], found[2], found[3])


def find_sign_in(session: LabSession, hashed: str) -> SignIn | None:
    return session.exec(
        select(SignIn).where(SignIn.token_hash == hashed), execution_options=ACROSS_LABS
    ).first()


def find_person_by_email(session: LabSession, email: str) -> Person | None:
    return session.exec(select(Person).where(Person.email == email), execution_options=ACROSS_LABS).first()


def find_set_up_code(session: LabSession, hashed: str) -> SetUpCode | None:
    return session.exec(
        select(SetUpCode).where(SetUpCode.code_hash == hashed), execution_options=ACROSS_LABS
    ).first()


def list_wrong_tries(
    session: LabSession, tried: Collection[str], *, held: bool = False
) -> Sequence[WrongTry]:
    """What was tried in vain; `held` as it is now, and so until this transaction ends."""
    found = select(WrongTry).where(col(WrongTry.tried).in_(tried)).order_by(col(WrongTry.id))
    return session.exec(
        found.with_for_update() if held else found,
        execution_options={**ACROSS_LABS, "populate_existing": held},
    ).all()


def get_person(session: LabSession, person_id: int | None) -> Person:
    person = None if person_id is None else session.get(Person, person_id)
    if person is None:
        raise NotFound("This member of staff is not in the lab any more. Choose one from People.")
    return person


def count_labs(session: LabSession) -> int:
    return session.exec(select(func.count()).select_from(Lab), execution_options=ACROSS_LABS).one()


def get_lab(session: LabSession) -> Lab:
    lab = session.get(Lab, session.lab_id)
    assert lab is not None
    return lab


def day_in_lab(session: LabSession, now: datetime) -> date:
    """The day on the lab's calendar."""
    return day_at(now, get_lab(session).time_zone)


def find_section_by_code(session: LabSession, class_code: str) -> Section | None:
    return session.exec(
        select(Section).where(Section.class_code == class_code), execution_options=ACROSS_LABS
    ).first()


def list_staff(session: LabSession) -> Sequence[Person]:
    return session.exec(select(Person).order_by(Person.name)).all()


def hold_instructors(session: LabSession) -> Sequence[Person]:
    """The lab's instructors as they are now, whom nobody else removes before this transaction ends."""
    return session.exec(
        select(Person).where(Person.role == Role.INSTRUCTOR).order_by(col(Person.id)).with_for_update(),
        execution_options={"populate_existing": True},
    ).all()


def list_sections(session: LabSession) -> Sequence[Section]:
    return session.exec(select(Section).order_by(Section.name)).all()


def get_section(session: LabSession, section_id: int) -> Section:
    section = session.get(Section, section_id)
    if section is None:
        raise NotFound("There is no such section in this lab. Choose one from People.")
    return section


def get_named_section(session: LabSession, section_id: int) -> Section:
    """The section, unless its term is over and only codes are left of it: those may not change any more."""
    section = get_section(session, section_id)
    if section.names_erased_at is not None:
        raise Refusal(
            f"The names of “{section.name}” were erased, so its list and its groups stay as they are. Add a new section under People."
        )
    return section


def list_every_group(session: LabSession, section_id: int) -> Sequence[Group]:
    """The section's groups in order, those out of use too."""
    return session.exec(select(Group).where(Group.section_id == section_id).order_by(col(Group.number))).all()


def list_groups(session: LabSession, section_id: int) -> Sequence[Group]:
    return [group for group in list_every_group(session, section_id) if group.in_use]


def list_groups_to_join(session: LabSession, section: Section) -> Sequence[Group]:
    """The groups a tablet may join that knows the section's class code; nobody is signed in yet."""
    return session.exec(
        select(Group).where(Group.section_id == section.id, Group.in_use).order_by(col(Group.number)),
        execution_options=ACROSS_LABS,
    ).all()


def get_group(session: LabSession, group_id: int) -> Group:
    group = session.get(Group, group_id)
    if group is None:
        raise NotFound("There is no such group in this lab. Choose one of the section's groups.")
    return group


def list_students(session: LabSession, section_id: int) -> Sequence[Student]:
    return session.exec(
        select(Student).where(Student.section_id == section_id).order_by(Student.name, col(Student.id))
    ).all()


def get_student(session: LabSession, section_id: int, student_id: int) -> Student:
    student = session.get(Student, student_id)
    if student is None or student.section_id != section_id:
        raise NotFound("This student is not on the section's list any more.")
    return student


def count_students(session: LabSession) -> dict[int, int]:
    """Students by section."""
    rows = session.exec(select(Student.section_id, func.count()).group_by(col(Student.section_id))).all()
    return dict(rows)


def list_section_names(session: LabSession) -> dict[int, str]:
    """Section names by id."""
    return dict(session.exec(select(Section.id, Section.name)).all())


def list_short_names(session: LabSession) -> dict[int, str]:
    """The short names of sections by id."""
    return dict(session.exec(select(Section.id, Section.short_name)).all())


def list_codes(session: LabSession, section_id: int) -> dict[int, str]:
    """How students appear on shared screens and paper, such as `Tue2-G4-b`, by id; never the name.

    Who is in no group has no code.
    """
    section = get_section(session, section_id)
    groups = {group.id: group.name for group in list_groups(session, section_id)}
    return {
        student.id: student_code(section.short_name, groups[student.group_id], student.letter)
        for student in list_students(session, section_id)
        if student.group_id in groups
    }


def list_group_codes(session: LabSession) -> dict[int, str]:
    """How groups appear on paper where sections meet, such as `Tue2-G4`, by id, over all sections of the lab."""
    short = list_short_names(session)
    return {
        group.id: f"{short[group.section_id]}-{group.name}" for group in session.exec(select(Group)).all()
    }


def list_group_names(session: LabSession) -> dict[int, str]:
    """Group names (G1, G2, …) by id, over all sections of the lab."""
    return {group.id: group.name for group in session.exec(select(Group)).all()}
