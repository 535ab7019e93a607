"""What can be done with the lab's people: set up, sign in, join, enter a section, form its groups."""

import secrets
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from string import ascii_lowercase
from types import MappingProxyType

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError
from sqlalchemy.exc import IntegrityError
from sqlmodel import col, delete, or_, select

from server.core.codes import as_typed, class_code, hashed
from server.core.grouping import form_groups
from server.core.student_codes import short_name
from server.core.tries import (
    FOR_ADDRESS,
    FOR_SECRET,
    FOR_SECRET_ANYWHERE,
    HOUR_S,
    Patience,
    Secret,
    network_of,
    wait_s,
)
from server.data.session import ACROSS_LABS, LabSession
from server.people.models import Group, Lab, Person, Role, Section, SetUpCode, SignIn, Student, WrongTry
from server.people.queries import (
    find_person_by_email,
    find_section_by_code,
    find_set_up_code,
    find_sign_in,
    get_named_section,
    get_person,
    get_student,
    hold_instructors,
    list_every_group,
    list_short_names,
    list_students,
    list_wrong_tries,
)
from server.refusal import Refusal

STAFF_SIGN_IN = timedelta(hours=14)
TABLET_SIGN_IN = timedelta(hours=12)
# So many are kept whoever tries: an hour of somebody with many addresses must not fill the disk.
MOST_TRIES_KEPT = 20_000

Tries = Mapping[str, Patience]
NO_TRIES: Tries = MappingProxyType({})

_passwords = PasswordHasher()
# Checked when the e-mail is unknown, so that the answer takes as long as for a known one.
_NOBODY = _passwords.hash(secrets.token_urlsafe(16))


def issue_set_up_code(session: LabSession, now: datetime) -> str:
    """A code for one new lab, to be printed once; only its hash is kept."""
    code = class_code(secrets.choice, length=12)
    session.add(SetUpCode(code_hash=hashed(code), made_at=now))
    return code


def set_up_lab(
    session: LabSession,
    *,
    code: str,
    lab_name: str,
    time_zone: str,
    name: str,
    email: str,
    password: str,
    now: datetime,
) -> Person:
    """Open a lab; returns its first instructor. The code is used up."""
    issued = find_set_up_code(session, hashed(as_typed(code)))
    if issued is None:
        raise Refusal("This set-up code is not known or was used. Start the server again to get a new one.")
    session.delete(issued)
    return open_lab(
        session, lab_name=lab_name, time_zone=time_zone, name=name, email=email, password=password, now=now
    )


def open_lab(
    session: LabSession, *, lab_name: str, time_zone: str, name: str, email: str, password: str, now: datetime
) -> Person:
    """Open a lab; returns its first instructor. The session is bound to the lab from here on."""
    lab = Lab(name=lab_name, time_zone=time_zone, opened_at=now)
    session.add(lab)
    session.flush()  # the lab's id is needed to bind the session to it
    session.info["lab_id"] = lab.id
    return add_person(session, name=name, email=email, role=Role.INSTRUCTOR, password=password)


def add_person(session: LabSession, *, name: str, email: str, role: Role, password: str) -> Person:
    if find_person_by_email(session, email.lower()) is not None:
        raise Refusal("Somebody already signs in with this e-mail address. Use another one.")
    person = Person(name=name, email=email.lower(), role=role, password_hash=make_password(password))
    session.add(person)
    session.flush()  # a second person with the same address must be refused here, not at the end
    return person


def remove_person(session: LabSession, person_id: int, *, by: int | None) -> None:
    """Take somebody off the staff. Their sign-ins end; whatever they wrote down keeps their name."""
    instructors = {one.id for one in hold_instructors(session)}
    person = get_person(session, person_id)
    if person.id == by:
        raise Refusal("You can't remove yourself. Ask another instructor, so that the lab always has one.")
    if by not in instructors:
        raise Refusal("You were taken off the staff in this moment, so nobody else was. Ask an instructor.")
    session.exec(delete(SignIn).where(col(SignIn.person_id) == person.id))
    session.delete(person)


def change_password(
    session: LabSession, person_id: int | None, *, made: str, token: str, tries: Tries
) -> None:
    """Give somebody the password that `make_password` made. Their sign-ins on other devices end, the one of `token` goes on."""
    forgive_try(session, tries=tries)
    person = get_person(session, person_id)
    person.password_hash = made
    session.exec(
        delete(SignIn).where(col(SignIn.person_id) == person.id, col(SignIn.token_hash) != hashed(token))
    )


def make_password(password: str) -> str:
    """What is kept of a password. Takes a fifth of a second on purpose, so it needs no database."""
    return _passwords.hash(password)


def _remember(session: LabSession, sign_in: SignIn, token: str) -> str:
    sign_in.token_hash = hashed(token)
    session.add(sign_in)
    return token


def find_by_password(session: LabSession, email: str, password: str) -> Person | None:
    """The person whose password this is. Takes a fifth of a second on purpose, so it asks for no right to write."""
    person = find_person_by_email(session, email.lower())
    try:
        _passwords.verify(_NOBODY if person is None else person.password_hash, password)
    except VerificationError:
        return None
    return person


def is_own_password(session: LabSession, person_id: int | None, password: str) -> bool:
    """Whether this is the person's password. As slow as `find_by_password`, and writes nothing either."""
    return find_by_password(session, get_person(session, person_id).email, password) is not None


def tries_of(address: str, kind: Secret, secret: str) -> Tries:
    """What a try counts against: where it came from, what was tried from there, and the same from anywhere. Kept as hashes.

    `secret` is the e-mail address, the person's number or the class code whose password or group is asked for.
    """
    network, tried = network_of(address), f"{kind} {secret.casefold()}"
    return {
        hashed(f"address {network}"): FOR_ADDRESS,
        hashed(f"{tried} from {network}"): FOR_SECRET,
        hashed(f"{tried} from anywhere"): FOR_SECRET_ANYWHERE,
    }


def count_try(session: LabSession, *, tries: Tries, now: datetime) -> int:
    """Count a try before it is made. Returns the seconds to wait; only without any the try may be made, and was counted."""
    kept = _hold_tries(session, tries, now)
    oldest = now - timedelta(seconds=HOUR_S)
    waits = [
        wait_s(tries[one.tried], times=one.times, since_s=round((now - one.last_at).total_seconds()))
        for one in kept
    ]
    if not any(waits):
        for one in kept:
            one.times = one.times + 1 if one.last_at > oldest else 1
            one.last_at = now
        session.flush()  # what is tried now is not forgotten below
    _forget_tries(session, until=oldest, newest=max(one.id for one in kept))
    return max(waits)


def _hold_tries(session: LabSession, tries: Tries, now: datetime) -> Sequence[WrongTry]:
    """The rows of what is tried, held until this transaction ends: all of a class join in one moment, each by the same code.

    Each is begun by itself and in one order, so that whoever begins it first is waited for and nobody waits in a ring.
    """
    for tried in sorted(tries.keys() - {one.tried for one in list_wrong_tries(session, tries)}):
        with suppress(IntegrityError), session.begin_nested():
            session.add(WrongTry(tried=tried, times=0, last_at=now))
    return list_wrong_tries(session, tries, held=True)


def _forget_tries(session: LabSession, *, until: datetime, newest: int) -> None:
    """Forget what was last tried until then, and the oldest of too many. What somebody else holds is left to them."""
    forgotten = or_(col(WrongTry.last_at) <= until, col(WrongTry.id) <= newest - MOST_TRIES_KEPT)
    free = select(WrongTry.id).where(forgotten).with_for_update(skip_locked=True)
    session.exec(delete(WrongTry).where(col(WrongTry.id).in_(free)), execution_options=ACROSS_LABS)


def forgive_try(session: LabSession, *, tries: Tries) -> None:
    """The try was right after all: what was tried is forgotten, and its address has one less in vain."""
    for one in list_wrong_tries(session, tries, held=True):
        one.times = max(0, one.times - 1) if tries[one.tried] is FOR_ADDRESS else 0


def try_code(session: LabSession, *, code: str, tries: Tries, now: datetime) -> int:
    """Count a class code unless it is right. Returns the seconds to wait before any code is looked at."""
    wait = count_try(session, tries=tries, now=now)
    if not wait and (not code or find_section_by_code(session, code) is not None):
        forgive_try(session, tries=tries)
    return wait


def sign_in(
    session: LabSession, person: Person, *, replaces: str = "", tries: Tries = NO_TRIES, now: datetime
) -> str:
    """The token for the cookie. The browser's earlier one, and every sign-in of the lab that has ended, are forgotten."""
    forgive_try(session, tries=tries)
    sign_out(session, replaces)
    session.flush()  # the earlier one may be of another lab
    session.info["lab_id"] = person.lab_id
    session.exec(delete(SignIn).where(col(SignIn.ends_at) <= now))
    kept = SignIn(
        lab_id=person.lab_id, person_id=person.id, token_hash="", made_at=now, ends_at=now + STAFF_SIGN_IN
    )
    return _remember(session, kept, secrets.token_urlsafe(32))


def join_group(session: LabSession, *, code: str, group_id: int, now: datetime) -> str:
    """Sign a tablet in to a group by the section's class code. Returns the token for the cookie."""
    section = find_section_by_code(session, as_typed(code))
    if section is None:
        raise Refusal("This class code is not known. Check it on the board and type it again.")
    group = session.exec(
        select(Group).where(Group.id == group_id, Group.section_id == section.id, Group.in_use),
        execution_options=ACROSS_LABS,
    ).first()
    if group is None:
        raise Refusal("This group is not in the class any more. Choose one of the list.")
    kept = SignIn(
        lab_id=section.lab_id, group_id=group.id, token_hash="", made_at=now, ends_at=now + TABLET_SIGN_IN
    )
    return _remember(session, kept, secrets.token_urlsafe(32))


def sign_out(session: LabSession, token: str) -> None:
    kept = find_sign_in(session, hashed(token))
    if kept is not None:
        session.delete(kept)


def add_section(session: LabSession, *, name: str) -> Section:
    if session.exec(select(Section.id).where(Section.name == name)).first() is not None:
        raise Refusal(f"There is a section “{name}” already. Give this one another name.")
    code = class_code(secrets.choice)
    while find_section_by_code(session, code) is not None:
        code = class_code(secrets.choice)
    proposed = short_name(name, list_short_names(session).values())
    section = Section(name=name, short_name=proposed, class_code=code)
    session.add(section)
    session.flush()  # the next page is this section's
    return section


def enter_students(session: LabSession, section_id: int, names: tuple[str, ...]) -> int:
    """Add the names that are not on the list yet. Returns how many were new."""
    section = get_named_section(session, section_id)
    known = {student.name.casefold() for student in list_students(session, section.id)}
    new = [name for name in names if name.casefold() not in known]
    session.add_all(Student(section_id=section.id, name=name) for name in new)
    return len(new)


def remove_student(session: LabSession, section_id: int, student_id: int) -> None:
    get_named_section(session, section_id)
    student = get_student(session, section_id, student_id)
    session.delete(student)


def form_section_groups(session: LabSession, section_id: int, *, size: int) -> int:
    """Put the section's students into groups of about `size`, in the order of the list. Returns the number of groups.

    Groups that exist are kept and filled anew, because rotations and run notes name them; a group that stays empty goes out of
    use and its tablets are signed out.
    """
    section = get_named_section(session, section_id)
    students = list_students(session, section.id)
    if not students:
        raise Refusal("There are no students on the list yet. Enter or paste their names first.")
    formed = form_groups(students, size=size)
    for student in students:
        student.group_id, student.letter = None, ""
    session.flush()  # nobody is given a letter that somebody else still has
    groups = {group.number: group for group in list_every_group(session, section.id)}
    for number, members in enumerate(formed, start=1):
        group = groups.pop(number, None) or Group(section_id=section.id, number=number)
        group.in_use = True
        session.add(group)
        session.flush()  # its id goes into its members' rows
        for letter, student in zip(ascii_lowercase, members, strict=False):
            student.group_id, student.letter = group.id, letter
    for group in groups.values():
        group.in_use = False
        session.exec(delete(SignIn).where(col(SignIn.group_id) == group.id))
    return len(formed)
