"""Plans made without a search: the whiteboard's rounds, and passes placed one after another."""

from collections.abc import Sequence

from server.core.planning.answer import Plan, Unplaced
from server.core.planning.problem import Problem
from server.core.planning.timeline import Timeline
from server.core.planning.work import Job, Schedule, Work, take_apart, visits_of


def whiteboard(problem: Problem) -> Plan:
    """Return the plan a careful instructor writes on a whiteboard.

    In rounds as large as the first places allow: all do the steps in the light, lights off, all load, hold still
    and expose together, each is processed, lights on; then the next round.
    """
    work = take_apart(problem)
    return plan_of(work, in_rounds(work), reasons=("The rounds do not fit into the periods.",))


def plan_of(work: Work, schedule: Schedule, *, reasons: tuple[str, ...] = (), bound_s: int = 0) -> Plan:
    """Return a schedule as a plan that is not proven best; ``reasons`` are kept only if passes are missing."""
    missing = tuple(
        Unplaced(work.problem.groups[job.group].name, job.pass_no)
        for job in sorted(work.jobs, key=lambda job: (job.group, job.pass_no))
        if job.number not in schedule
    )
    finish = work.finish(schedule)
    if not missing:
        return Plan("feasible", finish, bound_s, visits_of(work, schedule))
    status = "partial" if schedule else "impossible"
    return Plan(status, finish, bound_s, visits_of(work, schedule), missing, reasons)


def in_rounds(work: Work, *, size: int | None = None, end_s: int | None = None) -> Schedule:
    """Return the whiteboard's rounds; ``size`` bounds how many passes one round takes."""
    timeline = Timeline(work, end_s=end_s)
    waiting = sorted(work.jobs, key=lambda job: (not job.pins, job.number))
    opens = 0
    while waiting:
        taken = _one_round(work, waiting, size)
        waiting = [job for job in waiting if job not in taken]
        lights_off = max(opens + _before_dark(job) for job in taken)
        for job in taken:
            dark = _first_dark(job)
            timeline.add(job, {0: opens} if dark is None else {0: opens, dark: lights_off})
        opens = max([opens, *(_lights_on(work, job, timeline.placed) for job in taken)])
    return timeline.placed


def one_by_one(work: Work, jobs: Sequence[Job], *, end_s: int | None = None) -> Schedule:
    """Return the passes placed in the order given, each as early as it can be."""
    timeline = Timeline(work, end_s=end_s)
    for job in jobs:
        timeline.add(job, {})
    return timeline.placed


def _one_round(work: Work, waiting: Sequence[Job], size: int | None) -> list[Job]:
    """Return the passes of the next round: at most one of a group, as many as the first places hold."""
    taken: list[Job] = []
    room = {number: kind.capacity for number, kind in enumerate(work.kinds)}
    for job in waiting:
        if any(other.group == job.group for other in taken) or len(taken) == size:
            continue
        kind = next((kind for kind in job.stays[0].kinds if room[kind] > 0), None)
        if kind is not None:
            room[kind] -= 1
            taken.append(job)
    return taken


def _first_dark(job: Job) -> int | None:
    return next((index for index, step in enumerate(job.steps) if step.light == "dark"), None)


def _before_dark(job: Job) -> int:
    """Return the seconds of the steps before the first dark one."""
    return sum(job.shortest(step) for step in range(_first_dark(job) or 0))


def _lights_on(work: Work, job: Job, schedule: Schedule) -> int:
    """Return when the job's last dark step ends, or its last step if it has none in the dark; 0 if not placed."""
    placed = schedule.get(job.number)
    if placed is None:
        return 0
    ends = work.ends(job, placed)
    return max((ends[index] for index, step in enumerate(job.steps) if step.light == "dark"), default=ends[-1])
