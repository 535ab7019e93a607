"""What can be done about a section's students beside entering and grouping them."""

from collections.abc import Collection, Mapping
from datetime import date, datetime

from sqlmodel import col, delete, select

from server.core.moments import day_words
from server.core.student_codes import free_letter, with_codes
from server.data.session import LabSession
from server.people.models import Section
from server.people.queries import (
    day_in_lab,
    get_named_section,
    get_section,
    get_student,
    list_codes,
    list_groups,
    list_staff,
    list_students,
)
from server.refusal import Refusal
from server.students.forms import Signatures
from server.students.models import Absence, Adjustment, Arrangement, Consent, PapersAfter, Signing
from server.students.queries import (
    Papers,
    list_consents,
    list_naming,
    list_papers,
    list_unsigned,
    text_columns,
)

# The tables that name students, or say something about one that has a name.
NAMING = frozenset({"student", "consent", "adjustment"})
# What stands in place of the name of somebody who has no code, or shares the name.
NO_CODE = "a student"


def describe_section(
    session: LabSession, section_id: int, *, short_name: str, term_ends_on: date | None
) -> None:
    """Give the section its short name, with which the codes of its students change, and the last day of its term."""
    section = get_named_section(session, section_id)
    others = session.exec(select(Section.short_name).where(col(Section.id) != section_id)).all()
    if short_name.casefold() in {one.casefold() for one in others}:
        raise Refusal(
            f"Another section is called “{short_name}” on shared screens. Choose another short name."
        )
    section.short_name, section.term_ends_on = short_name, term_ends_on


def move_student(session: LabSession, section_id: int, student_id: int, *, group_id: int | None) -> None:
    """Put a student into another group of the section, or into none, with the first letter that is free there."""
    get_named_section(session, section_id)
    student = get_student(session, section_id, student_id)
    if student.group_id == group_id:
        return
    group = next((one for one in list_groups(session, section_id) if one.id == group_id), None)
    if group_id is not None and group is None:
        raise Refusal("This group is not in the section any more. Choose one of the list.")
    taken = {one.letter for one in list_students(session, section_id) if one.group_id == group_id}
    student.group_id, student.letter = group_id, "" if group is None else free_letter(taken)


def keep_consents(
    session: LabSession,
    section_id: int,
    *,
    given: Collection[tuple[int, Signing]],
    withdrawn: Collection[tuple[int, Signing]],
    on_day: date,
    by: str,
    now: datetime,
) -> int:
    """Write down what students gave and took back on a day. Returns how much of it was new for that day.

    A paper that comes late is kept, and a later day than its own counts nevertheless.
    """
    if on_day > day_in_lab(session, now):
        raise Refusal("Nobody has signed on a day that is still to come. Write the day on the paper.")
    section = get_named_section(session, section_id)
    _refuse_too_early(list_papers(session, section.id), withdrawn, on_day)
    papers = list_papers(session, section.id, until=on_day)
    changes = [
        Consent(
            student_id=student_id, signing=signing, given=is_given, on_day=on_day, kept_by=by, kept_at=now
        )
        for is_given, ticks in ((True, given), (False, withdrawn))
        for student_id, signing in sorted(ticks)
        if student_id in papers and papers[student_id].has(signing) != is_given
    ]
    session.add_all(changes)
    return len(changes)


def _refuse_too_early(
    papers: Mapping[int, Papers], withdrawn: Collection[tuple[int, Signing]], on_day: date
) -> None:
    """Nothing is taken back before it was given: that would be kept and change nothing."""
    for student_id, signing in withdrawn:
        if student_id in papers and papers[student_id].has(signing):
            signed_on = papers[student_id].latest[signing].on_day
            if signed_on > on_day:
                raise Refusal(
                    f"The {signing} was signed on {day_words(signed_on)}, after the day that you wrote. Write the day on which it was taken back."
                )


def sign_everybody(session: LabSession, section_id: int, *, by: str, now: datetime) -> int:
    """Everybody on the list signed today what had to be signed before the dark; photos are asked for one by one."""
    papers = list_papers(session, get_named_section(session, section_id).id)
    missing = [(student_id, signing) for student_id, own in papers.items() for signing in own.missing]
    today = day_in_lab(session, now)
    return keep_consents(session, section_id, given=missing, withdrawn=(), on_day=today, by=by, now=now)


def mark_minors(
    session: LabSession, section_id: int, *, minors: Collection[int], grown: Collection[int]
) -> None:
    """Say which of the section's students are under age, and which are not: a guardian signs for who is."""
    for student in list_students(session, get_named_section(session, section_id).id):
        student.is_minor = (student.is_minor or student.id in minors) and student.id not in grown


def keep_signatures(
    session: LabSession, section_id: int, typed: Signatures, *, by: str, now: datetime
) -> None:
    """Keep what was changed in the table of consents, and nothing else of it: somebody may have written beside us."""
    set_now, taken_away = typed.changed(given=True), typed.changed(given=False)
    mark_minors(
        session,
        section_id,
        minors={student_id for student_id, signing in set_now if signing is None},
        grown={student_id for student_id, signing in taken_away if signing is None},
    )
    keep_consents(
        session,
        section_id,
        given=[(student_id, signing) for student_id, signing in set_now if signing is not None],
        withdrawn=[(student_id, signing) for student_id, signing in taken_away if signing is not None],
        on_day=typed.on_day,
        by=by,
        now=now,
    )


def set_away(session: LabSession, section_id: int, student_id: int, *, day: date, is_away: bool) -> None:
    """Say that a student is away on a day, or is there after all."""
    get_named_section(session, section_id)
    student = get_student(session, section_id, student_id)
    session.exec(delete(Absence).where(col(Absence.student_id) == student.id, col(Absence.day) == day))
    if is_away:
        session.add(Absence(student_id=student.id, day=day))


def arrange(
    session: LabSession,
    section_id: int,
    student_id: int,
    *,
    arrangements: Collection[Arrangement],
    words: str,
) -> None:
    """Keep what is arranged for a student, in place of what was."""
    get_named_section(session, section_id)
    student = get_student(session, section_id, student_id)
    session.exec(delete(Adjustment).where(col(Adjustment.student_id) == student.id))
    chosen = set(arrangements) - {Arrangement.OTHER} | ({Arrangement.OTHER} if words else set())
    session.add_all(
        Adjustment(student_id=student.id, arrangement=one, words=words if one is Arrangement.OTHER else "")
        for one in Arrangement
        if one in chosen
    )


def erase_names(
    session: LabSession, section_ids: Collection[int], *, puts_codes: bool = False, now: datetime
) -> frozenset[str]:
    """Erase the names of the sections' students for good, and their consents and adjustments with them.

    Codes stay, and what is kept by code: runs, marks, who was away, and from which day on papers were complete, so that the turns
    of past classes stay whose they were. Who is in no group has no code and goes altogether.
    Returns the tables in which names stood: with `puts_codes` those too where somebody had typed them.
    """
    changed = _put_codes(session, section_ids) if puts_codes else frozenset()
    for section_id in section_ids:
        section = get_section(session, section_id)
        if section.names_erased_at is None:
            _keep_papers_by_day(session, section_id)
        for student in list_students(session, section.id):
            for table in (Consent, Adjustment):
                session.exec(delete(table).where(col(table.student_id) == student.id))
            student.name, student.is_minor = "", False
            if student.group_id is None:
                session.delete(student)
        section.names_erased_at = section.names_erased_at or now
    return NAMING | changed


def _keep_papers_by_day(session: LabSession, section_id: int) -> None:
    before: frozenset[int] | None = None
    for day in sorted({consent.on_day for consent in list_consents(session, section_id)}):
        missing = list_unsigned(session, section_id, day)
        changed = missing ^ (before or frozenset())
        session.add_all(
            PapersAfter(student_id=student.id, from_day=day, is_missing=student.id in missing)
            for student in list_students(session, section_id)
            if before is None or student.id in changed
        )
        before = missing


def _put_codes(session: LabSession, section_ids: Collection[int]) -> frozenset[str]:
    """Put codes where somebody typed whole names of the sections' students. Returns the tables in which one stood.

    A name of one word may mean something else, and a name that staff have too may mean them: both stay.
    """
    staff = {one.name for one in list_staff(session)}
    codes: dict[str, str] = {}
    for section_id in section_ids:
        own = list_codes(session, section_id)
        for student in list_students(session, section_id):
            if " " in student.name and student.name not in staff:
                code = own.get(student.id, NO_CODE)
                codes[student.name] = NO_CODE if student.name in codes else code
    naming = list_naming(session, codes)
    for one in naming:
        row = session.get(one.table, one.id)
        for key in text_columns(one.table):
            typed = getattr(row, key)
            if typed and (told := with_codes(typed, codes)) != typed:
                setattr(row, key, told)
    return frozenset(one.table_name for one in naming)
