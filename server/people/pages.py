"""What the people pages show."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.core.units import duration_words
from server.data.session import LabSession
from server.people.forms import (
    ClassCode,
    JoinGroup,
    NewPassword,
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
class PasswordPage:
    form: Submitted[NewPassword]


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
    id: int
    name: str
    role: str
    email: str


@dataclass(frozen=True)
class PeoplePage:
    sections: Sequence[SectionLine]
    staff: Sequence[StaffLine]
    section_form: Submitted[NewSection]
    person_form: Submitted[NewPerson]


def _wait_words(seconds: int) -> str:
    return f"That was tried too often. Wait {duration_words(seconds)}, then try again; nothing is locked."


def sign_in_again(form: Submitted[SigningIn], next_page: str, wait_s: int) -> SignInPage:
    """After a failed try: the address stays, the password is asked for anew, and which of the two was wrong is not told."""
    sentence = (
        _wait_words(wait_s)
        if wait_s
        else "This e-mail address and password do not belong together. Check both."
    )
    return SignInPage(
        Submitted({"email": form.value("email")}, form.errors or {"email": sentence}), next_page
    )


def password_page(form: Submitted[NewPassword] | None = None, wait_s: int = 0) -> PasswordPage:
    """Passwords are asked for anew; without a fault of its own, the form was refused for the current one."""
    if form is None:
        return PasswordPage(Submitted())
    sentence = _wait_words(wait_s) if wait_s else "This is not your password. Type the one you sign in with."
    return PasswordPage(Submitted({}, form.errors or {"current": sentence}))


def join_page(
    session: LabSession, code: str, form: Submitted[JoinGroup] | Submitted[ClassCode], wait_s: int
) -> JoinPage:
    """The section's groups, or the question for its code with why there are none."""
    section = None if wait_s else find_section_by_code(session, code)
    if section is None:
        unknown = "This class code is not known. Check it on the board and type it again."
        return JoinPage(form.refused("code", _wait_words(wait_s) if wait_s else unknown), "", "", ())
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
        staff=[
            StaffLine(person.id, person.name, person.role, person.email) for person in list_staff(session)
        ],
        section_form=section_form or Submitted(),
        person_form=person_form or Submitted(),
    )
