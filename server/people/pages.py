"""What the people pages show."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.data.session import LabSession
from server.people.forms import (
    ClassCode,
    JoinGroup,
    NewPerson,
    NewSection,
    SetUp,
    SigningIn,
)
from server.people.queries import (
    count_students,
    find_section_by_code,
    list_groups_to_join,
    list_sections,
    list_staff,
)
from server.web.submitted import Submitted


@dataclass(frozen=True)
class SetUpPage:
    form: Submitted[SetUp]


@dataclass(frozen=True)
class SignInPage:
    form: Submitted[SigningIn]
    next: str


@dataclass(frozen=True)
class JoinPage:
    """`groups` are (id, name); empty until a code was given."""

    form: Submitted[JoinGroup] | Submitted[ClassCode]
    code: str
    section: str
    groups: Sequence[tuple[int, str]]


@dataclass(frozen=True)
class SectionLine:
    id: int
    name: str
    students: int
    class_code: str


@dataclass(frozen=True)
class StaffLine:
    name: str
    role: str
    email: str


@dataclass(frozen=True)
class PeoplePage:
    sections: Sequence[SectionLine]
    staff: Sequence[StaffLine]
    section_form: Submitted[NewSection]
    person_form: Submitted[NewPerson]


def sign_in_again(form: Submitted[SigningIn], next_page: str) -> SignInPage:
    """After a failed try: the address stays, the password is asked for anew, and which of the two was wrong is not told."""
    wrong = form.errors or {"email": "This e-mail address and password do not belong together. Check both."}
    return SignInPage(Submitted({"email": form.value("email")}, wrong), next_page)


def join_page(session: LabSession, code: str, form: Submitted[JoinGroup] | Submitted[ClassCode]) -> JoinPage:
    section = find_section_by_code(session, code)
    if section is None:
        return JoinPage(form, code, "", ())
    groups = [(group.id, group.name) for group in list_groups_to_join(session, section)]
    return JoinPage(form, code, section.name, groups)


def people_page(
    session: LabSession,
    section_form: Submitted[NewSection] | None = None,
    person_form: Submitted[NewPerson] | None = None,
) -> PeoplePage:
    students = count_students(session)
    return PeoplePage(
        sections=[
            SectionLine(section.id, section.name, students.get(section.id, 0), section.class_code)
            for section in list_sections(session)
        ],
        staff=[StaffLine(person.name, person.role, person.email) for person in list_staff(session)],
        section_form=section_form or Submitted(),
        person_form=person_form or Submitted(),
    )
