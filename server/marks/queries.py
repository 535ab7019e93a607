"""Reads of rubrics, of marks, and of what each student did."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction

from sqlmodel import col, func, select

from server.callings.queries import find_to_call, list_exposed
from server.core.deeds import Held, NoteTime, held_by, note_time, plates_noted, with_recorder
from server.core.moments import day_at
from server.core.roles import Duties, Members, share_roles
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
from server.people.queries import get_lab, list_group_names
from server.refusal import NotFound
from server.roles.queries import list_plates
from server.rotations.models import RotationState
from server.rotations.queries import get_plan, list_rotations, list_starts
from server.runs.models import Run, RunMember
from server.runs.queries import list_members, list_runs
from server.students.queries import list_away, list_unsigned


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

    `letters` are those of the students who were in the group, by id.
    """

    run: Run
    letters: Mapping[int, str]
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

    def held_by(self, student_id: int) -> tuple[Held, ...]:
        """What a student held, plate by plate."""
        return held_by(str(student_id), self.duties)

    def runs_of(self, student_id: int) -> Sequence[RunDone]:
        """The runs of the group that the student was in then."""
        return [one for theirs in self.runs.values() for one in theirs if student_id in one.letters]

    def unnoted_of(self, student_id: int, group: str) -> Sequence[int]:
        """The plates without a note of the group that the student was in then; where no run tells which that was, of `group`."""
        then = [name for name, runs in self.runs.items() if any(student_id in one.letters for one in runs)]
        if not then and group not in self.runs:
            then = [group]
        return [number for name in then for number in self.unnoted.get(name, ())]


@dataclass(frozen=True)
class Done:
    """What was done in a section's classes that have begun, in the order of time, and the runs outside any of them."""

    classes: Sequence[ClassDone] = ()
    others: Sequence[RunDone] = ()


def find_done(session: LabSession, section_id: int, *, notes_within_s: int, now: datetime) -> Done:
    starts = list_starts(session)
    begun = [
        rotation
        for rotation in list_rotations(session)
        if rotation.section_id == section_id
        and rotation.state == RotationState.PUBLISHED
        and starts[rotation.id] <= now
    ]
    members, names, zone = (
        list_members(session, section_id),
        list_group_names(session),
        get_lab(session).time_zone,
    )
    runs = [
        RunDone(
            run, {one.student_id: one.letter for one in members.get(run.id, ()) if one.student_id is not None}
        )
        for run in reversed(list_runs(session, section_id))
    ]
    found = []
    for rotation in sorted(begun, key=lambda one: (starts[one.id], one.id)):
        kept = get_plan(session, rotation.id)
        day = day_at(starts[rotation.id], zone)
        gone, unsigned = list_away(session, section_id, day), list_unsigned(session, section_id, day)
        plates = {} if kept is None or not kept.plates_planned else list_plates(session, rotation, kept)
        closed = _closed_by_group(session, rotation.id)
        own: dict[str, list[RunDone]] = {}
        for one in runs:
            if one.run.rotation_id == rotation.id:
                own.setdefault(names[one.run.group_id], []).append(one)
        noted = {
            group: _runs_done(
                theirs, plates[group].passes if group in plates else (), closed.get(group, ()), notes_within_s
            )
            for group, theirs in own.items()
        }
        duties = [
            _duties_done(plates[group], one, members.get(one.run.id, ()), gone, unsigned)
            for group, theirs in noted.items()
            for one in theirs
            if one.pass_no is not None
        ]
        found.append(
            ClassDone(
                rotation.id,
                rotation.name,
                starts[rotation.id],
                [one for one in duties if one is not None],
                noted,
                _unnoted(closed, noted, now - timedelta(seconds=notes_within_s)),
                gone,
            )
        )
    of_classes = {each.rotation_id for each in found}
    return Done(found, [one for one in runs if one.run.rotation_id not in of_classes])


def _closed_by_group(session: LabSession, rotation_id: int) -> Mapping[str, Sequence[datetime]]:
    """When the shutter closed over each group's plates, in the order of time."""
    of = find_to_call(session, rotation_id)
    found: dict[str, list[datetime]] = {}
    for exposed in () if of is None else list_exposed(session, of):
        found.setdefault(exposed.group, []).append(exposed.closed_at)
    return found


def _runs_done(
    runs: Sequence[RunDone], passes: Sequence[int], closed: Sequence[datetime], within_s: int
) -> Sequence[RunDone]:
    """A group's runs of one class in the order of its plates, each beside the pass and the exposure of its number."""
    in_order = sorted(runs, key=lambda one: (one.run.exposed_at, one.run.id))
    numbers = plates_noted([one.run.plate_no for one in in_order])
    done = [
        replace(
            one,
            plate=number,
            pass_no=passes[number - 1] if number <= len(passes) else None,
            note=note_time(
                written_at=one.run.exposed_at,
                exposed_at=closed[number - 1] if number <= len(closed) else None,
                within_s=within_s,
            ),
        )
        for one, number in zip(in_order, numbers, strict=True)
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
    plates: Members,
    done: RunDone,
    members: Sequence[RunMember],
    gone: frozenset[int],
    unsigned: frozenset[int],
) -> Duties | None:
    """The duties of a plate that was made, by the ids of those who were in the group then, with the recorder that its note names.

    Papers count by the class's day, however late they came in; of who has left the list there are none any more.
    """
    called = {one.letter: one.code if one.student_id is None else str(one.student_id) for one in members}
    lit = {
        called[one.letter]
        for one in members
        if one.was_lit_only or (one.was_unsigned if one.student_id is None else one.student_id in unsigned)
    }
    share = share_roles(
        [replace(plates, students=tuple(called.values()))],
        away=frozenset(str(student_id) for student_id in gone),
        lit=frozenset(lit),
    )
    found = next((one for one in share.duties if one.pass_no == done.pass_no), None)
    recorder = called.get(done.run.filed_by or "")
    return found if found is None or recorder is None else with_recorder(found, recorder)
