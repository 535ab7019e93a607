"""What the rotations pages show."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby
from typing import cast
from zoneinfo import ZoneInfo

from server.core.moments import clock_at, day_at, day_words, moment_words, up_to_the_minute
from server.core.planning import Plan, Problem, Status, Telling, read_class_file, tell
from server.core.rounds import Piece
from server.core.side_by_side import Entry, PlateRow, side_by_side
from server.core.timeline import Aside, Drawing, Spot, Timeline
from server.core.units import duration_words
from server.data.session import LabSession
from server.people.queries import get_section, list_section_names
from server.rotations.forms import NewRotation, StepRow
from server.rotations.models import (
    Rotation,
    RotationPlan,
    RotationState,
    RotationStep,
    StepPlace,
    StepTime,
)
from server.rotations.queries import (
    OutOfPlates,
    PlanVisit,
    get_plan,
    get_rotation,
    in_seconds,
    list_asked_groups,
    list_every_visit,
    list_missing,
    list_mixes,
    list_out_of_plates,
    list_periods,
    list_plans,
    list_rotations,
    list_starts,
    list_steps,
)
from server.stations.models import PlaceKind
from server.stations.queries import list_places, list_tray_lines
from server.web.submitted import Submitted

EMPTY_LINES = 2
STATUS_WORDS = {
    "optimal": "proven earliest",
    "feasible": "best found",
    "partial": "does not all fit",
    "impossible": "cannot be done",
}
STATUS_STATE = {"optimal": "well", "feasible": "well", "partial": "watch", "impossible": "stop"}
STATE_WORDS = {
    RotationState.DRAFT: ("plain", "draft"),
    RotationState.PLANNED: ("watch", "planned, not published"),
    RotationState.PUBLISHED: ("well", "published"),
}


@dataclass(frozen=True)
class RotationLine:
    """One rotation in the list. `finish` and `gap` are empty until there is a plan of it as it stands."""

    id: int
    name: str
    section: str
    day: str
    state: str
    state_words: str
    status: str
    finish: str
    gap: str


@dataclass(frozen=True)
class RotationsPage:
    rotations: Sequence[RotationLine]
    sections: Sequence[tuple[int, str]]
    form: Submitted[NewRotation]


@dataclass(frozen=True)
class Answer:
    """What the planner answered, in words. `whiteboard` and `saved` are empty where its rounds do not fit, `repeats` and
    `without_repeats` (the finish when no plate is repeated) where no round is kept for them.
    """

    status: str
    state: str
    finish: str
    finish_day: str
    exact_finish: str
    starts: str
    makespan: str
    bound: str
    bound_length: str
    gap: str
    gap_share: str
    whiteboard: str
    whiteboard_length: str
    saved: str
    saved_from: str
    plates: str
    unplaced: Sequence[str]
    reasons: Sequence[str]
    made: str
    is_proven: bool
    has_visits: bool
    repeats: str
    without_repeats: str


@dataclass(frozen=True)
class VisitLine:
    group: str
    plate: int
    step: str
    place: str
    starts: str
    ends: str


@dataclass(frozen=True)
class Pass:
    """One plate of one group."""

    group: str
    plate: int
    visits: Sequence[VisitLine]


@dataclass(frozen=True)
class PlaceVisits:
    place: str
    visits: Sequence[VisitLine]


@dataclass(frozen=True)
class ProgramLine:
    """What else the class's time goes to: the talk, a break or the clean-up."""

    what: str
    when: str


@dataclass(frozen=True)
class AskedLine:
    """One part of the question in words, a sentence or a list each."""

    what: str
    words: Sequence[str]


@dataclass(frozen=True)
class RotationPage:
    """`is_stale` says that the rotation was changed after the plan that is shown was made; `developer` is how its life and the plan
    agree; `is_from_file` says that its question came as a class file; `changed` is when the plan was changed in the middle of the
    class. On paper `version` tells sheets of two plans apart, and `of_what` is the line that every slip carries.
    """

    id: int
    name: str
    section: str
    state: str
    state_words: str
    is_published: bool
    can_publish: bool
    is_stale: bool
    changed: str
    missing: Sequence[str]
    answer: Answer | None
    why: Telling | None
    drawings: Sequence[Drawing]
    passes: Sequence[Pass]
    places: Sequence[PlaceVisits]
    periods: Sequence[str]
    program: Sequence[ProgramLine]
    developer: str
    asked: Sequence[AskedLine]
    is_from_file: bool
    version: str
    of_what: str


@dataclass(frozen=True)
class WallTable:
    """What hangs at a place (a column per step) or over a tray line (a column per tray); `columns` and the rows' cells match."""

    title: str
    columns: Sequence[str]
    rows: Sequence[PlateRow]


@dataclass(frozen=True)
class SheetPage:
    """What is printed: the drawing in sheets, a slip per plate, and what hangs at each place."""

    id: int
    name: str
    section: str
    is_published: bool
    is_stale: bool
    changed: str
    answer: Answer | None
    why: Telling | None
    drawings: Sequence[Drawing]
    version: str
    of_what: str
    periods: Sequence[str]
    program: Sequence[ProgramLine]
    passes: Sequence[Pass]
    wall_tables: Sequence[WallTable]


@dataclass(frozen=True)
class StepLine:
    """A line of the steps form; `step` is what is kept, which stands where nothing was typed."""

    number: int
    form: Submitted[StepRow]
    step: RotationStep | None


@dataclass(frozen=True)
class StepsPage:
    id: int
    name: str
    is_published: bool
    lines: Sequence[StepLine]
    faults: int
    places: Sequence[tuple[str, str]]
    times: Sequence[tuple[str, str]]


@dataclass(frozen=True)
class _Clock:
    """Times of one rotation on the lab's wall clock; with the day where it spans several."""

    zone: str
    several_days: bool

    def at(self, instant: datetime, *, seconds: bool = False, day: bool = True) -> str:
        local = instant.astimezone(ZoneInfo(self.zone))
        words = f"{local:%H:%M:%S}" if seconds or local.second else f"{local:%H:%M}"
        return f"{local:%a} {local.day} {local:%b}, {words}" if self.several_days and day else words

    def of(self, visit: PlanVisit, *, said: date | None = None) -> tuple[str, str]:
        """When a visit starts and ends. The day that was `said` last is not said again."""
        short = visit.ends_at - visit.starts_at < timedelta(minutes=1)
        first, last = day_at(visit.starts_at, self.zone), day_at(visit.ends_at, self.zone)
        return (
            self.at(visit.starts_at, seconds=short, day=first != said),
            self.at(visit.ends_at, seconds=short, day=last != first),
        )


def _share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.1f} %" if whole else "0 %"


def _length(seconds: int) -> str:
    """A duration in words that breaks between its parts only."""
    return re.sub(r"(?<=[0-9]) ", "\N{NO-BREAK SPACE}", duration_words(seconds))


def _state(rotation: Rotation, plan: RotationPlan | None) -> tuple[str, str]:
    """The shape and the words of the rotation's state."""
    if rotation.state == RotationState.PLANNED and plan is not None and not plan.plates_planned:
        return "stop", "no plan possible"
    return STATE_WORDS[RotationState(rotation.state)]


def _gap_words(plan: RotationPlan) -> str:
    gap = plan.makespan_s - plan.bound_s
    return f"{_length(gap)} ({_share(gap, plan.makespan_s)})" if gap else "none"


def rotations_page(
    session: LabSession, zone: str, form: Submitted[NewRotation] | None = None
) -> RotationsPage:
    sections = list_section_names(session)
    starts, plans = list_starts(session), list_plans(session)
    return RotationsPage(
        rotations=[
            _rotation_line(rotation, sections, starts.get(rotation.id), plans.get(rotation.id), zone)
            for rotation in list_rotations(session)
        ],
        sections=sorted(sections.items(), key=lambda section: section[1]),
        form=form or Submitted(),
    )


def _rotation_line(
    rotation: Rotation,
    sections: dict[int, str],
    starts: datetime | None,
    plan: RotationPlan | None,
    zone: str,
) -> RotationLine:
    state, words = _state(rotation, plan)
    day = "no period yet" if starts is None else day_words(day_at(starts, zone))
    status = finish = gap = ""
    if plan is not None and rotation.state != RotationState.DRAFT:
        status = STATUS_WORDS[plan.status]
        if plan.plates_planned:
            ends = plan.starts_at + timedelta(seconds=plan.makespan_s)
            finish, gap = clock_at(up_to_the_minute(ends), zone), _gap_words(plan)
            if day_at(ends, zone) != day_at(plan.starts_at, zone):
                finish = moment_words(up_to_the_minute(ends), zone)
    return RotationLine(
        rotation.id, rotation.name, sections[rotation.section_id], day, state, words, status, finish, gap
    )


def _answer(
    plan: RotationPlan, problem: Problem, visits: Sequence[PlanVisit], zone: str, clock: _Clock
) -> Answer:
    def after(seconds: int) -> datetime:
        return plan.starts_at + timedelta(seconds=seconds)

    has_visits = bool(visits)
    repeating = {group.name for group in problem.groups if group.reserve}
    kept_free = {(visit.group, visit.pass_no) for visit in visits if visit.group in repeating}
    repeats = without_repeats = ""
    if kept_free:
        repeats = "1 plate" if len(kept_free) == 1 else f"{len(kept_free)} plates"
        ends = [visit.ends_at for visit in visits if visit.group not in repeating]
        without_repeats = clock.at(up_to_the_minute(max(ends, default=plan.starts_at)))
    finish, gap = after(plan.makespan_s), plan.makespan_s - plan.bound_s
    whiteboard = whiteboard_length = saved = saved_from = ""
    if plan.whiteboard_s is not None:
        whiteboard, whiteboard_length = clock.at(after(plan.whiteboard_s)), _length(plan.whiteboard_s)
        if has_visits:
            saved = _length(plan.whiteboard_s - plan.makespan_s)
            saved_from = f"{whiteboard_length} − {_length(plan.makespan_s)} = {saved}"
    total = plan.plates_planned + plan.plates_unplaced
    return Answer(
        status=STATUS_WORDS[plan.status],
        state=STATUS_STATE[plan.status],
        finish=clock_at(up_to_the_minute(finish), zone),
        finish_day=day_words(day_at(finish, zone)),
        exact_finish=clock.at(finish, seconds=True),
        starts=clock.at(plan.starts_at),
        makespan=_length(plan.makespan_s),
        bound=clock.at(after(plan.bound_s)),
        bound_length=_length(plan.bound_s),
        gap=_length(gap) if gap else "none",
        gap_share=_share(gap, plan.makespan_s),
        whiteboard=whiteboard,
        whiteboard_length=whiteboard_length,
        saved=saved,
        saved_from=saved_from,
        plates=f"{plan.plates_planned}" if not plan.plates_unplaced else f"{plan.plates_planned} of {total}",
        unplaced=plan.unplaced.splitlines(),
        reasons=plan.reasons.splitlines(),
        made=moment_words(plan.made_at, zone),
        is_proven=plan.status == "optimal",
        has_visits=has_visits,
        repeats=repeats,
        without_repeats=without_repeats,
    )


def timeline_of(
    problem: Problem,
    visits: Sequence[PlanVisit],
    *,
    starts_at: datetime,
    zone: str,
    out_of_plates: Sequence[OutOfPlates] = (),
) -> Timeline:
    """A plan to be drawn, with the groups in the problem's order; `starts_at` is the class's second 0."""
    places = {place.name: place for place in problem.places}

    def seconds(instant: datetime) -> int:
        return round((instant - starts_at).total_seconds())

    pieces = [
        Piece(
            visit.group,
            visit.pass_no,
            visit.step,
            visit.place,
            seconds(visit.starts_at),
            seconds(visit.ends_at),
            visit.light,
            visit.still,
            places[visit.place].light_zone,
            places[visit.place].still_zone,
        )
        for visit in visits
    ]
    return Timeline(
        pieces=pieces,
        rows=[group.name for group in problem.groups if not group.reserve],
        kept_free=[group.name for group in problem.groups if group.reserve],
        periods=problem.periods,
        starts_at=starts_at,
        zone=zone,
        places=[Spot(place.name, place.capacity) for place in problem.places],
        asides=[
            Aside(one.what, seconds(one.starts_at), seconds(one.ends_at), is_break=one.is_break)
            for one in out_of_plates
        ],
    )


def _why(plan: RotationPlan, problem: Problem, visits: Sequence[PlanVisit], clock: _Clock) -> Telling | None:
    """Why the plan ends when it does, on the wall clock; None for one that was changed during the class."""
    if plan.changed_at is not None:
        return None
    planned = in_seconds(visits, plan)
    kept = Plan(cast("Status", plan.status), plan.makespan_s, plan.bound_s, planned)
    return tell(problem, kept, lambda second: clock.at(plan.starts_at + timedelta(seconds=second)))


def _visit_lines(visits: Iterable[PlanVisit], clock: _Clock) -> Iterator[VisitLine]:
    said: date | None = None
    for visit in visits:
        times = clock.of(visit, said=said)
        said = day_at(visit.ends_at, clock.zone)
        yield VisitLine(visit.group, visit.pass_no, visit.step, visit.place, *times)


def plan_answer(session: LabSession, rotation_id: int, zone: str) -> Answer | None:
    """What the planner has answered so far, by itself."""
    plan = get_plan(session, rotation_id)
    if plan is None:
        return None
    days = {day_at(period.starts_at, zone) for period in list_periods(session, rotation_id)}
    problem, visits = read_class_file(plan.class_file), list_every_visit(session, plan.id)
    return _answer(plan, problem, visits, zone, _Clock(zone, len(days) > 1))


def plan_drawing(session: LabSession, rotation_id: int, zone: str) -> Drawing | None:
    """The timeline of the plan that is kept, by itself, as a screen shows it."""
    plan = get_plan(session, rotation_id)
    if plan is None:
        return None
    problem, visits = read_class_file(plan.class_file), list_every_visit(session, plan.id)
    return _timeline(session, plan, problem, visits, zone).for_screen()


def _timeline(
    session: LabSession, plan: RotationPlan, problem: Problem, visits: Sequence[PlanVisit], zone: str
) -> Timeline:
    """The kept plan with the talk, the breaks and the clean-up around it."""
    around = list_out_of_plates(session, get_rotation(session, plan.rotation_id))
    return timeline_of(problem, visits, starts_at=plan.starts_at, zone=zone, out_of_plates=around)


def _passes(problem: Problem, visits: Sequence[PlanVisit], clock: _Clock) -> list[Pass]:
    order = {group.name: number for number, group in enumerate(problem.groups)}

    def plate(visit: PlanVisit) -> tuple[int, int]:
        return order[visit.group], visit.pass_no

    return [
        Pass(problem.groups[number].name, pass_no, list(_visit_lines(own, clock)))
        for (number, pass_no), own in groupby(sorted(visits, key=plate), key=plate)
    ]


def _by_place(problem: Problem, visits: Sequence[PlanVisit], clock: _Clock) -> list[PlaceVisits]:
    found = [
        PlaceVisits(
            place.name, list(_visit_lines((visit for visit in visits if visit.place == place.name), clock))
        )
        for place in problem.places
    ]
    return [place for place in found if place.visits]


def _period_words(starts_at: datetime, ends_at: datetime, zone: str) -> str:
    return f"{moment_words(starts_at, zone)} to {clock_at(ends_at, zone)}"


def _program(session: LabSession, rotation: Rotation, clock: _Clock) -> list[ProgramLine]:
    return [
        ProgramLine(one.what, f"{clock.at(one.starts_at)} to {clock.at(one.ends_at)}")
        for one in list_out_of_plates(session, rotation)
    ]


def _developer(plan: RotationPlan, problem: Problem, visits: Sequence[PlanVisit], clock: _Clock) -> str:
    """How the life of the developer and the plan agree."""
    charges = {place.name: place.charges for place in problem.places if place.charges}
    served = [visit for visit in visits if visit.place in charges]
    if not served:
        return ""
    last = max(served, key=lambda visit: visit.ends_at)
    out_s = round((last.ends_at - plan.starts_at).total_seconds())
    start_s = round((last.starts_at - plan.starts_at).total_seconds())
    until_s = max(
        one.until_s for one in charges[last.place] if one.from_s <= start_s and out_s <= one.until_s
    )
    return (
        f"The last plate leaves the developer at {clock.at(last.ends_at, seconds=True)}, {_length(until_s - out_s)} before its end "
        "of life."
    )


def _asked(
    session: LabSession, rotation: Rotation, zone: str, program: Sequence[ProgramLine]
) -> list[AskedLine]:
    """What is asked of the planner, in words."""
    if rotation.class_file is not None:
        problem = read_class_file(rotation.class_file)
        plates = sum(group.passes for group in problem.groups)
        return [
            AskedLine(
                "Class file",
                [
                    f"“{problem.name}”: {len(problem.groups)} groups, {plates} plates, {len(problem.places)} places"
                ],
            )
        ]
    stations = {place.id: place.name for place in list_places(session)}
    groups = list_asked_groups(session, rotation)
    ties = [f"{one.group.name} at {stations[one.tied_place_id]}" for one in groups if one.tied_place_id]
    new = [one.group.name for one in groups if one.is_new]
    plates_words = [", ".join(f"{one.group.name} {one.plates}" for one in groups) or "no groups yet"]
    if new:
        plates_words.append(f"formed since, with the usual number: {', '.join(new)}")
    mixes = [
        f"mixed {moment_words(mix.mixed_at, zone)}, lives {duration_words(mix.life_s)}, "
        + ("any number of plates" if mix.plates is None else f"{mix.plates} plates in each tray")
        for mix in list_mixes(session, rotation.id)
    ]
    rounds = rotation.reserve_rounds
    return [
        AskedLine(
            "Periods",
            [_period_words(one.starts_at, one.ends_at, zone) for one in list_periods(session, rotation.id)]
            or ["none yet"],
        ),
        AskedLine("Not for plates", [f"{line.what}: {line.when}" for line in program] or ["nothing"]),
        AskedLine("Plates per group", plates_words),
        AskedLine("Tied to a station", ties or ["nobody"]),
        AskedLine("Developer", mixes or ["no mix written down: how long it lives isn't checked"]),
        AskedLine(
            "Kept for repeats",
            [f"{rounds} round{'' if rounds == 1 else 's'} at the end" if rounds else "no round"],
        ),
        AskedLine(
            "Steps of a pass",
            [", ".join(step.name for step in list_steps(session, rotation.id)) or "none yet"],
        ),
    ]


def _version(plan: RotationPlan, zone: str) -> str:
    changed = "" if plan.changed_at is None else f", changed {moment_words(plan.changed_at, zone)}"
    return f"plan of {moment_words(plan.made_at, zone)}{changed}"


def rotation_page(
    session: LabSession, rotation_id: int, zone: str, *, for_paper: bool = False
) -> RotationPage:
    rotation = get_rotation(session, rotation_id)
    plan = get_plan(session, rotation_id)
    periods = list_periods(session, rotation_id)
    state, words = _state(rotation, plan)
    section = get_section(session, rotation.section_id).name
    version = "" if plan is None else _version(plan, zone)
    days = sorted({day_at(period.starts_at, zone) for period in periods})
    clock = _Clock(zone, len(days) > 1)
    program = _program(session, rotation, clock)
    answer = why = None
    drawings: tuple[Drawing | None, ...] = ()
    passes: list[Pass] = []
    places: list[PlaceVisits] = []
    developer = ""
    if plan is not None:
        problem, visits = read_class_file(plan.class_file), list_every_visit(session, plan.id)
        answer = _answer(plan, problem, visits, zone, clock)
        why = _why(plan, problem, visits, clock)
        timeline = _timeline(session, plan, problem, visits, zone)
        drawings = timeline.for_paper() if for_paper else (timeline.for_screen(),)
        passes, places = _passes(problem, visits, clock), _by_place(problem, visits, clock)
        developer = _developer(plan, problem, visits, clock)
    return RotationPage(
        id=rotation.id,
        name=rotation.name,
        section=section,
        state=state,
        state_words=words,
        is_published=rotation.state == RotationState.PUBLISHED,
        can_publish=rotation.state == RotationState.PLANNED and bool(passes) and rotation.class_file is None,
        is_stale=rotation.state == RotationState.DRAFT and plan is not None,
        changed=clock.at(plan.changed_at) if plan is not None and plan.changed_at else "",
        missing=list_missing(session, rotation_id) if rotation.state != RotationState.PUBLISHED else [],
        answer=answer,
        why=why,
        drawings=[drawing for drawing in drawings if drawing is not None],
        passes=passes,
        places=places,
        periods=[_period_words(period.starts_at, period.ends_at, zone) for period in periods],
        program=program,
        developer=developer,
        asked=_asked(session, rotation, zone, program),
        is_from_file=rotation.class_file is not None,
        version=version,
        of_what=", ".join(
            [
                f"{section}: {rotation.name}",
                " to ".join(day_words(day) for day in dict.fromkeys((*days[:1], *days[-1:]))),
                version,
            ]
        ),
    )


def _by_one_place(
    kind: str, names: Sequence[str], visits: Sequence[PlanVisit], clock: _Clock
) -> list[WallTable]:
    tables = []
    for name in names:
        here = [visit for visit in visits if visit.place == name]
        entries = [_entry(visit, visit.step, clock) for visit in here]
        columns = list(dict.fromkeys(visit.step for visit in here))
        tables.append(WallTable(f"By {kind}: {name}", columns, side_by_side(entries, columns=columns)))
    return [table for table in tables if table.rows]


def _tray_lines(lines: dict[str, list[str]], visits: Sequence[PlanVisit], clock: _Clock) -> list[WallTable]:
    """A column per tray in the order of the line, headed by what is done there."""
    tables = []
    for line, trays in lines.items():
        here = [visit for visit in visits if visit.place in trays]
        entries = [_entry(visit, visit.place, clock) for visit in here]
        steps = {tray: dict.fromkeys(visit.step for visit in here if visit.place == tray) for tray in trays}
        used = [tray for tray in trays if steps[tray]]
        heads = [_tray_head(tray.removesuffix(f", {line}"), list(steps[tray])) for tray in used]
        tables.append(WallTable(f"By tray line: {line}", heads, side_by_side(entries, columns=used)))
    return [table for table in tables if table.rows]


def _tray_head(tray: str, steps: Sequence[str]) -> str:
    return tray if steps == [tray] else f"{tray}: {', '.join(steps)}"


def _entry(visit: PlanVisit, column: str, clock: _Clock) -> Entry:
    starts, ends = clock.of(visit)
    words = f"{starts} to {ends}"
    return Entry(visit.group, visit.pass_no, column, visit.starts_at, words)


def sheet_page(session: LabSession, rotation_id: int, zone: str) -> SheetPage:
    rotation = rotation_page(session, rotation_id, zone, for_paper=True)
    plan = get_plan(session, rotation_id)
    visits = list_every_visit(session, plan.id) if plan is not None else []
    clock = _Clock(zone, len({day_at(one.starts_at, zone) for one in list_periods(session, rotation_id)}) > 1)
    places = list_places(session)
    stations = [place.name for place in places if place.kind == PlaceKind.STATION]
    lines = {
        line.name: [place.name for place in places if place.tray_line_id == line.id]
        for line in list_tray_lines(session)
    }
    shown = {*stations, *(tray for trays in lines.values() for tray in trays)}
    others = [place.place for place in rotation.places if place.place not in shown]
    return SheetPage(
        id=rotation.id,
        name=rotation.name,
        section=rotation.section,
        is_published=rotation.is_published,
        is_stale=rotation.is_stale,
        changed=rotation.changed,
        answer=rotation.answer,
        why=rotation.why,
        drawings=rotation.drawings,
        version=rotation.version,
        of_what=rotation.of_what,
        periods=rotation.periods,
        program=rotation.program,
        passes=rotation.passes,
        wall_tables=[
            *_by_one_place("station", stations, visits, clock),
            *_tray_lines(lines, visits, clock),
            *_by_one_place("place", others, visits, clock),
        ],
    )


def steps_page(
    session: LabSession, rotation_id: int, typed: Sequence[Submitted[StepRow]] | None = None
) -> StepsPage:
    rotation = get_rotation(session, rotation_id)
    lines: list[tuple[Submitted[StepRow], RotationStep | None]] = (
        [(Submitted(), step) for step in list_steps(session, rotation_id)]
        if typed is None
        else [(form, None) for form in typed]
    )
    lines.extend([(Submitted(), None)] * EMPTY_LINES)
    return StepsPage(
        id=rotation.id,
        name=rotation.name,
        is_published=rotation.state == RotationState.PUBLISHED,
        lines=[StepLine(number, form, step) for number, (form, step) in enumerate(lines, start=1)],
        faults=sum(len(form.errors) for form, _step in lines),
        places=[
            (StepPlace.STATION, "any station"),
            *(
                (bath, f"{bath} tray")
                for bath in (StepPlace.DEVELOPER, StepPlace.RINSE, StepPlace.BLEACH, StepPlace.WASH)
            ),
            (StepPlace.DRYER, "dryer"),
            (StepPlace.BENCH, "bench"),
            (StepPlace.SAME, "same place"),
        ],
        times=[
            (StepTime.OWN, "own seconds"),
            (StepTime.SETTLE, "station's settle time"),
            (StepTime.EXPOSURE, "station's exposure"),
        ],
    )
