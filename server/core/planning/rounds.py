"""Plans made without a search: the whiteboard's rounds, and passes placed one after another."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from server.core.planning.answer import Plan, Status, Unplaced
from server.core.planning.diary import Diary
from server.core.planning.problem import Problem
from server.core.planning.work import Job, Schedule, Work, better, take_apart, visits_of

ONLY_RESERVE_MISSES = "Only passes kept free for repeats are left out; every other plate is made."
MOST_TRIED = 50_000


def whiteboard(problem: Problem) -> Plan:
    """Return the plan a careful instructor writes on a whiteboard.

    In rounds as large as the first places allow: all do the steps in the light, lights off, all load, hold still
    and expose together, each is processed, lights on; then the next round.
    """
    work = take_apart(problem)
    schedule = _rounds(work).placed
    if any(number not in schedule for number in work.begun):
        return plan_of(work, {}, reasons=("The rounds cannot keep the steps that are fixed.",))
    return plan_of(work, schedule, reasons=("The rounds do not fit into the periods.",))


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
    status: Status = "partial" if schedule else "impossible"
    if schedule and all(job.number in schedule or job.number in work.reserve for job in work.jobs):
        reasons = (ONLY_RESERVE_MISSES, *reasons)
    return Plan(status, finish, bound_s, visits_of(work, schedule), missing, reasons)


def _rounds(work: Work) -> Diary:
    """Return the whiteboard's rounds."""
    diary = Diary(work)
    waiting = sorted(work.jobs, key=partial(_urgency, work))
    opens = 0
    while waiting:
        taken = _one_round(work, waiting)
        waiting = [job for job in waiting if job not in taken]
        opens = max(opens, _complete_earlier(diary, taken))
        lights_off = max(opens + _before_dark(work, job) for job in taken)
        for job in taken:
            dark = _first_dark(job)
            floors = {0: opens} if dark is None else {0: opens, dark: lights_off}
            diary.add(job, floors, until=_last_dark(job))
        opens = max([opens, *(_lights_on(work, job, diary.placed) for job in taken)])
    _complete(diary, diary.work.jobs)
    return diary


def _overlapping_rounds(work: Work, ahead: int) -> Diary:
    """Return rounds in which plates exposed in one dark window are processed in the dark window ``ahead`` later.

    The lights come on as soon as a round is exposed, the next round aligns, and one dark window then serves the
    new plates and the waiting ones.
    """
    diary = Diary(work)
    waiting = sorted(work.jobs, key=partial(_urgency, work))
    opens, processed = 0, [0] * ahead
    while waiting:
        taken = _one_round(work, waiting)
        waiting = [job for job in waiting if job not in taken]
        opens = max(opens, _complete_earlier(diary, taken))
        lights_off = max(opens + _before_dark(work, job) for job in taken)
        exposed = lights_off + max(_first_stay(job) - _in_the_light(job) for job in taken)
        next_off = max(exposed, processed[-1]) + max(_before_dark(work, job) for job in waiting or taken)
        for job in taken:
            floors = {0: opens}
            dark = [index for index, step in enumerate(job.steps) if step.light == "dark"]
            if dark:
                floors[dark[0]] = lights_off
            later = [index for index in dark if index > job.stays[0].last]
            if later:
                floors[later[0]] = next_off
            diary.add(job, floors, until=_last_dark(job))
        opens = max(exposed, processed.pop(0))
        processed.append(max([opens, *(_lights_on(work, job, diary.placed) for job in taken)]))
    _complete(diary, work.jobs)
    return diary


def _complete_earlier(diary: Diary, taken: Sequence[Job]) -> int:
    """Complete the passes just before those taken; return when all their groups are free again.

    Before what is kept for repeats come all others: they are completed, and have left their first places.
    """
    work = diary.work
    earlier = [work.passes[job.group, job.pass_no - 1] for job in taken if job.pass_no > 1]
    held_back = any(job.number in work.held_back for job in taken)
    _complete(diary, work.jobs if held_back else earlier)
    free = max((diary.released(job) for job in earlier), default=0)
    return max(free, diary.others_left()) if held_back else free


def _complete(diary: Diary, jobs: Sequence[Job]) -> None:
    """Place what follows the last dark step of each pass, now that the dark windows before it are known."""
    partly = [(diary.placed[job.number].starts, job) for job in jobs if job.number in diary.placed]
    for starts, job in sorted(partly, key=lambda item: (item[0][-1], item[1].number)):
        if len(starts) < len(job.steps):
            diary.add(job, dict(enumerate(starts)))


def _first_stay(job: Job) -> int:
    """Return the seconds of the steps at the first place."""
    return sum(job.shortest(step) for step in range(job.stays[0].last + 1))


@dataclass(frozen=True)
class Made:
    """The whiteboard's rounds, the best plan made without a search, and the moments tried for all of them."""

    rounds: Schedule
    best: Schedule
    tried: int


def made_without_search(work: Work) -> Made:
    """Make plans without a search and keep the best one: most passes first, then the earliest finish.

    What a way leaves out, for it knows no other rhythm, is placed wherever there is room. After the rounds no other way is
    begun once ``MOST_TRIED`` moments have been tried.
    """
    rounds = _rounds(work)
    best: Schedule = rounds.placed
    tried = 0
    for way in (lambda: rounds, *_other_ways(work)):
        if tried > MOST_TRIED:
            break
        diary = way()
        best, tried = better(work, best, diary.placed), tried + diary.tried
        if len(diary.placed) < len(work.jobs):
            fuller = filled_up(work, diary.placed)
            best, tried = better(work, best, fuller.placed), tried + fuller.tried
    return Made(rounds.placed, best, tried)


def constructed(work: Work) -> Schedule:
    """Return the best plan made without a search."""
    return made_without_search(work).best


def _other_ways(work: Work) -> Iterator[Callable[[], Diary]]:
    """Yield ways to make a plan, the more promising ones first."""
    yield partial(_overlapping_rounds, work, 1)
    yield partial(_overlapping_rounds, work, 2)
    urgency = partial(_urgency, work)
    longest_first = sorted(
        work.jobs,
        key=lambda job: (
            *urgency(job)[:2],
            job.pass_no,
            -sum(map(job.shortest, range(len(job.steps)))),
            job.number,
        ),
    )
    group_by_group = sorted(work.jobs, key=lambda job: (*urgency(job)[:2], job.group, job.pass_no))
    orders = [sorted(work.jobs, key=urgency), longest_first, group_by_group]
    for number, order in enumerate(orders):
        if order not in orders[:number]:
            yield partial(_one_by_one, work, order)


def filled_up(work: Work, schedule: Schedule) -> Diary:
    """Return a schedule that keeps the rules, with every pass added that finds room beside it, one after another.

    What is kept for repeats is placed anew, after all others.
    """
    diary = Diary(work)
    kept = schedule.keys() - work.held_back
    for number in sorted(kept):
        diary.take(work.jobs[number], schedule[number])
    for job in sorted(work.jobs, key=partial(_urgency, work)):
        if job.number not in kept:
            diary.add(job, {})
    return diary


def _one_by_one(work: Work, jobs: Sequence[Job]) -> Diary:
    """Return the passes placed in the order given, each as early as it can be."""
    diary = Diary(work)
    for job in jobs:
        diary.add(job, {})
    return diary


def _urgency(work: Work, job: Job) -> tuple[bool, bool, int]:
    """What has begun comes first, what is kept for repeats last."""
    return job.number not in work.begun, job.number in work.held_back, job.number


def _one_round(work: Work, waiting: Sequence[Job]) -> list[Job]:
    """Return the passes of the next round: at most one of a group, as many as the first places hold.

    What is kept for repeats has rounds of its own.
    """
    taken: list[Job] = []
    room = {number: kind.capacity for number, kind in enumerate(work.kinds)}
    held_back = waiting[0].number in work.held_back
    for job in waiting:
        if any(other.group == job.group for other in taken):
            continue
        if (job.number in work.held_back) != held_back:
            continue
        kind = next((kind for kind in job.stays[0].kinds if room[kind] > 0), None)
        if kind is not None:
            room[kind] -= 1
            taken.append(job)
    return taken


def _first_dark(job: Job) -> int | None:
    return next((index for index, step in enumerate(job.steps) if step.light == "dark"), None)


def _last_dark(job: Job) -> int | None:
    return max((index for index, step in enumerate(job.steps) if step.light == "dark"), default=None)


def _in_the_light(job: Job) -> int:
    """Return the seconds of the steps before the first dark one."""
    return sum(job.shortest(step) for step in range(_first_dark(job) or 0))


def _before_dark(work: Work, job: Job) -> int:
    """Return the seconds of the steps before the first dark one, and of the afterglow where that is."""
    dark = _first_dark(job)
    zones = {work.kinds[kind].light_zone for kind in (() if dark is None else job.kinds_of(dark))}
    return _in_the_light(job) + max(map(work.problem.afterglow_s, zones), default=0)


def _lights_on(work: Work, job: Job, schedule: Schedule) -> int:
    """Return when the job's last dark step ends, or its last step if it has none in the dark; 0 if not placed."""
    placed = schedule.get(job.number)
    if placed is None:
        return 0
    ends = work.ends(job, placed)
    return max(
        (ends[index] for index, step in enumerate(job.steps) if step.light == "dark"), default=ends[-1]
    )
