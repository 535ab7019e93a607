"""Reads of rotations, what they ask and what was planned."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import cast

from sqlmodel import and_, col, func, select

from server.core.class_time import ClassTime, Stretch, divide_class_time
from server.core.moments import day_at, day_begins
from server.core.planning import Plan, Problem, Unplaced, read_class_file
from server.core.planning import Visit as PlannedVisit
from server.core.planning.answer import Status
from server.core.planning.mishaps import PassKey
from server.data.session import LabSession
from server.people.models import Group, Section
from server.people.queries import get_lab, list_group_names, list_groups
from server.refusal import NotFound, Refusal
from server.rotations.models import (
    GroupPlates,
    NamedVisit,
    Period,
    PeriodBreak,
    Rotation,
    RotationMix,
    RotationPlan,
    RotationState,
    RotationStep,
    StepPlace,
    StepTime,
    Visit,
)
from server.stations.models import Place
from server.stations.queries import list_places


@dataclass(frozen=True)
class AskedGroup:
    """A group in use, the plates it is asked to make and the station it is tied to. A new one was formed after the rotation was made."""

    group: Group
    plates: int
    tied_place_id: int | None
    is_new: bool


@dataclass(frozen=True)
class OutOfPlates:
    """A stretch of class time in which no plate is made: the talk, a break or the clean-up."""

    what: str
    starts_at: datetime
    ends_at: datetime
    is_break: bool = False


@dataclass(frozen=True)
class PlanVisit:
    """One step of one pass of a group at one place, in UTC; the group may be only a name."""

    group: str
    pass_no: int
    step: str
    place: str
    light: str
    still: str
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True)
class Published:
    """A published rotation: `starts_at` is when its first period starts, with the talk, `ends_at` the end of its last visit, `stations`
    how many stations it uses.
    """

    rotation_id: int
    plan_id: int
    name: str
    section_id: int
    section_name: str
    starts_at: datetime
    ends_at: datetime
    plates_planned: int
    stations: int


@dataclass(frozen=True)
class InDeveloper:
    """A plate's stay in a developer tray, and whether its round is kept free for a repeat."""

    tray: str
    starts_at: datetime
    ends_at: datetime
    is_repeat: bool


@dataclass(frozen=True)
class RotationOfDay:
    """What a published rotation does on one day. `starts_at` is when its first period starts, with the talk; on a later day its first visit.

    `last_out_at` is when its last plate leaves the developer, repeats too. `repeats` are the plates that its rounds kept free can make.
    `in_developer` are the stays of all its plates in developer trays, repeats too, by start.
    """

    rotation_id: int
    section_id: int
    name: str
    day: date
    starts_at: datetime
    ends_at: datetime
    last_out_at: datetime
    plates: int
    repeats: int
    groups: int
    stations: tuple[str, ...]
    in_developer: tuple[InDeveloper, ...]

    @property
    def most_plates(self) -> int:
        """Its plates when every round kept free is used."""
        return self.plates + self.repeats


def list_rotations(session: LabSession) -> Sequence[Rotation]:
    """Every rotation, the newest first."""
    return session.exec(select(Rotation).order_by(col(Rotation.id).desc())).all()


def get_rotation(session: LabSession, rotation_id: int) -> Rotation:
    rotation = session.get(Rotation, rotation_id)
    if rotation is None:
        raise NotFound("There is no such rotation in this lab. Choose one from Rotations.")
    return rotation


def list_periods(session: LabSession, rotation_id: int) -> Sequence[Period]:
    """The rotation's periods in the order of time."""
    return session.exec(
        select(Period).where(Period.rotation_id == rotation_id).order_by(col(Period.starts_at))
    ).all()


def list_breaks(session: LabSession, rotation_id: int) -> Sequence[PeriodBreak]:
    """The breaks of the rotation's periods in the order of time."""
    return session.exec(
        select(PeriodBreak)
        .join(Period, col(Period.id) == col(PeriodBreak.period_id))
        .where(Period.rotation_id == rotation_id)
        .order_by(col(PeriodBreak.starts_at))
    ).all()


def list_mixes(session: LabSession, rotation_id: int) -> Sequence[RotationMix]:
    """The mixes of developer of the rotation by the time of mixing; none = the developer's life is not asked for."""
    return session.exec(
        select(RotationMix)
        .where(RotationMix.rotation_id == rotation_id)
        .order_by(col(RotationMix.mixed_at), col(RotationMix.id))
    ).all()


def get_class_time(session: LabSession, rotation: Rotation) -> ClassTime:
    """When the talk, the plates and the clean-up of a rotation are."""
    return divide_class_time(
        periods=[Stretch(one.starts_at, one.ends_at) for one in list_periods(session, rotation.id)],
        breaks=[Stretch(one.starts_at, one.ends_at) for one in list_breaks(session, rotation.id)],
        talk_s=rotation.talk_s,
        clean_up_s=rotation.clean_up_s,
        zone=get_lab(session).time_zone,
    )


def list_out_of_plates(session: LabSession, rotation: Rotation) -> list[OutOfPlates]:
    """The talk, the breaks and the clean-up in the order of time."""
    time = get_class_time(session, rotation)
    found = [
        *(OutOfPlates("talk", one.starts_at, one.ends_at) for one in time.talk),
        *(
            OutOfPlates(one.name, one.starts_at, one.ends_at, is_break=True)
            for one in list_breaks(session, rotation.id)
        ),
        *(OutOfPlates("clean-up", one.starts_at, one.ends_at) for one in time.clean_up),
    ]
    return sorted(found, key=lambda one: one.starts_at)


def list_starts(session: LabSession) -> dict[int, datetime]:
    """When each rotation's first period starts, by rotation."""
    rows = session.exec(
        select(Period.rotation_id, func.min(Period.starts_at)).group_by(col(Period.rotation_id))
    ).all()
    return dict(rows)


def list_steps(session: LabSession, rotation_id: int) -> Sequence[RotationStep]:
    """The steps of a pass in their order."""
    return session.exec(
        select(RotationStep)
        .where(RotationStep.rotation_id == rotation_id)
        .order_by(col(RotationStep.position))
    ).all()


def list_group_plates(session: LabSession, rotation_id: int) -> Sequence[GroupPlates]:
    return session.exec(
        select(GroupPlates).where(GroupPlates.rotation_id == rotation_id).order_by(col(GroupPlates.id))
    ).all()


def list_asked_groups(session: LabSession, rotation: Rotation) -> list[AskedGroup]:
    """The section's groups in use; one that was formed later makes the rotation's usual number of plates."""
    known = {asked.group_id: asked for asked in list_group_plates(session, rotation.id)}
    found = []
    for group in list_groups(session, rotation.section_id):
        asked = known.get(group.id)
        if asked is None:
            found.append(AskedGroup(group, rotation.plates_per_group, None, is_new=True))
        else:
            found.append(AskedGroup(group, asked.plates, asked.tied_place_id, is_new=False))
    return found


def get_plan(session: LabSession, rotation_id: int) -> RotationPlan | None:
    """The plan kept for the rotation, if one was made."""
    return session.exec(select(RotationPlan).where(RotationPlan.rotation_id == rotation_id)).first()


def get_published(session: LabSession, rotation_id: int) -> tuple[Rotation, RotationPlan]:
    """A published rotation with its plan."""
    rotation, kept = get_rotation(session, rotation_id), get_plan(session, rotation_id)
    if rotation.state != RotationState.PUBLISHED or kept is None:
        raise Refusal(
            "This rotation is not published, so there is no plan that people follow. Publish it first."
        )
    return rotation, kept


def list_plans(session: LabSession) -> dict[int, RotationPlan]:
    """The plans kept in the lab, by rotation."""
    return {plan.rotation_id: plan for plan in session.exec(select(RotationPlan)).all()}


def list_visits(session: LabSession, plan_id: int, group_id: int | None = None) -> Sequence[Visit]:
    """The visits of a plan, or one group's, in the order of time."""
    wanted = select(Visit).where(Visit.plan_id == plan_id)
    if group_id is not None:
        wanted = wanted.where(Visit.group_id == group_id)
    return session.exec(wanted.order_by(col(Visit.starts_at), col(Visit.ends_at), col(Visit.id))).all()


def lost_plates(lines: str | None) -> frozenset[PassKey]:
    """The plates that are named a line each: the pass, a blank and the group."""
    pairs = (line.split(" ", 1) for line in (lines or "").splitlines())
    return frozenset((group, int(pass_no)) for pass_no, group in pairs)


def list_every_visit(session: LabSession, plan_id: int) -> list[PlanVisit]:
    """Every visit of a plan in the order of time: real groups, rounds kept for repeats, groups of a class file."""
    names = list_group_names(session)
    named = session.exec(
        select(NamedVisit).where(NamedVisit.plan_id == plan_id).order_by(col(NamedVisit.id))
    ).all()
    visits = [_plan_visit(names[one.group_id], one) for one in list_visits(session, plan_id)]
    visits.extend(_plan_visit(one.group_name, one) for one in named)
    return sorted(visits, key=lambda visit: (visit.starts_at, visit.ends_at))


def read_plan(session: LabSession, kept: RotationPlan) -> tuple[Problem, Plan]:
    """The question and the answer that are kept, as the planner knows them."""
    problem = read_class_file(kept.class_file)
    visits = in_seconds(list_every_visit(session, kept.id), kept)
    placed = {(visit.group, visit.pass_no) for visit in visits}
    every = ((group.name, number) for group in problem.groups for number in range(1, group.passes + 1))
    return problem, Plan(
        cast("Status", kept.status),
        kept.makespan_s,
        kept.bound_s,
        visits,
        tuple(Unplaced(*one) for one in every if one not in placed),
        tuple(kept.reasons.splitlines()),
        kept.whiteboard_s,
    )


def in_seconds(visits: Sequence[PlanVisit], kept: RotationPlan) -> tuple[PlannedVisit, ...]:
    """A kept plan's visits as the planner knows them, in seconds from the class's second 0."""

    def second(instant: datetime) -> int:
        return round((instant - kept.starts_at).total_seconds())

    return tuple(
        PlannedVisit(
            visit.group,
            visit.pass_no,
            visit.step,
            visit.place,
            second(visit.starts_at),
            second(visit.ends_at),
        )
        for visit in visits
    )


def visits_on_clock(problem: Problem, plan: Plan, *, starts_at: datetime) -> list[PlanVisit]:
    """A plan's visits at their instants, with the light and the stillness of their steps; `starts_at` is the class's second 0."""
    groups = {group.name: group for group in problem.groups}
    found = []
    for visit in plan.visits:
        steps = problem.steps_of(groups[visit.group], visit.pass_no)
        step = next(step for step in steps if step.name == visit.step)
        starts, ends = (starts_at + timedelta(seconds=second) for second in (visit.start_s, visit.end_s))
        found.append(
            PlanVisit(
                visit.group, visit.pass_no, visit.step, visit.place, step.light, step.still, starts, ends
            )
        )
    return found


def _plan_visit(group: str, row: Visit | NamedVisit) -> PlanVisit:
    return PlanVisit(
        group, row.pass_no, row.step, row.place, row.light, row.still, row.starts_at, row.ends_at
    )


def count_station_use(session: LabSession, plan_id: int, steps: Sequence[RotationStep]) -> int:
    """How many different stations a plan's visits use: the places where something is exposed."""
    exposing = [step.name for step in steps if step.time_from == StepTime.EXPOSURE]
    return session.exec(
        select(func.count(func.distinct(Visit.place))).where(
            Visit.plan_id == plan_id, col(Visit.step).in_(exposing)
        )
    ).one()


def list_exposures(session: LabSession) -> Sequence[tuple[int, int, datetime, datetime]]:
    """Every planned exposure of published rotations by time: the rotation, the group, when its period starts and when the exposure ends."""
    begins = func.max(Period.starts_at, type_=Period.starts_at.type)  # type: ignore[attr-defined]
    rows = session.exec(
        select(Rotation.id, Visit.group_id, begins, Visit.ends_at)
        .join(RotationPlan, col(RotationPlan.rotation_id) == col(Rotation.id))
        .join(Visit, col(Visit.plan_id) == col(RotationPlan.id))
        .join(
            RotationStep,
            and_(
                col(RotationStep.rotation_id) == col(Rotation.id), col(RotationStep.name) == col(Visit.step)
            ),
        )
        .join(
            Period,
            and_(col(Period.rotation_id) == col(Rotation.id), col(Period.starts_at) < col(Visit.ends_at)),
        )
        .where(Rotation.state == RotationState.PUBLISHED, RotationStep.time_from == StepTime.EXPOSURE)
        .group_by(col(Rotation.id), col(Visit.id), col(Visit.group_id), col(Visit.ends_at))
        .order_by(col(Visit.ends_at), col(Visit.id))
    ).all()
    return [(rotation_id, group_id, starts_at, ends_at) for rotation_id, group_id, starts_at, ends_at in rows]


def list_published(
    session: LabSession, *, after: datetime, before: datetime | None = None
) -> Sequence[Published]:
    """The published rotations of which a visit ends after `after`, and the first starts before `before`; by start."""
    ends = func.max(Visit.ends_at, type_=Visit.ends_at.type)  # type: ignore[attr-defined]
    rows = session.exec(
        select(Rotation, Section, RotationPlan, ends)
        .join(Section, col(Section.id) == col(Rotation.section_id))
        .join(RotationPlan, col(RotationPlan.rotation_id) == col(Rotation.id))
        .join(Visit, col(Visit.plan_id) == col(RotationPlan.id))
        .where(Rotation.state == RotationState.PUBLISHED)
        .group_by(col(Rotation.id), col(Section.id), col(RotationPlan.id))
        .having(ends > after)
        .order_by(col(RotationPlan.starts_at), col(Rotation.id))
    ).all()
    starts = list_starts(session)
    return [
        Published(
            rotation.id,
            plan.id,
            rotation.name,
            section.id,
            section.name,
            starts[rotation.id],
            ends_at,
            plan.plates_planned,
            count_station_use(session, plan.id, list_steps(session, rotation.id)),
        )
        for rotation, section, plan, ends_at in rows
        if before is None or starts[rotation.id] < before
    ]


def _list_stays(
    session: LabSession, *, after: datetime, before: datetime | None
) -> Sequence[tuple[int, Visit | NamedVisit]]:
    """The visits of published rotations, rounds for repeats too, that start from `after` on and before `before`, by rotation and start."""
    planned = (
        select(RotationPlan.rotation_id, Visit)
        .join(RotationPlan, col(RotationPlan.id) == col(Visit.plan_id))
        .join(Rotation, col(Rotation.id) == col(RotationPlan.rotation_id))
        .where(Rotation.state == RotationState.PUBLISHED, col(Visit.starts_at) >= after)
    )
    repeats = (
        select(RotationPlan.rotation_id, NamedVisit)
        .join(RotationPlan, col(RotationPlan.id) == col(NamedVisit.plan_id))
        .join(Rotation, col(Rotation.id) == col(RotationPlan.rotation_id))
        .where(Rotation.state == RotationState.PUBLISHED, col(NamedVisit.starts_at) >= after)
    )
    if before is not None:
        planned = planned.where(col(Visit.starts_at) < before)
        repeats = repeats.where(col(NamedVisit.starts_at) < before)
    found: list[tuple[int, Visit | NamedVisit]] = [*session.exec(planned).all(), *session.exec(repeats).all()]
    return sorted(found, key=lambda one: (one[0], one[1].starts_at))


def _of_day(
    rotation: Rotation,
    section: Section,
    steps: Sequence[RotationStep],
    stays: Sequence[Visit | NamedVisit],
    *,
    first_starts_at: datetime,
    day: date,
    zone: str,
) -> RotationOfDay:
    visits = [stay for stay in stays if isinstance(stay, Visit)]
    exposing = {step.name for step in steps if step.time_from == StepTime.EXPOSURE}
    developing = {step.name for step in steps if step.at == StepPlace.DEVELOPER}
    exposures = [visit for visit in visits if visit.step in exposing]
    ends_at = max(visit.ends_at for visit in visits)
    return RotationOfDay(
        rotation_id=rotation.id,
        section_id=section.id,
        name=f"{section.name}, {rotation.name}",
        day=day,
        starts_at=first_starts_at if day_at(first_starts_at, zone) == day else visits[0].starts_at,
        ends_at=ends_at,
        # A repeat is a plate in the developer too, so the mix must live for it.
        last_out_at=max((stay.ends_at for stay in stays if stay.step in developing), default=ends_at),
        plates=len(exposures),
        repeats=sum(1 for stay in stays if stay.step in exposing) - len(exposures),
        groups=len({visit.group_id for visit in visits}),
        stations=tuple(sorted({visit.place for visit in exposures})),
        in_developer=tuple(
            InDeveloper(stay.place, stay.starts_at, stay.ends_at, isinstance(stay, NamedVisit))
            for stay in sorted(stays, key=lambda stay: (stay.starts_at, stay.ends_at))
            if stay.step in developing
        ),
    )


def list_rotation_days(
    session: LabSession, *, first: date, last: date | None, zone: str
) -> Sequence[RotationOfDay]:
    """The published rotations of each day from `first` to `last` (none: as far as any goes) on the lab's clock, by start.

    One that goes on over days counts on each with the day's share.
    """
    before = None if last is None else day_begins(last + timedelta(days=1), zone)
    stays: dict[tuple[int, date], list[Visit | NamedVisit]] = defaultdict(list)
    for rotation_id, stay in _list_stays(session, after=day_begins(first, zone), before=before):
        stays[rotation_id, day_at(stay.starts_at, zone)].append(stay)
    ids = {rotation_id for rotation_id, _day in stays}
    steps: dict[int, list[RotationStep]] = defaultdict(list)
    for step in session.exec(select(RotationStep).where(col(RotationStep.rotation_id).in_(ids))).all():
        steps[step.rotation_id].append(step)
    named = session.exec(
        select(Rotation, Section)
        .join(Section, col(Section.id) == col(Rotation.section_id))
        .where(col(Rotation.id).in_(ids))
    ).all()
    of = {rotation.id: (rotation, section) for rotation, section in named}
    starts = list_starts(session)
    found = [
        _of_day(
            *of[rotation_id], steps[rotation_id], own, first_starts_at=starts[rotation_id], day=day, zone=zone
        )
        for (rotation_id, day), own in stays.items()
        if any(isinstance(stay, Visit) for stay in own)
    ]
    return sorted(found, key=lambda one: (one.starts_at, one.rotation_id))


def list_rotations_of_day(session: LabSession, day: date, zone: str) -> Sequence[RotationOfDay]:
    """The published rotations of a day on the lab's clock, by start."""
    return list_rotation_days(session, first=day, last=day, zone=zone)


def list_places_of(places: Sequence[Place], at: StepPlace) -> list[Place]:
    """The places in order at which a step can be done; none for `same`, which is where the step before was."""
    return [place for place in places if not place.out_of_order and at.value in {place.kind, place.bath}]


def list_missing(session: LabSession, rotation_id: int) -> list[str]:
    """What still has to be there before the rotation can be planned, in sentences that say where to go."""
    rotation = get_rotation(session, rotation_id)
    if rotation.class_file is not None:
        return []
    places, steps = list_places(session), list_steps(session, rotation_id)
    groups = list_asked_groups(session, rotation)
    missing = []
    if not list_periods(session, rotation_id):
        missing.append("There is no period. Add one to what is asked.")
    elif not get_class_time(session, rotation).plates:
        missing.append(
            "The talk, the breaks and the clean-up leave no time for plates. Make one of them shorter."
        )
    if not groups:
        missing.append("The section has no groups. Form them under People.")
    elif not any(asked.plates for asked in groups):
        missing.append("No group makes a plate. Write the plates per group in what is asked.")
    if not steps:
        missing.append("There are no steps. Write them on the rotation's steps page.")
    needed = dict.fromkeys(StepPlace(step.at) for step in steps if step.at != StepPlace.SAME)
    missing.extend(_MISSING[at] for at in needed if not list_places_of(places, at))
    return [*missing, *_ties_in_vain(groups, places), *_mixes_in_vain(session, rotation)]


def _ties_in_vain(groups: Sequence[AskedGroup], places: Sequence[Place]) -> list[str]:
    out = {place.id: place.name for place in places if place.out_of_order}
    return [
        f"{asked.group.name} is tied to {out[asked.tied_place_id]}, which is out of order. Choose another station for it, or repair it "
        "under Stations."
        for asked in groups
        if asked.plates and asked.tied_place_id in out
    ]


def _mixes_in_vain(session: LabSession, rotation: Rotation) -> list[str]:
    mixes, plates = list_mixes(session, rotation.id), get_class_time(session, rotation).plates
    if not mixes or not plates or any(is_mix_of_use(mix, plates) for mix in mixes):
        return []
    return [
        "Every mix of developer is dead before the class, or mixed after it. Write one that lives during the class."
    ]


def is_mix_of_use(mix: RotationMix, plates: Sequence[Stretch]) -> bool:
    """Whether some developer of the mix is alive while plates are made."""
    dies_at = mix.mixed_at + timedelta(seconds=mix.life_s)
    return dies_at > plates[0].starts_at and mix.mixed_at < plates[-1].ends_at


_TRAY = "There is no {} tray in order. Add a tray line, or repair it, under Stations."
_MISSING = {
    StepPlace.STATION: "There is no station in order. Add one, or repair one, under Stations.",
    StepPlace.DRYER: "There is no dryer in order. Add one under Stations, or take the step out of the steps.",
    StepPlace.BENCH: "There is no bench in order. Add one under Stations, or take the step out of the steps.",
    **{
        bath: _TRAY.format(bath.value)
        for bath in (StepPlace.DEVELOPER, StepPlace.RINSE, StepPlace.BLEACH, StepPlace.WASH)
    },
}


def file_name(session: LabSession, rotation_id: int, ending: str, *, zone: str) -> str:
    """What a file of the rotation is called: its section and its first day, such as `Tuesday 2027-02-16 visits.csv`."""
    section = session.get(Section, get_rotation(session, rotation_id).section_id)
    assert section is not None
    days = [f"{day_at(period.starts_at, zone)}" for period in list_periods(session, rotation_id)]
    return " ".join([section.name, *days[:1], ending])
