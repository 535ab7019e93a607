"""Reads of consents, adjustments and who is away."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from sqlalchemy import ColumnElement, inspect, literal
from sqlmodel import AutoString, col, func, select

from server.core.student_codes import names_in
from server.data.columns import LabOwned
from server.data.session import LabSession, tables_of_labs
from server.people.models import Student
from server.people.queries import get_group, get_section, list_codes, list_students
from server.students.models import Absence, Adjustment, Arrangement, Consent, PapersAfter, Signing


@dataclass(frozen=True)
class Papers:
    """What a student's papers say; `latest` is the last consent of each kind, given or taken back."""

    is_minor: bool = False
    latest: Mapping[Signing, Consent] = field(default_factory=dict)

    def has(self, signing: Signing) -> bool:
        return signing in self.latest and self.latest[signing].given

    @property
    def missing(self) -> tuple[Signing, ...]:
        """What has to be signed before the student works in the dark, with the laser and with chemicals, and is not."""
        asked = (Signing.SAFETY, Signing.GUARDIAN) if self.is_minor else (Signing.SAFETY,)
        return tuple(signing for signing in asked if not self.has(signing))


def list_consents(session: LabSession, section_id: int) -> Sequence[Consent]:
    """Everything the section's students gave or took back, in the order of the days on the papers."""
    return session.exec(
        select(Consent)
        .join(Student, col(Student.id) == col(Consent.student_id))
        .where(Student.section_id == section_id)
        .order_by(col(Consent.on_day), col(Consent.id))
    ).all()


def list_papers(session: LabSession, section_id: int, until: date | None = None) -> dict[int, Papers]:
    """The papers of each of the section's students by id: as they are, or as they were at the end of the day `until`."""
    latest: dict[int, dict[Signing, Consent]] = {}
    for consent in list_consents(session, section_id):
        if until is not None and consent.on_day > until:
            continue
        latest.setdefault(consent.student_id, {})[Signing(consent.signing)] = consent
    return {
        student.id: Papers(student.is_minor, latest.get(student.id, {}))
        for student in list_students(session, section_id)
    }


def find_photo_bar(session: LabSession, group_id: int) -> str:
    """Why the group takes no photo, with codes and never names; empty where everybody of it agreed to photos."""
    group = get_group(session, group_id)
    papers, codes = list_papers(session, group.section_id), list_codes(session, group.section_id)
    members = [one for one in list_students(session, group.section_id) if one.group_id == group_id]
    if not members:
        return f"No photo: nobody stands on the list of {group.name}, so nobody has agreed to photos."
    barred = sorted(codes[one.id] for one in members if not papers[one.id].has(Signing.PHOTO))
    if not barred:
        return ""
    have = "has" if len(barred) == 1 else "have"
    return f"No photo: {' and '.join(barred)} {have} not agreed to photos. Your instructor keeps who agrees."


def list_photo_withdrawals(session: LabSession) -> dict[int, list[str]]:
    """The codes of those who agreed to photos and took it back since, by the id of the group that they are in."""
    ordered = (
        select(Consent.given, Student)
        .join(Student, col(Student.id) == col(Consent.student_id))
        .where(Consent.signing == Signing.PHOTO, col(Student.group_id).is_not(None))
        .order_by(col(Consent.on_day), col(Consent.id))
    )
    latest = {student.id: (given, student) for given, student in session.exec(ordered).all()}
    withdrawn = [student for given, student in latest.values() if not given]
    codes = {one: list_codes(session, one) for one in {student.section_id for student in withdrawn}}
    found: dict[int, list[str]] = {}
    for student in withdrawn:
        assert student.group_id is not None
        found.setdefault(student.group_id, []).append(codes[student.section_id][student.id])
    return {group_id: sorted(those) for group_id, those in found.items()}


def find_photo_veil(session: LabSession, group_id: int) -> str:
    """Why the photos that a group took are shown to nobody any more; empty where nobody of it has taken the consent back."""
    withdrawn = list_photo_withdrawals(session).get(group_id, [])
    if not withdrawn:
        return ""
    have = "has" if len(withdrawn) == 1 else "have"
    return f"{' and '.join(withdrawn)} {have} taken back that photos may be used, so the photos of this group are shown to nobody."


def list_adjustments(session: LabSession, section_id: int) -> dict[int, list[Adjustment]]:
    """What is arranged for the section's students, by student's id."""
    rows = session.exec(
        select(Adjustment)
        .join(Student, col(Student.id) == col(Adjustment.student_id))
        .where(Student.section_id == section_id)
        .order_by(col(Adjustment.id))
    ).all()
    found: dict[int, list[Adjustment]] = {}
    for row in rows:
        found.setdefault(row.student_id, []).append(row)
    return found


# What a plan of the class has to know of. Of a group, so that nobody reads whose it is.
PLANNED_FOR = (Arrangement.LOW_BENCH, Arrangement.ADAPT, Arrangement.MORE_TIME)


def list_group_needs(session: LabSession, section_id: int) -> dict[int, tuple[Arrangement, ...]]:
    """What is arranged in each group that its plan has to know of, by group's id."""
    arranged = list_adjustments(session, section_id)
    found: dict[int, set[str]] = {}
    for student in list_students(session, section_id):
        if student.group_id is not None:
            found.setdefault(student.group_id, set()).update(
                one.arrangement for one in arranged.get(student.id, ())
            )
    return {
        group_id: needs
        for group_id, own in found.items()
        if (needs := tuple(one for one in PLANNED_FOR if one in own))
    }


def list_away(session: LabSession, section_id: int, day: date) -> frozenset[int]:
    """The ids of the section's students who are away on the day."""
    return frozenset(
        session.exec(
            select(Absence.student_id)
            .join(Student, col(Student.id) == col(Absence.student_id))
            .where(Student.section_id == section_id, Absence.day == day)
        )
    )


def list_unsigned(session: LabSession, section_id: int, day: date) -> frozenset[int]:
    """The ids of students of whose papers something was missing at the end of a day, also after their names were erased."""
    if get_section(session, section_id).names_erased_at is None:
        papers = list_papers(session, section_id, until=day)
        return frozenset(student_id for student_id, own in papers.items() if own.missing)
    found: dict[int, bool] = {}
    for row in session.exec(
        select(PapersAfter)
        .join(Student, col(Student.id) == col(PapersAfter.student_id))
        .where(Student.section_id == section_id)
        .order_by(col(PapersAfter.from_day))
    ).all():
        if row.from_day <= day:
            found[row.student_id] = row.is_missing
        else:
            found.setdefault(row.student_id, True)  # before the first paper
    return frozenset(student_id for student_id, is_missing in found.items() if is_missing)


def list_lit_only(session: LabSession, section_id: int) -> frozenset[int]:
    """The ids of students for whom lit activities are arranged."""
    return frozenset(
        student_id
        for student_id, own in list_adjustments(session, section_id).items()
        if any(one.arrangement == Arrangement.LIT for one in own)
    )


def list_lit(session: LabSession, section_id: int, day: date) -> frozenset[int]:
    """The ids of students who keep to the light on a day: who has not signed by then, and for whom it is arranged so."""
    return list_unsigned(session, section_id, day) | list_lit_only(session, section_id)


@dataclass(frozen=True)
class Naming:
    """A row of the lab in which somebody typed names of students."""

    table: type[LabOwned]
    id: int
    names: frozenset[str]

    @property
    def table_name(self) -> str:
        return str(inspect(self.table).local_table.name)


def text_columns(table: type[LabOwned]) -> list[str]:
    """What texts a row of the table has."""
    return [
        column.key for column in inspect(table).column_attrs if isinstance(column.columns[0].type, AutoString)
    ]


# So many rows are looked at together: nearly all hold no name, which their texts in one piece say at once.
_TOGETHER = 1000


def list_naming(session: LabSession, names: Collection[str]) -> list[Naming]:
    """The rows of other tables of the lab in which one of the names stands, as somebody typed it.

    Every text of the lab is read once, however many the names are: for what is asked once a term.
    """
    found: list[Naming] = []
    for table in tables_of_labs():
        keys = text_columns(table)
        if table is Student or not keys or not names:
            continue
        all_texts: ColumnElement[str] = literal("")
        for key in keys:
            all_texts = all_texts + func.coalesce(getattr(table, key), "") + "\n"
        rows = session.exec(
            select(inspect(table).primary_key[0], all_texts), execution_options={"yield_per": _TOGETHER}
        )
        for part in rows.partitions():
            told = names_in("\n".join(text for _, text in part), names)
            found += [
                Naming(table, row_id, own) for row_id, text in part if told and (own := names_in(text, told))
            ]
    return found
