"""Reads of rubrics, of marks, and of what each student did."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from sqlmodel import col, func, select

from server.activities.queries import find_kept
from server.callings.queries import find_to_call, list_exposed
from server.core.deeds import NoteTime, note_time, plates_noted, with_recorder
from server.core.moments import day_at
from server.core.roles import Duties, share_roles
from server.core.rubric import By, Criterion, Level
from server.data.session import LabSession
from server.marks.models import (
    HUNDREDTHS,
    Mark,
    Marking,
    Rubric,
    RubricCriterion,
    RubricEdition,
    RubricLevel,
)
from server.people.queries import get_lab, list_codes, list_group_names, list_students
from server.refusal import NotFound
from server.rotations.models import RotationState
from server.rotations.queries import list_rotations, list_starts
from server.runs.models import Run
from server.runs.queries import list_runs
from server.students.queries import list_away


@dataclass(frozen=True)
class KeptCriterion:
    """A criterion as it was written; `levels` by their points, the fewest first."""

    row: RubricCriterion
    levels: Sequence[RubricLevel]

    @property
    def core(self) -> Criterion:
        return Criterion(
            self.row.name,
            Fraction(self.row.weight_hundredths, HUNDREDTHS),
            tuple(Level(Fraction(level.points_hundredths, HUNDREDTHS), level.says) for level in self.levels),
            By(self.row.by),
        )

    @property
    def steps(self) -> tuple[str, str, frozenset[int]]:
        """What a mark by it means; two criteria that agree in this are the same thing to mark."""
        return (
            self.row.name.casefold(),
            self.row.by,
            frozenset(level.points_hundredths for level in self.levels),
        )


def list_rubrics(session: LabSession) -> Sequence[Rubric]:
    return session.exec(select(Rubric).order_by(col(Rubric.name))).all()


def get_rubric(session: LabSession, rubric_id: int) -> Rubric:
    rubric = session.get(Rubric, rubric_id)
    if rubric is None:
        raise NotFound("There is no such rubric in this lab. Choose one from Rubrics.")
    return rubric


def list_editions(session: LabSession, rubric_id: int) -> Sequence[RubricEdition]:
    """The editions of a rubric, the latest first."""
    editions = select(RubricEdition).where(RubricEdition.rubric_id == rubric_id)
    return session.exec(editions.order_by(col(RubricEdition.number).desc())).all()


def find_latest_edition(session: LabSession, rubric_id: int) -> RubricEdition | None:
    return next(iter(list_editions(session, rubric_id)), None)


def get_edition(session: LabSession, edition_id: int) -> RubricEdition:
    edition = session.get(RubricEdition, edition_id)
    if edition is None:
        raise NotFound("There is no such edition in this lab. Choose one from Rubrics.")
    return edition


def list_criteria(session: LabSession, edition_id: int) -> Sequence[KeptCriterion]:
    """The criteria of an edition in their order."""
    criteria = session.exec(
        select(RubricCriterion)
        .where(RubricCriterion.edition_id == edition_id)
        .order_by(col(RubricCriterion.position))
    ).all()
    levels: dict[int, list[RubricLevel]] = {criterion.id: [] for criterion in criteria}
    for level in session.exec(
        select(RubricLevel)
        .join(RubricCriterion, col(RubricCriterion.id) == col(RubricLevel.criterion_id))
        .where(RubricCriterion.edition_id == edition_id)
        .order_by(col(RubricLevel.points_hundredths))
    ).all():
        levels[level.criterion_id].append(level)
    return [KeptCriterion(criterion, levels[criterion.id]) for criterion in criteria]


def count_marks_by(session: LabSession, edition_id: int) -> int:
    """How many marks were ever given by an edition, those taken back too."""
    return session.exec(
        select(func.count())
        .select_from(Mark)
        .join(RubricCriterion, col(RubricCriterion.id) == col(Mark.criterion_id))
        .where(RubricCriterion.edition_id == edition_id)
    ).one()


def find_marking(session: LabSession, section_id: int) -> Marking | None:
    return session.exec(select(Marking).where(Marking.section_id == section_id)).first()


def list_marked_by(session: LabSession, rubric_id: int) -> Mapping[int, int]:
    """The edition's number by which each section is marked, by the section's id, of those marked by this rubric."""
    return dict(
        session.exec(
            select(Marking.section_id, RubricEdition.number)
            .join(RubricEdition, col(RubricEdition.id) == col(Marking.edition_id))
            .where(RubricEdition.rubric_id == rubric_id)
        ).all()
    )


def list_marks(session: LabSession, section_id: int) -> Sequence[Mark]:
    """Everything that was marked in a section, oldest first, of students who left the list too."""
    marks = select(Mark).where(Mark.section_id == section_id)
    return session.exec(marks.order_by(col(Mark.given_at), col(Mark.id))).all()


@dataclass(frozen=True)
class Standing:
    """What counts for one student by one criterion: the latest level, or before it the latest points of the student's own."""

    level: Mark | None = None
    own: Mark | None = None

    @property
    def is_marked(self) -> bool:
        return self.own is not None or self.level is not None


# A student's id, also of one who has left the list; a code where the mark is from before ids were kept.
Who = int | str


def who_of(mark: Mark) -> Who:
    return mark.code if mark.given_to is None else mark.given_to


def standing_marks(marks: Iterable[Mark]) -> Mapping[tuple[Who, int], Standing]:
    """What counts of `marks`, oldest first, by who was marked and the criterion's id."""
    found: dict[tuple[Who, int], Standing] = {}
    for mark in marks:
        key = (who_of(mark), mark.criterion_id)
        before = found.get(key, Standing())
        if mark.is_own:
            found[key] = Standing(before.level, mark if mark.points_hundredths is not None else None)
        else:
            found[key] = Standing(mark if mark.level_id is not None else None, before.own)
    return found


def points_of(standing: Standing, kept: KeptCriterion) -> Fraction | None:
    """The points that count; None where nothing is marked."""
    if standing.own is not None:
        return Fraction(standing.own.points_hundredths or 0, HUNDREDTHS)
    given = standing.level
    points = {level.id: level.points_hundredths for level in kept.levels}
    if given is None or given.level_id is None:
        return None
    return Fraction(points[given.level_id], HUNDREDTHS)


@dataclass(frozen=True)
class RunDone:
    """A run of a group: the number of its plate in the class, counted from 1; the pass of the plan that this is, none for a plate more
    than was planned; and how its note's time is judged. Outside any class there is only the run.
    """

    run: Run
    plate: int = 0
    pass_no: int | None = None
    note: NoteTime | None = None


@dataclass(frozen=True)
class ClassDone:
    """A published class of the section that has begun: the duties of plates that were made, its runs by group, the numbers of plates
    by group that were exposed and whose time for a note is over without one, and who was away (their ids).
    """

    rotation_id: int
    name: str
    starts_at: datetime
    duties: Sequence[Duties]
    runs: Mapping[str, Sequence[RunDone]]
    unnoted: Mapping[str, Sequence[int]]
    away: frozenset[int]


def list_classes_done(
    session: LabSession, section_id: int, *, notes_within_s: int, now: datetime
) -> Sequence[ClassDone]:
    """The section's published classes that have begun, in the order of time."""
    starts = list_starts(session)
    begun = [
        rotation
        for rotation in list_rotations(session)
        if rotation.section_id == section_id
        and rotation.state == RotationState.PUBLISHED
        and starts[rotation.id] <= now
    ]
    runs, codes = list_runs(session, section_id), list_codes(session, section_id)
    zone = get_lab(session).time_zone
    names = list_group_names(session)
    letters = {
        (student.group_id, student.letter): codes[student.id]
        for student in list_students(session, section_id)
        if student.id in codes
    }
    found = []
    for rotation in sorted(begun, key=lambda one: (starts[one.id], one.id)):
        kept = find_kept(session, rotation)
        gone = list_away(session, section_id, day_at(starts[rotation.id], zone))
        planned = () if kept is None else share_roles(kept.members, away=kept.away, lit=kept.lit).duties
        closed = _closed_by_group(session, rotation.id)
        own: dict[str, list[Run]] = {}
        for run in runs:
            if run.rotation_id == rotation.id:
                own.setdefault(names[run.group_id], []).append(run)
        noted = {
            group: _runs_done(
                theirs,
                [one.pass_no for one in planned if one.group == group],
                closed.get(group, ()),
                notes_within_s,
            )
            for group, theirs in own.items()
        }
        found.append(
            ClassDone(
                rotation.id,
                rotation.name,
                starts[rotation.id],
                _duties_done(planned, noted, letters),
                noted,
                _unnoted(closed, noted, now - timedelta(seconds=notes_within_s)),
                gone,
            )
        )
    return found


def _closed_by_group(session: LabSession, rotation_id: int) -> Mapping[str, Sequence[datetime]]:
    """When the shutter closed over each group's plates, in the order of time."""
    of = find_to_call(session, rotation_id)
    found: dict[str, list[datetime]] = {}
    for exposed in () if of is None else list_exposed(session, of):
        found.setdefault(exposed.group, []).append(exposed.closed_at)
    return found


def _runs_done(
    runs: Sequence[Run], passes: Sequence[int], closed: Sequence[datetime], within_s: int
) -> Sequence[RunDone]:
    """A group's runs of one class in the order of its plates, each beside the pass and the exposure of its number."""
    in_order = sorted(runs, key=lambda run: (run.exposed_at, run.id))
    numbers = plates_noted([run.plate_no for run in in_order])
    done = [
        RunDone(
            run,
            number,
            passes[number - 1] if number <= len(passes) else None,
            note_time(
                written_at=run.exposed_at,
                exposed_at=closed[number - 1] if number <= len(closed) else None,
                within_s=within_s,
            ),
        )
        for run, number in zip(in_order, numbers, strict=True)
    ]
    return sorted(done, key=lambda one: one.plate)


def _unnoted(
    closed: Mapping[str, Sequence[datetime]], noted: Mapping[str, Sequence[RunDone]], due: datetime
) -> Mapping[str, Sequence[int]]:
    """The numbers of each group's plates that were exposed before `due` and have no note."""
    made = {group: {one.plate for one in theirs} for group, theirs in noted.items()}
    return {
        group: [
            number
            for number, closed_at in enumerate(theirs, start=1)
            if closed_at < due and number not in made.get(group, ())
        ]
        for group, theirs in closed.items()
    }


def _duties_done(
    planned: Sequence[Duties],
    noted: Mapping[str, Sequence[RunDone]],
    letters: Mapping[tuple[int | None, str], str],
) -> Sequence[Duties]:
    """The duties of plates that were made, with the recorders that their notes name."""
    made = {(group, one.pass_no): one.run for group, theirs in noted.items() for one in theirs}
    done = []
    for one in planned:
        run = made.get((one.group, one.pass_no))
        if run is not None:
            recorder = letters.get((run.group_id, run.filed_by or ""))
            done.append(one if recorder is None else with_recorder(one, recorder))
    return done
