"""What the marks pages show, and the table of a section's marks to keep."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from server.core.deeds import OnTime, never_held
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.roles import Role
from server.core.rubric import By, Total, percent_words, tenths_words, total
from server.core.table_file import write_table
from server.core.units import digits, duration_words, plain
from server.data.session import LabSession
from server.marks.forms import MOST_LEVELS, CriterionRow, MarkedBy, NewEdition, NewRubric, OwnPoints
from server.marks.models import HUNDREDTHS, NOTES_WITHIN_S, USUAL_NAME, Mark, Marking, RubricEdition
from server.marks.queries import (
    ClassDone,
    Done,
    KeptCriterion,
    RunDone,
    Standing,
    Who,
    count_marks_by,
    find_done,
    find_latest_edition,
    find_marking,
    get_edition,
    get_rubric,
    list_criteria,
    list_editions,
    list_marked_by,
    list_marks,
    list_rubrics,
    points_of,
    standing_marks,
    who_of,
)
from server.people.models import Student
from server.people.queries import (
    get_section,
    list_codes,
    list_group_names,
    list_section_names,
    list_sections,
    list_students,
)
from server.refusal import NotFound
from server.runs.models import INCIDENT_WORDS, VERDICT_WORDS, Incident
from server.web.submitted import Submitted

BY_WORDS = {By.STUDENT: "for each student", By.GROUP: "for a group together"}
# What a role is for, where somebody has yet to do it.
TO_MAKE_UP = {Role.LOADER: "loading", Role.SHUTTER: "exposing", Role.PROCESSOR: "processing"}
NOTE_STATES = {OnTime.YES: "well", OnTime.LATE: "watch", OnTime.UNKNOWN: "plain"}
# Who is in no group takes no turns.
NO_GROUP = "no group"
# Blank criteria that the form offers beyond those that are written.
EMPTY_CRITERIA = 2
MINUTE_S = 60


@dataclass(frozen=True)
class SectionLine:
    id: int
    name: str
    progress: str
    state: str
    rubric: str


@dataclass(frozen=True)
class MarksPage:
    sections: Sequence[SectionLine]
    has_rubric: bool


@dataclass(frozen=True)
class StudentLine:
    """`total` is empty until every criterion is marked; `marked` says how many are."""

    id: int
    code: str
    name: str
    total: str
    marked: str
    state: str
    runs: str
    notes: str
    misses: str


@dataclass(frozen=True)
class SectionMarksPage:
    """`rubric` is empty before one is chosen; `newer` names a later edition of it. `left` are codes of marked students off the list."""

    id: int
    name: str
    rubric: str
    rubric_id: int | None
    edition: int
    newer: int | None
    weights: Sequence[str]
    marked: int
    students: Sequence[StudentLine]
    left: Sequence[str]
    has_classes: bool
    rubrics: Sequence[tuple[int, str]]
    notes_within_min: int
    form: Submitted[MarkedBy]


@dataclass(frozen=True)
class LevelView:
    id: int
    points: str
    says: str
    is_chosen: bool


@dataclass(frozen=True)
class CriterionView:
    """`earned` tells how the criterion counts, `given` when and by whom; both are empty until it is marked."""

    id: int
    name: str
    says: str
    counts: str
    whose: str
    levels: Sequence[LevelView]
    earned: str
    given: str
    own: str


@dataclass(frozen=True)
class RunLine:
    """One plate of the student's group: what the student held for it, and what became of it."""

    run_id: int
    name: str
    plate: str
    roles: str
    verdict: str
    incident: str
    note: str
    note_state: str


@dataclass(frozen=True)
class ClassView:
    rotation_id: int
    name: str
    day: str
    was_away: bool
    runs: Sequence[RunLine]
    unnoted: str


@dataclass(frozen=True)
class ChangeLine:
    given: str
    criterion: str
    words: str
    by: str


@dataclass(frozen=True)
class StudentMarksPage:
    """`total` is empty until every criterion is marked. `before` and `after` are the neighbours on the list."""

    section_id: int
    section: str
    id: int
    code: str
    name: str
    group: str
    total: str
    marked: str
    so_far: str
    criteria: Sequence[CriterionView]
    rubric: str
    before: tuple[int, str] | None
    after: tuple[int, str] | None
    figures: Sequence[tuple[str, str]]
    classes: Sequence[ClassView]
    other_runs: Sequence[RunLine]
    notes_within: str
    changes: Sequence[ChangeLine]
    to_override: Sequence[tuple[int, str]]
    form: Submitted[OwnPoints]


@dataclass(frozen=True)
class RubricLine:
    id: int
    name: str
    edition: str
    criteria: str
    marks: str


@dataclass(frozen=True)
class RubricsPage:
    rubrics: Sequence[RubricLine]
    usual: str
    form: Submitted[NewRubric]


@dataclass(frozen=True)
class WrittenCriterion:
    name: str
    says: str
    by: str
    weight: str
    levels: Sequence[tuple[str, str]]


@dataclass(frozen=True)
class RubricEditionLine:
    number: int
    made: str
    note: str
    is_shown: bool


@dataclass(frozen=True)
class RubricPage:
    """`edition` is None before the first; `is_used` says that marks were given by it."""

    id: int
    name: str
    edition: int | None
    is_latest: bool
    is_assumed: bool
    is_used: bool
    full: str
    criteria: Sequence[WrittenCriterion]
    editions: Sequence[RubricEditionLine]
    sections: Sequence[str]


@dataclass(frozen=True)
class CriterionFields:
    """One criterion of the form."""

    number: int
    form: Submitted[CriterionRow]


@dataclass(frozen=True)
class RubricEditionPage:
    """`becomes` is set where marks were given by the latest edition: then the next one begins, and says why."""

    id: int
    name: str
    becomes: int | None
    rows: Sequence[CriterionFields]
    by: Sequence[tuple[str, str]]
    levels: Sequence[int]
    faults: int
    form: Submitted[NewEdition]


@dataclass(frozen=True)
class _Marked:
    """Everything that the marks of a section are read from; `criteria` are none before a rubric is chosen. `left` are the codes of
    marked students who have left the list.
    """

    marking: Marking | None
    edition: RubricEdition | None
    criteria: Sequence[KeptCriterion]
    standing: Mapping[tuple[Who, int], Standing]
    left: Mapping[Who, str]
    students: Sequence[Student]
    codes: Mapping[int, str]
    groups: Mapping[int, str]
    done: Done

    def total_of(self, who: Who) -> Total:
        return total([kept.core for kept in self.criteria], self.points_of(who))

    def points_of(self, who: Who) -> Mapping[int, Fraction]:
        found = {}
        for index, kept in enumerate(self.criteria):
            points = points_of(self.standing.get((who, kept.row.id), Standing()), kept)
            if points is not None:
                found[index] = points
        return found

    def group_of(self, student: Student) -> str:
        return self.groups.get(student.group_id or 0, "")

    def runs_of(self, student: Student) -> Sequence[RunDone]:
        return [one for each in self.done.classes for one in each.runs_of(student.id)]

    def others_of(self, student: Student) -> Sequence[RunDone]:
        """Runs of the student's group outside any class."""
        return [one for one in self.done.others if student.id in one.letters]

    def misses_of(self, student: Student) -> str:
        """What is left to make up; empty is nothing, or that nobody can say yet."""
        if not self.done.classes:
            return ""
        if student.id not in self.codes and not self.runs_of(student):
            return NO_GROUP
        held = [one for each in self.done.classes for one in each.held_by(student.id)]
        return ", ".join(TO_MAKE_UP[role] for role in never_held(held))

    def notes_of(self, student: Student) -> str:
        """“1 of 3”: those in time, of plates whose exposure is known and whose note is there or overdue."""
        judged = [one.note.judged for one in self.runs_of(student) if one.note is not None]
        known = sum(one is not OnTime.UNKNOWN for one in judged)
        due = known + sum(len(self.unnoted_of(student, each)) for each in self.done.classes)
        return f"{judged.count(OnTime.YES)} of {due}" if due else ""

    def unnoted_of(self, student: Student, each: ClassDone) -> Sequence[int]:
        """The numbers of the group's plates in a class of which there should be a note and is none."""
        return each.unnoted_of(student.id, self.group_of(student))


def _marked(session: LabSession, section_id: int, now: datetime | None) -> _Marked:
    """With what was done until now; without a time, the marks alone."""
    marking = find_marking(session, section_id)
    edition = None if marking is None else get_edition(session, marking.edition_id)
    within_s = NOTES_WITHIN_S if marking is None else marking.notes_within_s
    done = Done() if now is None else find_done(session, section_id, notes_within_s=within_s, now=now)
    codes, marks = list_codes(session, section_id), list_marks(session, section_id)
    students = sorted(
        list_students(session, section_id), key=lambda one: (one.id not in codes, _in_order(codes.get(one.id, "")))
    )  # fmt: skip
    return _Marked(
        marking,
        edition,
        () if edition is None else list_criteria(session, edition.id),
        standing_marks(marks),
        {who_of(mark): mark.code for mark in marks if mark.student_id is None},
        students,
        codes,
        list_group_names(session),
        done,
    )


def _in_order(code: str) -> tuple[int, str]:
    """G2-a before G10-a."""
    return len(code), code


def marks_page(session: LabSession) -> MarksPage:
    rubrics = {one.id: one.name for one in list_rubrics(session)}
    lines = []
    for section in list_sections(session):
        found = _marked(session, section.id, None)
        done = sum(found.total_of(student.id).is_complete for student in found.students)
        whole = len(found.students)
        lines.append(
            SectionLine(
                section.id,
                section.name,
                f"{done} of {whole} marked" if found.edition else "no rubric chosen",
                "well" if found.edition and whole and done == whole else "plain",
                ""
                if found.edition is None
                else f"{rubrics[found.edition.rubric_id]}, edition {found.edition.number}",
            )
        )
    return MarksPage(lines, bool(rubrics))


def section_marks_page(
    session: LabSession, section_id: int, now: datetime, form: Submitted[MarkedBy] | None = None
) -> SectionMarksPage:
    section = get_section(session, section_id)
    found = _marked(session, section_id, now)
    edition = found.edition
    latest = None if edition is None else find_latest_edition(session, edition.rubric_id)
    lines = [_student_line(found, student) for student in found.students]
    within_s = NOTES_WITHIN_S if found.marking is None else found.marking.notes_within_s
    return SectionMarksPage(
        id=section.id,
        name=section.name,
        rubric="" if edition is None else get_rubric(session, edition.rubric_id).name,
        rubric_id=None if edition is None else edition.rubric_id,
        edition=0 if edition is None else edition.number,
        newer=None if edition is None or latest is None or latest.id == edition.id else latest.number,
        weights=_weights(found.criteria),
        marked=sum(found.total_of(student.id).is_complete for student in found.students),
        students=lines,
        left=sorted(found.left.values(), key=_in_order),
        has_classes=bool(found.done.classes),
        rubrics=[(one.id, one.name) for one in list_rubrics(session) if find_latest_edition(session, one.id)],
        notes_within_min=within_s // MINUTE_S,
        form=form or Submitted(),
    )


def _weights(criteria: Sequence[KeptCriterion]) -> Sequence[str]:
    full = sum((kept.core.weight for kept in criteria), Fraction(0))
    return [f"{kept.row.name} {plain(kept.core.weight)} of {plain(full)}" for kept in criteria]


def _student_line(found: _Marked, student: Student) -> StudentLine:
    what = found.total_of(student.id)
    runs = len(found.runs_of(student)) + len(found.others_of(student))
    return StudentLine(
        student.id,
        found.codes.get(student.id, "no group yet"),
        student.name,
        percent_words(what.share),
        _marked_words(what),
        "well" if what.is_complete else "plain",
        str(runs),
        found.notes_of(student),
        found.misses_of(student),
    )


def _marked_words(what: Total) -> str:
    return f"{what.marked} of {what.criteria}" if what.criteria else ""


def _name_words(student: Student, codes: Mapping[int, str]) -> str:
    """For a link: the code, or the name of who has none."""
    return codes.get(student.id, student.name or "no group yet")


def student_marks_page(
    session: LabSession,
    section_id: int,
    student_id: int,
    now: datetime | None,
    zone: str,
    form: Submitted[OwnPoints] | None = None,
) -> StudentMarksPage:
    """With what was done until now; without a time, the marks alone, which are all that an answer to a tap shows."""
    section = get_section(session, section_id)
    found = _marked(session, section_id, now)
    place = next((place for place, one in enumerate(found.students) if one.id == student_id), None)
    if place is None:
        raise NotFound("There is no such student in this section. Choose one from the section's marks.")
    student = found.students[place]
    what = found.total_of(student_id)
    neighbours = [
        (found.students[at].id, _name_words(found.students[at], found.codes))
        if 0 <= at < len(found.students)
        else None
        for at in (place - 1, place + 1)
    ]
    within_s = NOTES_WITHIN_S if found.marking is None else found.marking.notes_within_s
    return StudentMarksPage(
        section_id=section.id,
        section=section.name,
        id=student.id,
        code=found.codes.get(student.id, "no group yet"),
        name=student.name,
        group=found.group_of(student),
        total=percent_words(what.share),
        marked=_marked_words(what),
        so_far=f"{tenths_words(what.earned)} of the {plain(what.possible)} weighed so far",
        criteria=[_criterion_view(found, student, kept, zone) for kept in found.criteria],
        rubric=""
        if found.edition is None
        else f"{get_rubric(session, found.edition.rubric_id).name}, edition {found.edition.number}",
        before=neighbours[0],
        after=neighbours[1],
        figures=_figures(found, student),
        classes=[_class_view(each, found, student, zone) for each in found.done.classes],
        other_runs=[_run_line(one, "", zone) for one in found.others_of(student)],
        notes_within=duration_words(within_s),
        changes=() if now is None else _changes(session, found, section_id, student_id, zone),
        to_override=[(kept.row.id, kept.row.name) for kept in found.criteria],
        form=form or Submitted(),
    )


def _figures(found: _Marked, student: Student) -> Sequence[tuple[str, str]]:
    runs = [one.run for one in (*found.runs_of(student), *found.others_of(student))]
    rated = sum(run.verdict is not None for run in runs)
    misses = found.misses_of(student) if found.done.classes else "no class yet"
    return [
        ("Plates of the group", str(len(runs))),
        ("Rated", f"{rated} of {len(runs)}"),
        ("Notes in time", found.notes_of(student) or "none to judge"),
        ("To make up", misses or "nothing"),
    ]


def _criterion_view(found: _Marked, student: Student, kept: KeptCriterion, zone: str) -> CriterionView:
    standing = found.standing.get((student.id, kept.row.id), Standing())
    points, core = points_of(standing, kept), kept.core
    chosen = standing.level.level_id if standing.level is not None else None
    group = found.group_of(student)
    mates = [
        found.codes[one.id]
        for one in found.students
        if one.group_id == student.group_id and one.id in found.codes
    ]
    given = standing.own or standing.level
    return CriterionView(
        kept.row.id,
        kept.row.name,
        kept.row.says,
        plain(core.weight),
        f"for all of {group}: {', '.join(mates)}" if kept.row.by == By.GROUP and group else BY_WORDS[By.STUDENT],
        [
            LevelView(level.id, _points(level.points_hundredths), level.says, level.id == chosen)
            for level in kept.levels
        ],
        ""
        if points is None
        else f"{plain(points)} of {plain(core.best)} points: {plain(core.weight)} × {plain(points)} ÷ {plain(core.best)} = {digits(core.part(points))}",
        "" if given is None else f"{moment_words(given.given_at, zone)} by {given.given_by}",
        "" if standing.own is None else f"{_points(standing.own.points_hundredths)} points of their own: {standing.own.reason}",
    )  # fmt: skip


def _points(hundredths: int | None) -> str:
    return plain(Fraction(hundredths or 0, HUNDREDTHS))


def _class_view(each: ClassDone, found: _Marked, student: Student, zone: str) -> ClassView:
    held = {one.plate: one.roles for one in each.held_by(student.id)}
    return ClassView(
        each.rotation_id,
        each.name,
        day_words(day_at(each.starts_at, zone)),
        student.id in each.away,
        [_run_line(one, _roles_words(one, held, student), zone) for one in each.runs_of(student.id)],
        _unnoted_words(found.unnoted_of(student, each)),
    )


def _unnoted_words(plates: Sequence[int]) -> str:
    if not plates:
        return ""
    return f"No note of plate{'' if len(plates) == 1 else 's'} {', '.join(map(str, plates))}."


def _roles_words(one: RunDone, held: Mapping[int, Sequence[Role]], student: Student) -> str:
    roles = [] if one.pass_no is None else [role.value for role in held.get(one.pass_no, ())]
    if one.run.emulsion_by and one.run.emulsion_by == one.letters[student.id]:
        roles.append("checked the emulsion side")
    return ", ".join(roles) or ("not in the plan of roles" if one.pass_no is None else "none")


def _run_line(one: RunDone, roles: str, zone: str) -> RunLine:
    run = one.run
    return RunLine(
        run.id,
        f"run {run.number}",
        f"plate {one.plate}" if one.plate else "",
        roles,
        "waiting" if run.verdict is None else f"{run.verdict}, {VERDICT_WORDS[run.verdict]}",
        INCIDENT_WORDS[Incident(run.incident)],
        _note_words(one, zone),
        "plain" if one.note is None else NOTE_STATES[one.note.judged],
    )


def _note_words(one: RunDone, zone: str) -> str:
    written = f"written {clock_at(one.run.exposed_at, zone)}"
    if one.note is None or one.note.after_s is None:
        return written
    return f"{one.note.judged.value}, {duration_words(one.note.after_s)} after the exposure"


def _changes(
    session: LabSession, found: _Marked, section_id: int, student_id: int, zone: str
) -> Sequence[ChangeLine]:
    """Everything that was marked of a student, the latest first, by whatever edition."""
    names: dict[int, str] = {}
    levels: dict[int, str] = {}
    own = [mark for mark in list_marks(session, section_id) if mark.student_id == student_id]
    editions = {found.edition.id: found.edition} if found.edition else {}
    for rubric in list_rubrics(session):
        editions |= {edition.id: edition for edition in list_editions(session, rubric.id)}
    wanted = {mark.criterion_id for mark in own}
    for edition in editions.values():
        for kept in list_criteria(session, edition.id) if wanted - set(names) else ():
            names[kept.row.id] = kept.row.name
            levels |= {level.id: _points(level.points_hundredths) for level in kept.levels}
    return [
        ChangeLine(
            moment_words(mark.given_at, zone), names[mark.criterion_id], _change_words(mark, levels), mark.given_by
        )
        for mark in reversed(own)
    ]  # fmt: skip


def _change_words(mark: Mark, levels: Mapping[int, str]) -> str:
    if mark.level_id is not None:
        words = f"{levels[mark.level_id]} points"
    elif mark.points_hundredths is not None:
        words = f"{_points(mark.points_hundredths)} points of their own"
    else:
        words = "points of their own taken back" if mark.is_own else "taken back"
    together = ", for the group" if mark.group_id is not None else ""
    return f"{words}{together}{f': {mark.reason}' if mark.reason else ''}"


def rubrics_page(session: LabSession, form: Submitted[NewRubric] | None = None) -> RubricsPage:
    rubrics = list_rubrics(session)
    return RubricsPage(
        [_rubric_line(session, one.id, one.name) for one in rubrics],
        "" if any(one.name.casefold() == USUAL_NAME.casefold() for one in rubrics) else USUAL_NAME,
        form or Submitted(),
    )


def _rubric_line(session: LabSession, rubric_id: int, name: str) -> RubricLine:
    latest = find_latest_edition(session, rubric_id)
    if latest is None:
        return RubricLine(rubric_id, name, "none yet", "", "")
    sections = list_section_names(session)
    return RubricLine(
        rubric_id,
        name,
        str(latest.number),
        ", ".join(_weights(list_criteria(session, latest.id))),
        ", ".join(sections[section_id] for section_id in list_marked_by(session, rubric_id)),
    )


def rubric_page(session: LabSession, rubric_id: int, zone: str, *, number: int | None = None) -> RubricPage:
    """The latest edition, or that of a `number`."""
    rubric = get_rubric(session, rubric_id)
    editions = list_editions(session, rubric_id)
    shown = next((one for one in editions if number is None or one.number == number), None)
    if shown is None and number is not None:
        raise NotFound(f"“{rubric.name}” has no edition {number}. Choose one from its page.")
    criteria = [] if shown is None else list_criteria(session, shown.id)
    sections = list_section_names(session)
    return RubricPage(
        id=rubric.id,
        name=rubric.name,
        edition=None if shown is None else shown.number,
        is_latest=shown is None or shown is editions[0],
        is_assumed=shown is not None and shown.is_assumed,
        is_used=shown is not None and count_marks_by(session, shown.id) > 0,
        full=plain(sum((kept.core.weight for kept in criteria), Fraction(0))),
        criteria=[
            WrittenCriterion(
                kept.row.name,
                kept.row.says,
                BY_WORDS[By(kept.row.by)],
                plain(kept.core.weight),
                [(_points(level.points_hundredths), level.says) for level in kept.levels],
            )
            for kept in criteria
        ],
        editions=[
            RubricEditionLine(
                one.number, f"{moment_words(one.made_at, zone)} by {one.made_by}", one.note, one is shown
            )
            for one in editions
        ],
        sections=[
            f"{sections[section_id]}, by edition {edition}"
            for section_id, edition in list_marked_by(session, rubric_id).items()
        ],
    )


def rubric_edition_page(
    session: LabSession,
    rubric_id: int,
    form: Submitted[NewEdition] | None = None,
    lines: Sequence[Submitted[CriterionRow]] | None = None,
) -> RubricEditionPage:
    """The form of what a rubric marks: what was typed, or else its latest edition."""
    rubric = get_rubric(session, rubric_id)
    latest = find_latest_edition(session, rubric_id)
    kept = [] if latest is None else list_criteria(session, latest.id)
    typed = list(lines) if lines is not None else [_as_typed(one, at) for at, one in enumerate(kept)]
    rows = [*typed, *(Submitted[CriterionRow]() for _ in range(EMPTY_CRITERIA))]
    is_used = latest is not None and count_marks_by(session, latest.id) > 0
    return RubricEditionPage(
        id=rubric.id,
        name=rubric.name,
        becomes=latest.number + 1 if latest is not None and is_used else None,
        rows=[CriterionFields(number, row) for number, row in enumerate(rows, start=1)],
        by=list(BY_WORDS.items()),
        levels=range(1, MOST_LEVELS + 1),
        faults=sum(len(line.errors) for line in typed) + len((form or Submitted()).errors),
        form=form or Submitted(),
    )


def _as_typed(kept: KeptCriterion, place: int) -> Submitted[CriterionRow]:
    row, core = kept.row, kept.core
    values = {
        "name": row.name,
        "position": str((place + 1) * 10),
        "weight": plain(core.weight),
        "by": row.by,
        "says": row.says,
    }
    for number, level in enumerate(kept.levels, start=1):
        values[f"points_{number}"] = _points(level.points_hundredths)
        values[f"says_{number}"] = level.says
    return Submitted(values)


def marks_table(session: LabSession, section_id: int, now: datetime) -> str:
    """A line for each student of a section, and for each marked code that has left the list, as comma-separated values."""
    get_section(session, section_id)
    found = _marked(session, section_id, now)
    head = [
        "code",
        "name",
        "total in percent, rounded once to 0.1",
        "criteria marked",
        *(
            f"{kept.row.name}: points of {plain(kept.core.best)}, weight {plain(kept.core.weight)}"
            for kept in found.criteria
        ),
        "points of their own",
        "roles held",
        "to make up",
        "away",
        "runs",
        "notes in time",
    ]
    rows = [_marks_row(found, student) for student in found.students]
    gone = [
        [code, "", *_points_cells(found, who), "", "", "", "", ""]
        for who, code in sorted(found.left.items(), key=lambda one: _in_order(one[1]))
    ]
    return write_table(head, [*rows, *gone])


def _points_cells(found: _Marked, who: Who) -> list[str]:
    """Total, how many criteria are marked, the points of each, and what was overridden; empty is not marked."""
    what, points = found.total_of(who), found.points_of(who)
    own = [
        f"{kept.row.name}: {standing.own.reason}"
        for kept in found.criteria
        if (standing := found.standing.get((who, kept.row.id))) is not None and standing.own is not None
    ]
    return [
        percent_words(what.share),
        f"{what.marked} of {what.criteria}",
        *(plain(points[index]) if index in points else "" for index in range(len(found.criteria))),
        "; ".join(own),
    ]


def _marks_row(found: _Marked, student: Student) -> list[str]:
    held = [
        f"{each.name}, plate {one.plate}: {', '.join(one.roles)}"
        for each in found.done.classes
        for one in each.held_by(student.id)
    ]
    return [
        found.codes.get(student.id, ""),
        student.name,
        *_points_cells(found, student.id),
        "; ".join(held),
        found.misses_of(student),
        "; ".join(each.name for each in found.done.classes if student.id in each.away),
        str(len(found.runs_of(student)) + len(found.others_of(student))),
        found.notes_of(student),
    ]
