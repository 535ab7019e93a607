"""What the people pages show."""

from collections.abc import Sequence
from dataclasses import dataclass

import segno

from server.data.session import LabSession
from server.people.forms import (
    ClassCode,
    GroupSize,
    JoinGroup,
    NewPerson,
    NewSection,
    NewStudents,
    SetUp,
    SigningIn,
)
from server.people.queries import (
    count_students,
    find_section_by_code,
    get_section,
    list_codes,
    list_groups,
    list_groups_to_join,
    list_sections,
    list_staff,
    list_students,
)
from server.web.submitted import Submitted

DEFAULT_GROUP_SIZE = 3


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


@dataclass(frozen=True)
class GroupLine:
    name: str
    members: Sequence[str]


@dataclass(frozen=True)
class SectionPage:
    """`class_link` is the whole address a tablet opens, `class_link_code` the same as an SVG to point a camera at."""

    id: int
    name: str
    class_code: str
    class_link: str
    class_link_code: str
    students: Sequence[tuple[int, str, str]]
    groups: Sequence[GroupLine]
    students_form: Submitted[NewStudents]
    size_form: Submitted[GroupSize]
    size: int


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


def _as_svg(address: str) -> str:
    drawing = segno.make(address, micro=False)
    return drawing.svg_inline(omitsize=True, border=2, title="The class link", svgclass=None, lineclass=None)


def section_page(
    session: LabSession,
    section_id: int,
    link: str,
    students_form: Submitted[NewStudents] | None = None,
    size_form: Submitted[GroupSize] | None = None,
) -> SectionPage:
    section = get_section(session, section_id)
    students, codes = list_students(session, section_id), list_codes(session, section_id)
    names = {group.id: group.name for group in list_groups(session, section_id)}
    members = {
        group_id: [student.name for student in students if student.group_id == group_id] for group_id in names
    }
    sizes = [len(names_) for names_ in members.values()]
    return SectionPage(
        id=section.id,
        name=section.name,
        class_code=section.class_code,
        class_link=link + section.class_code,
        class_link_code=_as_svg(link + section.class_code),
        students=[(student.id, student.name, codes.get(student.id, "no group yet")) for student in students],
        groups=[GroupLine(names[group_id], people) for group_id, people in members.items()],
        students_form=students_form or Submitted(),
        size_form=size_form or Submitted(),
        size=max(sizes, default=DEFAULT_GROUP_SIZE),
    )
