"""Writing rubrics, choosing one for a section, and giving marks. Every change of a mark is a row of its own."""

from collections.abc import Sequence
from datetime import datetime
from fractions import Fraction

from sqlmodel import col, delete, select

from server.core.rubric import By, Criterion, Level, points_fault, rubric_faults
from server.data.session import LabSession
from server.marks.forms import NewCriterion
from server.marks.models import (
    HUNDREDTHS,
    USUAL_NAME,
    Mark,
    Marking,
    Rubric,
    RubricCriterion,
    RubricEdition,
    RubricLevel,
)
from server.marks.queries import (
    KeptCriterion,
    Standing,
    count_marks_by,
    find_latest_edition,
    find_marking,
    get_edition,
    get_rubric,
    list_criteria,
    list_marks,
    list_rubrics,
    standing_marks,
    who_of,
)
from server.people.models import Section
from server.people.queries import day_in_lab, get_section, get_student, list_codes, list_students
from server.refusal import NotFound, Refusal
from server.rotations.queries import get_rotation, list_starts
from server.students.actions import set_away


def _usual(name: str, by: By, weight: int, says: str, *levels: str) -> NewCriterion:
    steps = tuple(Level(Fraction(points), words) for points, words in enumerate(levels))
    return NewCriterion(Criterion(name, Fraction(weight), steps, by), says)


# An advanced laboratory's course (experimentationlab.berkeley.edu/holography) weighs theory 30 %, technique 60 % and analysis 10 %.
# What is marked under each, and every sentence, is assumed: an instructor writes their own.
USUAL_CRITERIA = (
    _usual(
        "Theory", By.STUDENT, 30, "Can say how the plate comes to hold an image, and works out its exposure.",
        "Nothing to show", "Names the parts, not what they do", "Explains the beam path with help",
        "Explains interference, reference and exposure", "Also predicts what a change of set-up would do",
    ),
    _usual(
        "Hands and stillness", By.STUDENT, 25, "Loads, exposes and processes as the room's rules ask.",
        "Not done", "Done with mistakes that cost plates", "Done when told each step",
        "Done alone, quietly and cleanly", "Done so that others can follow",
    ),
    _usual(
        "The plate", By.GROUP, 20, "What the group's best dry plate shows under the same lamp as the others.",
        "No image", "An image only under a laser or at one angle", "Dim but recognisable",
        "Clear in ordinary spot light", "Bright, deep and clean",
    ),
    _usual(
        "Run notes", By.GROUP, 15, "Whether another group could make the plate again from the notes.",
        "None", "Some, with gaps that nobody can fill", "All plates, most of them in time",
        "All plates, in time, with what went wrong", "Also what was changed for the next plate, and why",
    ),
    _usual(
        "Analysis", By.STUDENT, 10, "Says why the plate came out as it did.",
        "Nothing to show", "Says what was seen", "Names a likely cause",
        "Argues for a cause from the notes", "Also says how to test it",
    ),
)  # fmt: skip


def add_rubric(session: LabSession, *, name: str) -> Rubric:
    """A rubric without criteria yet."""
    if any(one.name.casefold() == name.casefold() for one in list_rubrics(session)):
        raise Refusal(f"There is a rubric called “{name}” already. Open it and change it.")
    rubric = Rubric(name=name)
    session.add(rubric)
    session.flush()  # its editions name its id
    return rubric


def add_usual_rubric(session: LabSession, *, by: str, now: datetime) -> Rubric:
    """The offered rubric, to begin with; its weights and sentences are assumed."""
    rubric = add_rubric(session, name=USUAL_NAME)
    edition = write_edition(session, rubric.id, USUAL_CRITERIA, note="", by=by, now=now)
    edition.is_assumed = True
    return rubric


def write_edition(
    session: LabSession,
    rubric_id: int,
    criteria: Sequence[NewCriterion],
    *,
    note: str,
    by: str,
    now: datetime,
) -> RubricEdition:
    """Write what a rubric marks. While no mark was given by the latest edition it is written anew; then a new one begins, and says why."""
    rubric = get_rubric(session, rubric_id)
    session.hold(Rubric, rubric.id)
    if not criteria:
        raise Refusal("A rubric needs at least one criterion. Write its name, its weight and its levels.")
    faults = rubric_faults([criterion.core for criterion in criteria])
    if faults:
        raise Refusal(faults[0].sentence)
    latest = find_latest_edition(session, rubric.id)
    if latest is not None and _as_asked(session, latest) == list(criteria):
        raise Refusal("Nothing is changed. Change something, or go back.")
    if latest is not None and not count_marks_by(session, latest.id):
        return _write_anew(session, latest, criteria, note=note, by=by, now=now)
    if latest is not None and not note:
        raise Refusal(
            "Marks were given by this edition, so what you change becomes the next one. Say in a few words why it changes."
        )
    number = 1 if latest is None else latest.number + 1
    edition = RubricEdition(rubric_id=rubric.id, number=number, note=note, made_at=now, made_by=by)
    session.add(edition)
    session.flush()  # its criteria name its id
    _add_criteria(session, edition, criteria)
    return edition


def _as_asked(session: LabSession, edition: RubricEdition) -> list[NewCriterion]:
    return [NewCriterion(kept.core, kept.row.says) for kept in list_criteria(session, edition.id)]


def _write_anew(
    session: LabSession,
    edition: RubricEdition,
    criteria: Sequence[NewCriterion],
    *,
    note: str,
    by: str,
    now: datetime,
) -> RubricEdition:
    own = select(RubricCriterion.id).where(RubricCriterion.edition_id == edition.id)
    session.exec(delete(RubricLevel).where(col(RubricLevel.criterion_id).in_(session.exec(own).all())))
    session.exec(delete(RubricCriterion).where(col(RubricCriterion.edition_id) == edition.id))
    edition.note, edition.is_assumed, edition.made_at, edition.made_by = note or edition.note, False, now, by
    _add_criteria(session, edition, criteria)
    return edition


def _add_criteria(session: LabSession, edition: RubricEdition, criteria: Sequence[NewCriterion]) -> None:
    for position, asked in enumerate(criteria):
        row = RubricCriterion(
            edition_id=edition.id,
            position=position,
            name=asked.core.name,
            says=asked.says,
            by=asked.core.by,
            weight_hundredths=_hundredths(asked.core.weight),
        )
        session.add(row)
        session.flush()  # its levels name its id
        session.add_all(
            RubricLevel(criterion_id=row.id, points_hundredths=_hundredths(level.points), says=level.says)
            for level in asked.core.levels
        )
    session.flush()  # whoever reads the rubric in the same request sees its levels


def _hundredths(number: Fraction) -> int:
    hundredths = number * HUNDREDTHS
    assert hundredths.denominator == 1
    return hundredths.numerator


def mark_by(
    session: LabSession, section_id: int, *, rubric_id: int, notes_within_s: int, by: str, now: datetime
) -> Marking:
    """Mark a section by the latest edition of a rubric.

    Marks given by another edition, and that one was taken back, are carried over where the criterion's name, its points and whom it is
    marked for are the same; the others wait to be given anew. What was given before stays kept.
    """
    get_section(session, section_id)
    session.hold(Section, section_id)
    rubric = get_rubric(session, rubric_id)
    edition = find_latest_edition(session, rubric.id)
    if edition is None:
        raise Refusal(f"“{rubric.name}” has no criteria yet. Write them first, under Rubrics.")
    marking = find_marking(session, section_id)
    if marking is None:
        marking = Marking(section_id=section_id, edition_id=edition.id, notes_within_s=notes_within_s)
        session.add(marking)
        return marking
    before, marking.edition_id, marking.notes_within_s = marking.edition_id, edition.id, notes_within_s
    if before != edition.id:
        _carry_over(session, section_id, before, edition, by=by, now=now)
    return marking


def _carry_over(
    session: LabSession, section_id: int, before: int, edition: RubricEdition, *, by: str, now: datetime
) -> None:
    old = get_edition(session, before)
    said = f"carried over from edition {old.number} of “{get_rubric(session, old.rubric_id).name}”"
    twins = {kept.steps: kept for kept in list_criteria(session, edition.id)}
    meant = {kept.row.id: kept for kept in list_criteria(session, old.id)}
    latest = {
        (who_of(mark), mark.criterion_id, mark.is_own): mark for mark in list_marks(session, section_id)
    }
    for (who, criterion_id, is_own), mark in latest.items():
        kept = meant.get(criterion_id)
        twin = None if kept is None else twins.get(kept.steps)
        if kept is None or twin is None:
            continue
        level_id, there = _same_level(mark, kept, twin), latest.get((who, twin.row.id, is_own))
        if _says(there) == (level_id, mark.points_hundredths):
            continue
        session.add(
            Mark(
                section_id=section_id,
                student_id=mark.student_id,
                given_to=mark.given_to,
                code=mark.code,
                group_id=mark.group_id,
                criterion_id=twin.row.id,
                level_id=level_id,
                is_own=is_own,
                points_hundredths=mark.points_hundredths,
                reason=f"{mark.reason}; {said}" if mark.reason else said,
                given_at=now,
                given_by=by,
            )
        )


def _says(mark: Mark | None) -> tuple[int | None, int | None]:
    """What a mark gives; one that takes back gives as little as none."""
    return (None, None) if mark is None else (mark.level_id, mark.points_hundredths)


def _same_level(mark: Mark, kept: KeptCriterion, twin: KeptCriterion) -> int | None:
    """The level of the same points."""
    points = {level.id: level.points_hundredths for level in kept.levels}
    same = {level.points_hundredths: level.id for level in twin.levels}
    return None if mark.level_id is None else same[points[mark.level_id]]


def _criterion_to_mark(session: LabSession, section_id: int, criterion_id: int) -> KeptCriterion:
    """The criterion, if the section is marked by it now. Others of the section wait meanwhile."""
    get_section(session, section_id)
    session.hold(Section, section_id)
    marking = find_marking(session, section_id)
    criteria: Sequence[KeptCriterion] = ()
    if marking is not None:
        # Whoever writes the edition anew waits for this mark, or this mark for them.
        session.hold(Rubric, get_edition(session, marking.edition_id).rubric_id)
        criteria = list_criteria(session, marking.edition_id)
    found = next((kept for kept in criteria if kept.row.id == criterion_id), None)
    if found is None:
        raise NotFound(
            "This section is not marked by this criterion. Load the page again: the rubric may have been changed meanwhile."
        )
    return found


def give_level(
    session: LabSession,
    section_id: int,
    student_id: int,
    *,
    criterion_id: int,
    level_id: int | None,
    by: str,
    now: datetime,
) -> int:
    """Give a student a level, or take back the one given (None); where groups are marked, all members of the student's group at once.

    Returns for how many students something changed: who has this level already gets no second row.
    """
    student = get_student(session, section_id, student_id)
    kept = _criterion_to_mark(session, section_id, criterion_id)
    if level_id is not None and level_id not in {level.id for level in kept.levels}:
        raise NotFound("This criterion has no such level. Load the page again and choose one of its levels.")
    group_id = student.group_id if kept.row.by == By.GROUP else None
    marked = [student]
    if group_id is not None:
        marked = [one for one in list_students(session, section_id) if one.group_id == group_id]
    codes = list_codes(session, section_id)
    standing = standing_marks(list_marks(session, section_id))
    changed = 0
    for one in marked:
        before = standing.get((one.id, criterion_id), Standing()).level
        if (None if before is None else before.level_id) == level_id:
            continue
        session.add(
            Mark(
                section_id=section_id,
                student_id=one.id,
                given_to=one.id,
                code=codes.get(one.id, ""),
                group_id=group_id,
                criterion_id=criterion_id,
                level_id=level_id,
                given_at=now,
                given_by=by,
            )
        )
        changed += 1
    return changed


def give_own_points(
    session: LabSession,
    section_id: int,
    student_id: int,
    *,
    criterion_id: int,
    points: Fraction | None,
    reason: str,
    by: str,
    now: datetime,
) -> None:
    """Override a student's mark by one criterion, with the reason: points that go before any level, until they are taken back (None)."""
    student = get_student(session, section_id, student_id)
    kept = _criterion_to_mark(session, section_id, criterion_id)
    standing = standing_marks(list_marks(session, section_id)).get((student_id, criterion_id), Standing())
    if points is None and standing.own is None:
        raise Refusal(f"This student has no points of their own for “{kept.row.name}”. Write the points.")
    fault = "" if points is None else points_fault(kept.core, points)
    if fault:
        raise Refusal(fault)
    session.add(
        Mark(
            section_id=section_id,
            student_id=student.id,
            given_to=student.id,
            code=list_codes(session, section_id).get(student.id, ""),
            criterion_id=criterion_id,
            is_own=True,
            points_hundredths=None if points is None else _hundredths(points),
            reason=reason,
            given_at=now,
            given_by=by,
        )
    )


def note_absence(
    session: LabSession, section_id: int, student_id: int, *, rotation_id: int, was_away: bool
) -> None:
    """Say that a student was not there on the day of a class, or that they were after all."""
    if get_rotation(session, rotation_id).section_id != section_id:
        raise NotFound("This class is another section's. Go back to the section's marks.")
    starts_at = list_starts(session)[rotation_id]
    set_away(session, section_id, student_id, day=day_in_lab(session, starts_at), is_away=was_away)
