"""Reads of the lab's activities, and of a kept plan with who is in its groups."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from sqlmodel import col, select

from server.activities.models import LabActivity
from server.core.filling import Activity, Busy, Stretch, busy_of
from server.core.planning import Problem, Visit, read_class_file
from server.core.planning.problem import Light, Stillness
from server.core.roles import Members
from server.data.session import LabSession
from server.people.queries import list_codes, list_group_names, list_groups, list_students
from server.refusal import NotFound
from server.rotations.models import Rotation, RotationPlan, RotationState
from server.rotations.models import Visit as KeptVisit
from server.rotations.queries import get_plan, list_every_visit
from server.stations.queries import list_light_zones, list_still_zones


@dataclass(frozen=True)
class Classmate:
    """A student who is in a group; `name` is for staff only."""

    code: str
    name: str
    group: str


@dataclass(frozen=True)
class Kept:
    """A rotation's plan as it was kept. `groups` wait and do something; rounds kept free for repeats are only `busy`.

    `spans` run from each period's start to the end of the groups' work in it, in seconds from `starts_at`.
    """

    starts_at: datetime
    problem: Problem
    groups: tuple[str, ...]
    busy: tuple[Busy, ...]
    spans: tuple[Stretch, ...]
    members: tuple[Members, ...]
    classmates: tuple[Classmate, ...]


def list_activities(session: LabSession) -> Sequence[LabActivity]:
    """The lab's activities in the order in which they were added."""
    return session.exec(select(LabActivity).order_by(col(LabActivity.id))).all()


def get_activity(session: LabSession, activity_id: int) -> LabActivity:
    activity = session.get(LabActivity, activity_id)
    if activity is None:
        raise NotFound("There is no such activity in this lab. Choose one from Activities.")
    return activity


def list_offered(session: LabSession, *, opening: bool) -> tuple[Activity, ...]:
    """The activities as the filling knows them; those that open only where no talk is held for everybody."""
    light = {zone.id: zone.name for zone in list_light_zones(session)}
    still = {zone.id: zone.name for zone in list_still_zones(session)}
    return tuple(
        Activity(
            one.name,
            one.shortest_s,
            one.longest_s,
            one.repeatable,
            one.at_once,
            light.get(one.light_zone_id or 0),
            cast("Light", one.light),
            still.get(one.still_zone_id or 0),
            cast("Stillness", one.still),
            one.opens,
        )
        for one in list_activities(session)
        if opening or not one.opens
    )


def find_kept(session: LabSession, rotation: Rotation) -> Kept | None:
    """The plan that is kept for the rotation, and who is in its groups; None where no plate was planned."""
    kept = get_plan(session, rotation.id)
    if kept is None or not kept.plates_planned:
        return None
    problem = read_class_file(kept.class_file)
    busy = busy_of(problem, _visits(session, kept))
    classmates = list_classmates(session, rotation.section_id)
    reserve = {group.name for group in problem.groups if group.reserve}
    groups = tuple(
        dict.fromkeys(
            [
                *(group.name for group in problem.groups if not group.reserve),
                *(one.group for one in classmates),
            ]
        )
    )
    return Kept(
        kept.starts_at,
        problem,
        groups,
        busy,
        _spans(problem, [one for one in busy if one.group not in reserve]),
        _members(session, rotation, kept, groups, busy, classmates),
        classmates,
    )


def _visits(session: LabSession, kept: RotationPlan) -> list[Visit]:
    return [
        Visit(
            visit.group,
            visit.pass_no,
            visit.step,
            visit.place,
            round((visit.starts_at - kept.starts_at).total_seconds()),
            round((visit.ends_at - kept.starts_at).total_seconds()),
        )
        for visit in list_every_visit(session, kept.id)
    ]


def _spans(problem: Problem, busy: Sequence[Busy]) -> tuple[Stretch, ...]:
    """From each period's start to the end of the last step in it that somebody attends."""
    ends = [
        (
            opens,
            max((one.end_s for one in busy if one.attended and opens <= one.start_s < closes), default=opens),
        )
        for opens, closes in problem.periods
    ]
    return tuple((opens, end) for opens, end in ends if end > opens)


def list_classmates(session: LabSession, section_id: int) -> tuple[Classmate, ...]:
    """The section's students who are in a group, by group and letter."""
    codes, groups = list_codes(session, section_id), list_groups(session, section_id)
    students = [student for student in list_students(session, section_id) if student.id in codes]
    order = {group.id: index for index, group in enumerate(groups)}
    names = {group.id: group.name for group in groups}
    return tuple(
        Classmate(codes[student.id], student.name, names[student.group_id or 0])
        for student in sorted(students, key=lambda one: (order[one.group_id or 0], one.letter, one.id))
    )


def _members(
    session: LabSession,
    rotation: Rotation,
    kept: RotationPlan,
    groups: Sequence[str],
    busy: Sequence[Busy],
    classmates: Sequence[Classmate],
) -> tuple[Members, ...]:
    before = _plates_before(session, rotation, kept)
    return tuple(
        Members(
            group,
            students,
            tuple(dict.fromkeys(one.pass_no for one in busy if one.group == group)),
            before.get(group, 0),
        )
        for group in groups
        if (students := tuple(one.code for one in classmates if one.group == group))
    )


def _plates_before(session: LabSession, rotation: Rotation, kept: RotationPlan) -> dict[str, int]:
    """How many plates each group made in the section's published rotations that started before this one."""
    rows = session.exec(
        select(KeptVisit.group_id, KeptVisit.plan_id, KeptVisit.pass_no)
        .join(RotationPlan, col(RotationPlan.id) == col(KeptVisit.plan_id))
        .join(Rotation, col(Rotation.id) == col(RotationPlan.rotation_id))
        .where(
            Rotation.section_id == rotation.section_id,
            Rotation.state == RotationState.PUBLISHED,
            RotationPlan.starts_at < kept.starts_at,
        )
        .distinct()
    ).all()
    names = list_group_names(session)
    made: dict[str, int] = {}
    for group_id, _plan_id, _pass_no in rows:
        made[names[group_id]] = made.get(names[group_id], 0) + 1
    return made
