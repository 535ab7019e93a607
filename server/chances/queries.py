"""Reads behind a rotation's chance of finishing: its kept plan, the lab's rated runs, and the day's other rotations."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from server.callings.queries import list_called_exposures
from server.core.class_pace import Pace, pace
from server.core.moments import day_at
from server.core.planning import Plan, Problem
from server.data.session import LabSession
from server.rotations.models import RotationPlan, StepTime
from server.rotations.queries import (
    get_plan,
    list_exposures,
    list_rotations_of_day,
    list_steps,
    read_plan,
)
from server.runs.queries import list_runs_of_rotations


@dataclass(frozen=True)
class Kept:
    """A rotation's plan as it was kept; steps named in `timed` take a station's settle or exposure time."""

    kept: RotationPlan
    problem: Problem
    plan: Plan
    timed: frozenset[str]


def find_kept(session: LabSession, rotation_id: int) -> Kept | None:
    """The plan that is kept for the rotation, as the planner knows it; None where no plate was planned.

    Rounds kept free for repeats are left out: whether they are needed is chance, too.
    """
    kept = get_plan(session, rotation_id)
    if kept is None or not kept.plates_planned:
        return None
    asked, planned = read_plan(session, kept)
    problem = replace(asked, groups=tuple(group for group in asked.groups if not group.reserve))
    ordinary = {group.name for group in problem.groups}
    problem = replace(problem, fixed=tuple(one for one in asked.fixed if one.group in ordinary))
    visits = tuple(visit for visit in planned.visits if visit.group in ordinary)
    makespan_s = max(visit.end_s for visit in visits)
    plan = Plan(planned.status, makespan_s, min(kept.bound_s, makespan_s), visits)
    timed = frozenset(
        step.name for step in list_steps(session, rotation_id) if step.time_from != StepTime.OWN
    )
    return Kept(kept, problem, plan, timed)


def list_plates_of_others(session: LabSession, kept: RotationPlan, zone: str) -> Sequence[tuple[str, int]]:
    """The other published rotations of the day on which this one begins, each with its plates of that day."""
    day = day_at(kept.starts_at, zone)
    return [
        (one.name, one.plates)
        for one in list_rotations_of_day(session, day, zone)
        if one.rotation_id != kept.rotation_id and one.plates
    ]


def find_pace(session: LabSession) -> Pace:
    """How much longer than planned this lab's classes take, from when the plates of their published rotations were exposed: as it
    was called, or in a class that nobody called as run notes say.

    A group's runs are its plates in the order of exposure; what was planned counts from the start of the class, in its own period only
    where there are several.
    """
    planned: dict[tuple[int, int], list[tuple[datetime, datetime]]] = defaultdict(list)
    begins: dict[int, set[datetime]] = defaultdict(set)
    for rotation_id, group_id, starts_at, ends_at in list_exposures(session):
        planned[rotation_id, group_id].append((starts_at, ends_at))
        begins[rotation_id].add(starts_at)
    done: dict[tuple[int, int], list[datetime]] = defaultdict(list)
    for run in list_runs_of_rotations(session):
        done[run.rotation_id or 0, run.group_id].append(run.exposed_at)
    classes: dict[int, list[float]] = defaultdict(list)
    for key, exposed in done.items():
        for real, (starts_at, ends_at) in zip(exposed, planned.get(key, ()), strict=False):
            classes[key[0]].append((real - starts_at) / (ends_at - starts_at))
    called: dict[int, list[float]] = defaultdict(list)
    for one in list_called_exposures(session):
        begun = max((start for start in begins[one.rotation_id] if start < one.planned_at), default=None)
        if begun is not None:
            called[one.rotation_id].append((one.called_at - begun) / (one.planned_at - begun))
    classes.update(called)
    return pace([[ratio for ratio in ratios if ratio > 0] for ratios in classes.values()])
