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
from server.refusal import NotFound
from server.roles.queries import Classmate, find_turns
from server.rotations.models import Rotation, RotationPlan
from server.rotations.queries import get_plan, list_every_visit
from server.stations.queries import list_light_zones, list_still_zones


@dataclass(frozen=True)
class Kept:
    """A rotation's plan as it was kept. `groups` wait and do something; rounds kept free for repeats are only `busy`.

    `spans` run from each period's start to the end of the groups' work in it, in seconds from `starts_at`. `away` and `lit` are
    the codes of who is written down as away on the day, and of who keeps to the light.
    """

    starts_at: datetime
    problem: Problem
    groups: tuple[str, ...]
    busy: tuple[Busy, ...]
    spans: tuple[Stretch, ...]
    members: tuple[Members, ...]
    classmates: tuple[Classmate, ...]
    away: frozenset[str]
    lit: frozenset[str]


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
    taking_turns = find_turns(session, rotation, kept)
    classmates = taking_turns.classmates
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
        taking_turns.members,
        classmates,
        taking_turns.away,
        taking_turns.lit,
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
