"""Reads of called classes, and of a rotation's plan as it is to be called."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sqlmodel import col, func, select

from server.callings.models import CalledClass, CallEvent
from server.charges.queries import find_area_until, find_size_at_hand, list_charges
from server.core.calling import Event, EventKind, Replayed, replay
from server.core.class_now import InTray, situation
from server.core.cues import CueVisit, EndsBy, step_of
from server.core.planning import Problem, read_class_file
from server.core.roles import Duties, Role, roles_of_steps
from server.core.standing import MS, ClassPlan, Mode, Times
from server.core.student_codes import letter_of
from server.core.working_solution import plates_within
from server.data.session import ACROSS_LABS, LabSession
from server.refusal import Refusal
from server.roles.queries import find_duties
from server.rotations.models import Rotation, RotationPlan, RotationState, RotationStep, StepPlace, StepTime
from server.rotations.queries import (
    Published,
    get_plan,
    get_rotation,
    list_every_visit,
    list_published,
    list_steps,
    lost_plates,
)
from server.stations.models import Bath

# Assumed: what is called so long before the class is a rehearsal of it.
REHEARSED_BEFORE = timedelta(hours=2)
# Assumed: a tablet shows a class from the evening before on, and for two hours after it.
SHOWN_BEFORE, SHOWN_AFTER = timedelta(hours=18), timedelta(hours=2)
_BATHS = {bath.value for bath in Bath}


@dataclass(frozen=True)
class ToCall:
    """A published rotation with its plan as it is to be called; `zero` is the instant of the plan's second 0."""

    rotation: Rotation
    zero: datetime
    changed_at: datetime | None
    plan: ClassPlan

    def ms(self, instant: datetime) -> int:
        return round((instant - self.zero).total_seconds() * 1000)

    def at(self, second: float) -> datetime:
        return self.zero + timedelta(seconds=second)


@dataclass(frozen=True)
class Called:
    """A class as it is called: `rows` are its events in the order of time, none before anything was said."""

    of: ToCall
    called: CalledClass | None
    rows: Sequence[CallEvent]
    replayed: Replayed

    @property
    def events(self) -> list[Event]:
        return [event_of(row, self.of) for row in self.rows]


def event_of(row: CallEvent, of: ToCall) -> Event:
    """An event as the core knows it."""
    kind = EventKind(row.kind)
    return Event(
        id=row.tablet_id,
        kind=kind,
        at_ms=of.ms(row.happened_at),
        begins=row.keys,
        undoes=row.answers if kind is EventKind.UNDONE else "",
        repeats=plates_named(row.repeats),
        into=row.in_round_of,
    )


def plates_named(lines: str) -> tuple[tuple[str, int, int], ...]:
    """The plates that are named a line each: pass, repeats before and group, with blanks between."""
    parts = (line.split(" ", 2) for line in lines.split("\n") if line)
    return tuple((group, int(pass_no), int(again)) for pass_no, again, group in parts)


def find_to_call(session: LabSession, rotation_id: int) -> ToCall | None:
    """The plan that the class follows; None where the rotation is not published."""
    rotation = get_rotation(session, rotation_id)
    kept = get_plan(session, rotation_id)
    if kept is None or rotation.state != RotationState.PUBLISHED:
        return None
    return ToCall(rotation, kept.starts_at, kept.changed_at, _class_plan(session, kept))


def get_to_call(session: LabSession, rotation_id: int) -> ToCall:
    """The plan that the class follows, or why there is none."""
    of = find_to_call(session, rotation_id)
    if of is None:
        raise Refusal(
            f"“{get_rotation(session, rotation_id).name}” is not published, so it has no board and nothing is called. "
            "Publish it under Rotations first."
        )
    return of


def with_holders(session: LabSession, of: ToCall) -> ToCall:
    """The same plan with the letter of who holds the role of each step, for those who look at it: nothing that is called asks for it."""
    kept = get_plan(session, of.rotation.id)
    assert kept is not None
    duties = find_duties(session, of.rotation, kept)
    visits = tuple(
        replace(visit, holder=_letter(duties.get((visit.group, visit.pass_no)), visit.role))
        for visit in of.plan.visits
    )
    return replace(of, plan=replace(of.plan, visits=visits))


def _letter(duties: Duties | None, role: str) -> str:
    """The letter of who holds the role for a plate; empty where nobody does."""
    code = duties.holder(Role(role)) if duties is not None and role else None
    return letter_of(code) if code else ""


def _class_plan(session: LabSession, kept: RotationPlan) -> ClassPlan:
    problem = read_class_file(kept.class_file)
    return ClassPlan(
        visits=tuple(_cue_visits(session, kept, problem)),
        periods=problem.periods,
        afterglow_s=max((zone.afterglow_s for zone in problem.light_zones), default=0),
        lives=tuple(
            (place.name, tuple((charge.from_s, charge.until_s) for charge in place.charges))
            for place in problem.places
            if place.charges
        ),
    )


def _cue_visits(session: LabSession, kept: RotationPlan, problem: Problem) -> list[CueVisit]:
    places = {place.name: place for place in problem.places}
    groups = {group.name: group for group in problem.groups}
    ends_by = _ends_by(list_steps(session, kept.rotation_id))
    lost = lost_plates(kept.lost)
    found = []
    for visit in list_every_visit(session, kept.id):
        steps = problem.steps_of(groups[visit.group], visit.pass_no)
        names = [step.name for step in steps]
        number = names.index(visit.step)
        role = roles_of_steps(steps)[number]
        found.append(
            CueVisit(
                visit.group,
                visit.pass_no,
                visit.step,
                visit.place,
                _second(kept, visit.starts_at),
                _second(kept, visit.ends_at),
                visit.light,
                visit.still,
                ends_by.get(visit.step, EndsBy.CALL),
                places[visit.place].light_zone,
                steps[number].max_wait_s,
                "" if role is None else role.value,
                spare=groups[visit.group].reserve,
                lost=(visit.group, visit.pass_no) in lost,
            )
        )
    return found


def _second(kept: RotationPlan, instant: datetime) -> int:
    return round((instant - kept.starts_at).total_seconds())


def _ends_by(steps: Sequence[RotationStep]) -> dict[str, EndsBy]:
    """What ends each step: exposures the shutter, steps in a bath the clock."""
    found = {}
    at = ""
    for step in steps:
        at = at if step.at == StepPlace.SAME else step.at
        if step.time_from == StepTime.EXPOSURE:
            found[step.name] = EndsBy.SHUTTER
        elif at in _BATHS:
            found[step.name] = EndsBy.BATH
    return found


def find_called_class(session: LabSession, of: ToCall, now: datetime) -> CalledClass | None:
    """The calling that goes on; a rehearsal is over when the class itself is near."""
    found = session.exec(
        select(CalledClass)
        .where(CalledClass.rotation_id == of.rotation.id, col(CalledClass.ended_at).is_(None))
        .order_by(col(CalledClass.id).desc())
    ).first()
    begins = of.at(min((visit.start_s for visit in of.plan.visits), default=0)) - REHEARSED_BEFORE
    return None if found is not None and found.begun_at < begins <= now else found


def list_events(session: LabSession, class_id: int) -> Sequence[CallEvent]:
    """The events of a called class in the order of time."""
    return session.exec(
        select(CallEvent)
        .where(CallEvent.class_id == class_id)
        .order_by(col(CallEvent.happened_at), col(CallEvent.id))
    ).all()


def find_event(session: LabSession, tablet_id: str) -> CallEvent | None:
    return session.exec(select(CallEvent).where(CallEvent.tablet_id == tablet_id)).first()


def find_called(session: LabSession, rotation_id: int, now: datetime) -> Called | None:
    """The class as it is called now; None where its rotation is not published."""
    of = find_to_call(session, rotation_id)
    return None if of is None else called_of(session, of, now)


def called_of(session: LabSession, of: ToCall, now: datetime) -> Called:
    called = find_called_class(session, of, now)
    rows = [] if called is None else list_events(session, called.id)
    return Called(of, called, rows, replay(of.plan, [event_of(row, of) for row in rows]))


def find_in_trays(session: LabSession, of: ToCall, now: datetime) -> Mapping[str, InTray]:
    """What stands in the lab's trays, by their names; nothing before the class is near, because trays are poured for a class.

    Room is counted from the class's beginning on, or from the pouring where that came later, in plates of the size at hand.
    """
    begins = of.at(min((visit.start_s for visit in of.plan.visits), default=0))
    if now < begins - REHEARSED_BEFORE:
        return {}
    plate_mm2 = find_size_at_hand(session).area_mm2
    found = {}
    for standing in list_charges(session):
        charge = standing.charge
        since = max(begins, charge.poured_at)
        # Part of this class's plates may be noted already; they are counted as they were called.
        used_mm2 = find_area_until(session, charge.id, since)
        room_mm2 = charge.area_at_most_mm2 + charge.allowed_mm2 - used_mm2
        found[standing.tray.name] = InTray(
            of.ms(standing.ends_at), of.ms(since), plates_within(area_mm2=room_mm2, plate_mm2=plate_mm2)
        )
    return found


@dataclass(frozen=True)
class CalledExposure:
    """When shutters were opened by one call, and when that was planned as the plan then stood."""

    rotation_id: int
    planned_at: datetime
    called_at: datetime


def list_called_exposures(session: LabSession) -> list[CalledExposure]:
    """The exposures of every called class in the order in which they were called; what was undone or rehearsed is none."""
    rows = session.exec(
        select(CallEvent, CalledClass, RotationPlan.starts_at)
        .join(CalledClass, col(CalledClass.id) == col(CallEvent.class_id))
        .join(RotationPlan, col(RotationPlan.rotation_id) == col(CalledClass.rotation_id))
        .where(col(CallEvent.kind).in_([EventKind.CALLED, EventKind.UNDONE]))
        .order_by(col(CallEvent.happened_at), col(CallEvent.id))
    ).all()
    undone = {event.answers for event, _called, _starts_at in rows if event.kind == EventKind.UNDONE}
    exposing = set(
        session.exec(
            select(RotationStep.rotation_id, RotationStep.name).where(
                RotationStep.time_from == StepTime.EXPOSURE
            )
        ).all()
    )
    return [
        CalledExposure(called.rotation_id, event.planned_at, event.happened_at)
        for event, called, starts_at in rows
        if event.planned_at is not None
        and event.tablet_id not in undone
        and called.begun_at >= starts_at - REHEARSED_BEFORE
        and any((called.rotation_id, step_of(key)) in exposing for key in event.keys)
    ]


@dataclass(frozen=True)
class Exposed:
    """A plate of a group over which the shutter closed, as it was called, or planned where nobody called the class."""

    group: str
    closed_at: datetime


def list_exposed(session: LabSession, of: ToCall) -> list[Exposed]:
    """The exposures of a class in the order of time. Of one that was called, those that were; a repeat is its group's."""
    begins = of.at(min((visit.start_s for visit in of.plan.visits), default=0)) - REHEARSED_BEFORE
    called = session.exec(
        select(CalledClass)
        .where(CalledClass.rotation_id == of.rotation.id, CalledClass.begun_at >= begins)
        .order_by(col(CalledClass.id).desc())
    ).first()
    rows = [] if called is None else list_events(session, called.id)
    replayed = replay(of.plan, [event_of(row, of) for row in rows])
    taken_by = {event.into: event.repeats[0][0] for event in replayed.taken if event.into}
    shutters = [visit for visit in replayed.standing.visits if visit.ends_by is EndsBy.SHUTTER]
    if replayed.standing.mode is Mode.BY_PLAN:
        closed = [(visit, visit.end_s * MS) for visit in shutters if not visit.spare]
    else:
        starts = Times(replayed.standing.visits, replayed.standing.fired).starts
        closed = [(visit, starts[visit.key] + visit.lasts_ms) for visit in shutters if visit.key in starts]
    return [
        Exposed(taken_by.get(visit.group, visit.group), of.at(closed_ms / MS))
        for visit, closed_ms in sorted(closed, key=lambda found: (found[1], found[0].key))
    ]


@dataclass(frozen=True)
class Mark:
    """Changes whenever something was said to a class, or its plan was changed."""

    newest: int
    ended: int
    changed_at: datetime | None


def list_marks(session: LabSession, rotation_ids: Sequence[int]) -> Mapping[int, Mark]:
    """The mark of each rotation that has a plan, whichever lab it belongs to."""
    said = (
        select(CalledClass.rotation_id, func.max(CallEvent.id).label("newest"))
        .join(CallEvent, col(CallEvent.class_id) == col(CalledClass.id))
        .where(col(CalledClass.rotation_id).in_(rotation_ids))
        .group_by(col(CalledClass.rotation_id))
        .subquery()
    )
    ended = (
        select(CalledClass.rotation_id, func.count(col(CalledClass.ended_at)).label("ended"))
        .where(col(CalledClass.rotation_id).in_(rotation_ids))
        .group_by(col(CalledClass.rotation_id))
        .subquery()
    )
    rows = session.exec(
        select(RotationPlan.rotation_id, said.c.newest, ended.c.ended, RotationPlan.changed_at)
        .outerjoin(said, said.c.rotation_id == col(RotationPlan.rotation_id))
        .outerjoin(ended, ended.c.rotation_id == col(RotationPlan.rotation_id))
        .where(col(RotationPlan.rotation_id).in_(rotation_ids)),
        execution_options=ACROSS_LABS,
    ).all()
    return {
        rotation_id: Mark(newest or 0, ended or 0, changed) for rotation_id, newest, ended, changed in rows
    }


def find_shown(session: LabSession, section_id: int, now: datetime) -> int | None:
    """The rotation that a section's tablets show: the one that is called, or else goes on, or comes next; None without any."""
    near = [
        one
        for one in list_published(session, after=now - SHOWN_AFTER, before=now + SHOWN_BEFORE)
        if one.section_id == section_id
    ]
    latest = session.exec(
        select(CalledClass.rotation_id)
        .join(CallEvent, col(CallEvent.class_id) == col(CalledClass.id))
        .where(
            col(CalledClass.rotation_id).in_([one.rotation_id for one in near]),
            col(CalledClass.ended_at).is_(None),
            CallEvent.kept_at > now - SHOWN_AFTER,
        )
        .order_by(col(CallEvent.id).desc())
    ).first()
    if latest is not None:
        return latest
    return next(
        (one.rotation_id for one in near if one.ends_at > now), near[-1].rotation_id if near else None
    )


def are_lights_allowed(session: LabSession, now: datetime) -> bool:
    """Whether no class of the lab is in the dark: as called, or where nobody calls it by the published plan; yes without a class.

    What was said to a class counts for two hours after it was, and while the class should be on.
    """
    near = list_published(session, after=now - SHOWN_AFTER, before=now + SHOWN_BEFORE)
    return not any(_is_dark(session, one, now) for one in near)


def _is_dark(session: LabSession, class_near: Published, now: datetime) -> bool:
    found = find_called(session, class_near.rotation_id, now)
    if found is None:
        return False
    latest = max((row.kept_at for row in found.rows), default=None)
    begun = class_near.starts_at <= now or (latest is not None and latest > now - SHOWN_AFTER)
    return begun and situation(found.of.plan, found.replayed.standing, now_ms=found.of.ms(now)).is_dark
