"""The people of every test: two labs, so that each can try to see the other.

The cellar lab has Mira (instructor), Tomas (technician) and the section “Tuesday” with groups G1 to G3, of which G1 and G2 have joined
with a tablet. The attic lab has Noor (instructor), Petra (technician) and the section “Friday” with a joined G1. All students have
signed everything.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from server.core.codes import hashed
from server.data.session import Database, LabSession
from server.people.actions import add_person, add_section, enter_students, form_section_groups, open_lab
from server.people.models import Role, SignIn
from server.people.queries import list_groups, list_students
from server.students.actions import keep_consents
from server.students.models import Signing

# A Tuesday morning at 08:00 on the cellar lab's wall clock (Europe/Berlin, winter).
MORNING = datetime(2027, 2, 16, 7, 0, tzinfo=UTC)
PASSWORD = "correct horse battery"
STUDENTS = ("Ada Quist", "Bo Lind", "Cleo Varga", "Dov Maron", "Edda Sund", "Finn Oake")


@dataclass(frozen=True)
class Cast:
    """Ids of the cellar lab, and the other lab's."""

    lab_id: int
    section_id: int
    class_code: str
    group_ids: tuple[int, ...]
    other_lab_id: int
    other_section_id: int
    other_group_id: int


TOKENS = {
    name: f"token-of-{name}"
    for name in ("mira", "tomas", "tablet", "other_tablet", "noor", "petra", "other_lab_tablet")
}


def _signed_in(
    session: LabSession, name: str, *, person_id: int | None = None, group_id: int | None = None
) -> None:
    session.add(
        SignIn(
            token_hash=hashed(TOKENS[name]),
            person_id=person_id,
            group_id=group_id,
            made_at=MORNING,
            ends_at=MORNING + timedelta(days=400),
        )
    )


def _one_lab(
    session: LabSession,
    lab: str,
    zone: str,
    instructor: str,
    technician: str,
    section: str,
    names: tuple[str, ...],
) -> tuple[int, int, str, tuple[int, ...]]:
    first = open_lab(
        session,
        lab_name=lab,
        time_zone=zone,
        name=instructor.title(),
        email=f"{instructor}@lab.example",
        password=PASSWORD,
        now=MORNING,
    )
    helper = add_person(
        session,
        name=technician.title(),
        email=f"{technician}@lab.example",
        role=Role.TECHNICIAN,
        password=PASSWORD,
    )
    _signed_in(session, technician, person_id=helper.id)
    _signed_in(session, instructor, person_id=first.id)
    made = add_section(session, name=section)
    session.flush()
    enter_students(session, made.id, names)
    session.flush()
    form_section_groups(session, made.id, size=2)
    session.flush()
    papers = [(one.id, signing) for one in list_students(session, made.id) for signing in Signing]
    keep_consents(
        session,
        made.id,
        given=papers,
        withdrawn=(),
        on_day=MORNING.date(),
        by=instructor.title(),
        now=MORNING,
    )
    groups = tuple(group.id for group in list_groups(session, made.id))
    return first.lab_id, made.id, made.class_code, groups


def fill(database: Database) -> Cast:
    """Write both labs into an empty, migrated database."""
    with database.writing(None) as session:
        lab_id, section_id, code, groups = _one_lab(
            session, "Cellar lab", "Europe/Berlin", "mira", "tomas", "Tuesday", STUDENTS
        )
        _signed_in(session, "tablet", group_id=groups[0])
        _signed_in(session, "other_tablet", group_id=groups[1])
        session.flush()
    with database.writing(None) as session:
        other_lab, other_section, _code, other_groups = _one_lab(
            session, "Attic lab", "America/Chicago", "noor", "petra", "Friday", ("Gil Aro", "Hana Poe")
        )
        _signed_in(session, "other_lab_tablet", group_id=other_groups[0])
    return Cast(lab_id, section_id, code, groups, other_lab, other_section, other_groups[0])
