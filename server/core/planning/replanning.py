"""A new plan in the middle of a class: what has begun stays, and as few groups as possible move."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import zip_longest

from server.core.planning.answer import Plan, Visit
from server.core.planning.diary import Diary
from server.core.planning.mishaps import (
    AbsentGroup,
    Changed,
    LateStart,
    Mishap,
    PassKey,
    Unchanged,
    changed_by,
    in_order,
    lose,
)
from server.core.planning.problem import Fixed, Problem
from server.core.planning.rounds import plan_of
from server.core.planning.work import Job, Placed, Schedule, Work, schedule_of, take_apart, visits_of
from server.core.units import duration_words

# Assumed: who begins at most this much sooner or later than planned need not be told.
TOLERANCE_S = 60
# Of the time given, what the solver may use; the rest is for making the model and the plans without a search.
SHARE_OF_SOLVER = 0.5


@dataclass(frozen=True)
class Stay:
    """What a group does at one place without leaving it: its steps there, the place and the seconds."""

    steps: tuple[str, ...]
    place: str
    start_s: int
    end_s: int


@dataclass(frozen=True)
class Line:
    """One stay of one pass as it was and as it is now; None where there was or is none."""

    group: str
    pass_no: int
    old: Stay | None
    new: Stay | None


@dataclass(frozen=True)
class Replan:
    """The new plan of the changed problem, and what changes for whom.

    ``moved`` are the groups of which something that has not begun changes its place or its time by more than the tolerance;
    ``repeating`` those that make a plate again which was ``lost``. ``lines`` hold every change of those groups, beside the
    plan as it was. ``bell_s`` is the end of the period in which the new plan ends.
    """

    problem: Problem
    plan: Plan
    moved: tuple[str, ...]
    repeating: tuple[str, ...]
    stayed: tuple[str, ...]
    lost: frozenset[PassKey]
    lines: tuple[Line, ...]
    bell_s: int


def replan_after(
    problem: Problem,
    plan: Plan,
    mishap: Mishap,
    *,
    now_s: int,
    seconds: float,
    seed: int,
    lost: frozenset[PassKey] = frozenset(),
) -> Replan | Unchanged:
    """Return the new plan after something went wrong, its lines beside the plan as it was; or why nothing changes."""
    changed = changed_by(problem, plan, mishap, now_s=now_s, lost=lost)
    if isinstance(changed, Unchanged):
        return changed
    found = _replanned(changed, lost, now_s=now_s, seconds=seconds, seed=seed)
    told = {*found.moved, *found.repeating}
    if isinstance(mishap, AbsentGroup):
        told.add(mishap.group)
    found = replace(found, lines=compared(problem, plan, found.problem, found.plan, told))
    if isinstance(mishap, LateStart) and found.plan.unplaced:
        sooner = _sooner_start(problem, plan, mishap, now_s=now_s, lost=lost)
        return replace(found, plan=replace(found.plan, reasons=(*found.plan.reasons, *sooner)))
    return found


def replan(
    problem: Problem,
    plan: Plan,
    *,
    now_s: int,
    seconds: float,
    seed: int,
    lost: frozenset[PassKey] = frozenset(),
) -> Replan:
    """Return the best plan from ``now_s`` on of a problem that carries the change already; the same seed gives the same plan.

    Every visit that has begun by the plan stays, a chain without waiting that has begun runs on, and nothing else begins
    before ``now_s``. Most plates come first (a group's first one before later ones), then the fewest groups moved, then the
    earliest finish. A plate that has begun and can no longer be finished in time is lost and made again if it fits.
    """
    return _replanned(Changed(problem, plan, lost), lost, now_s=now_s, seconds=seconds, seed=seed)


def _replanned(
    changed: Changed, lost_before: frozenset[PassKey], *, now_s: int, seconds: float, seed: int
) -> Replan:
    standing = _standing(changed, now_s)
    best = _constructed(standing)
    if not standing.keeps(best):
        return _impossible(standing, lost_before)
    if standing.worth(best) > standing.hoped_for:
        from server.core.planning.fewest_moves import improved  # noqa: PLC0415 - loading the solver takes long

        best = improved(standing, best, seconds=seconds * SHARE_OF_SOLVER, seed=seed)
    return _answer(standing, best, lost_before)


@dataclass(frozen=True)
class Standing:
    """A class as it stands at ``now_s``: what has begun is fixed in ``work``, and ``old`` is the plan so far by job."""

    work: Work
    old: Schedule
    now_s: int
    lost: frozenset[PassKey]

    @cached_property
    def first_plates(self) -> frozenset[int]:
        """Jobs that would be the first plate of their group that is not lost."""
        found: dict[int, int] = {}
        for job in self.work.jobs:
            if self.key(job) not in self.lost:
                found.setdefault(job.group, job.number)
        return frozenset(found.values())

    def key(self, job: Job) -> PassKey:
        """Return the group's name and the pass of a job."""
        return self.work.problem.groups[job.group].name, job.pass_no

    def is_reserve(self, job: Job) -> bool:
        """Tell whether the pass is kept free for repeats."""
        return self.work.problem.groups[job.group].reserve

    def begins(self, job: Job) -> int:
        """Return when the job was to begin; after everything for one that the old plan does not have."""
        return self.old[job.number].starts[0] if job.number in self.old else self.work.end_s + 1

    def unplaced(self, schedule: Schedule) -> list[Job]:
        """Return the jobs that the schedule leaves out."""
        return [job for job in self.work.jobs if job.number not in schedule]

    def keeps(self, schedule: Schedule) -> bool:
        """Tell whether everything that has begun is in the schedule."""
        return all(number in schedule for number in self.work.begun)

    def stays(self, job: Job, placed: Placed | None) -> bool:
        """Tell whether what has not begun of a job is where and when it was, within the tolerance."""
        old = self.old.get(job.number)
        if old is None:
            return True
        return (
            placed is not None
            and placed.kinds == old.kinds
            and all(
                abs(new - before) <= TOLERANCE_S
                for new, before in zip(placed.starts, old.starts, strict=True)
                if before >= self.now_s
            )
        )

    def moved(self, schedule: Schedule) -> frozenset[int]:
        """Return the groups of people of which something moves."""
        return frozenset(
            job.group
            for job in self.work.jobs
            if not self.is_reserve(job) and not self.stays(job, schedule.get(job.number))
        )

    def worth(self, schedule: Schedule) -> tuple[int, int, int, int, int]:
        """Return what is compared of two schedules: the smaller is the better."""
        ordinary = [job.number for job in self.work.jobs if not self.is_reserve(job)]
        placed = sum(number in schedule for number in ordinary)
        firsts = sum(number in schedule for number in self.first_plates.intersection(ordinary))
        return -placed, -firsts, placed - len(schedule), len(self.moved(schedule)), self.work.finish(schedule)

    @property
    def hoped_for(self) -> tuple[int, int, int, int, int]:
        """What no schedule needs to be better than: everything is made, nobody moves, and it ends as it was to end."""
        ordinary = [job.number for job in self.work.jobs if not self.is_reserve(job)]
        firsts = len(self.first_plates.intersection(ordinary))
        finish = self.work.finish(self.old)
        return -len(ordinary), -firsts, len(ordinary) - len(self.work.jobs), 0, finish

    def floors(self, job: Job) -> dict[int, int]:
        """Return what keeps the steps that have not begun from the past."""
        begun = self.begun_steps(job)
        return dict.fromkeys(range(begun, len(job.steps)), self.now_s)

    def begun_steps(self, job: Job) -> int:
        """Return how many steps of the job have begun."""
        return sum(pin.start_s < self.now_s for pin in job.pins.values())


def _standing(changed: Changed, now_s: int) -> Standing:
    """Fix what has begun, and lose the plates that cannot be finished in time however the others are planned."""
    while True:
        problem = replace(changed.problem, fixed=tuple(_pins(changed, now_s)))
        work = take_apart(problem, merge=False)
        standing = Standing(work, schedule_of(work, changed.plan.visits), now_s, changed.lost)
        diary = Diary(work)
        fallen = [
            standing.key(job)
            for job in _begun_in_turn(standing)
            if not _add_begun(standing, diary, job) and _can_be_lost(standing, job)
        ]
        if not fallen:
            return standing
        for key in fallen:
            changed = lose(changed, key, now_s=now_s)


def _pins(changed: Changed, now_s: int) -> Iterable[Fixed]:
    """Yield the steps that have begun, and those fixed for later that the plan still keeps."""
    later = {
        (fixed.group, fixed.pass_no, fixed.step, fixed.place, fixed.start_s)
        for fixed in changed.problem.fixed
    }
    for visit in changed.plan.visits:
        fixed = Fixed(visit.group, visit.pass_no, visit.step, visit.place, visit.start_s)
        if visit.start_s < now_s or (
            (fixed.group, fixed.pass_no, fixed.step, fixed.place, fixed.start_s) in later
        ):
            yield fixed


def _begun_in_turn(standing: Standing) -> list[Job]:
    """Return the jobs that have begun by what is next for them, so that who waits longest goes first."""
    jobs = [standing.work.jobs[number] for number in standing.work.begun]
    return sorted(jobs, key=lambda job: (job.pass_no, standing.begins(job), job.number))


def _can_be_lost(standing: Standing, job: Job) -> bool:
    """Tell whether the plate has begun and is not lost or done yet."""
    old = standing.old.get(job.number)
    if old is None or old.starts[0] >= standing.now_s or standing.key(job) in standing.lost:
        return False
    return standing.work.ends(job, old)[-1] > standing.now_s


def _add_begun(standing: Standing, diary: Diary, job: Job) -> bool:
    return _add_as_it_was(standing, diary, job) or diary.add(job, standing.floors(job))


def _add_as_it_was(standing: Standing, diary: Diary, job: Job) -> bool:
    """Place a job where and when it was; False, and nothing placed, if that is not possible."""
    old = standing.old.get(job.number)
    if old is None:
        return False
    same = replace(
        job,
        stays=tuple(replace(stay, kinds=(kind,)) for stay, kind in zip(job.stays, old.kinds, strict=True)),
    )
    if not diary.add(same, dict(enumerate(old.starts))):
        return False
    if standing.stays(job, diary.placed[job.number]):
        return True
    diary.remove(job)
    return False


def _constructed(standing: Standing) -> Schedule:
    """Return the best plan made without a search."""
    waiting = sorted(
        (job for job in standing.work.jobs if job.number not in standing.work.begun),
        key=lambda job: (standing.is_reserve(job), standing.begins(job), job.number),
    )
    fair = sorted(
        waiting, key=lambda job: (standing.is_reserve(job), job.number not in standing.first_plates)
    )
    ways = [
        _stay_where_possible(standing, waiting, fair),
        _stay_where_possible(standing, fair, fair),
        _shifted(standing, waiting),
        _in_order_given(standing, waiting),
        _in_order_given(standing, fair),
    ]
    return min(ways, key=standing.worth)


def _with_begun(standing: Standing) -> Diary:
    diary = Diary(standing.work)
    for job in _begun_in_turn(standing):
        _add_begun(standing, diary, job)
    return diary


def _stay_where_possible(standing: Standing, waiting: Sequence[Job], fair: Sequence[Job]) -> Schedule:
    """Leave alone what can stay; put the rest where there is room."""
    diary = _with_begun(standing)
    for job in waiting:
        _add_as_it_was(standing, diary, job)
    for job in fair:
        if job.number not in diary.placed:
            diary.add(job, standing.floors(job))
    return diary.placed


def _shifted(standing: Standing, waiting: Sequence[Job]) -> Schedule:
    """Push what is in the way to the right, in the order of the old plan."""
    diary = _with_begun(standing)
    for job in waiting:
        if not _add_as_it_was(standing, diary, job):
            old = standing.old.get(job.number)
            floors = standing.floors(job) if old is None else dict(enumerate(old.starts))
            diary.add(job, {step: max(start, standing.now_s) for step, start in floors.items()})
    return diary.placed


def _in_order_given(standing: Standing, waiting: Sequence[Job]) -> Schedule:
    """Place one after the other as early as it can be."""
    diary = _with_begun(standing)
    for job in waiting:
        diary.add(job, standing.floors(job))
    return diary.placed


def _answer(standing: Standing, best: Schedule, lost_before: frozenset[PassKey]) -> Replan:
    problem = standing.work.problem
    plan = plan_of(standing.work, best, reasons=_reasons(standing, best, lost_before))
    numbers = standing.moved(best)
    moved = [group.name for number, group in enumerate(problem.groups) if number in numbers]
    repeating = {name for name, _pass_no in standing.lost - lost_before}
    people = [group.name for group in problem.groups if not group.reserve]
    return Replan(
        problem,
        plan,
        moved=tuple(moved),
        repeating=tuple(name for name in people if name in repeating),
        stayed=tuple(name for name in people if name not in moved and name not in repeating),
        lost=standing.lost,
        lines=(),
        bell_s=_bell(problem, plan.makespan_s),
    )


def _impossible(standing: Standing, lost_before: frozenset[PassKey]) -> Replan:
    """Return that what has begun leaves no way on."""
    found = _answer(standing, {}, lost_before)
    reason = (
        "What has begun and what was changed do not go together. Check the time you gave, and what happened."
    )
    return replace(found, plan=replace(found.plan, reasons=(reason,)))


def _bell(problem: Problem, finish_s: int) -> int:
    """Return the end of the period in which the plan ends."""
    return max(
        (closes for opens, closes in problem.periods if opens < finish_s), default=problem.periods[0][1]
    )


def _reasons(standing: Standing, best: Schedule, lost_before: frozenset[PassKey]) -> tuple[str, ...]:
    """Say which plates no longer fit and how much later a bell would let them in; every time named here was planned."""
    missing = [job for job in standing.unplaced(best) if not standing.is_reserve(job)]
    if not missing:
        return () if best else ("No round kept free for repeats fits.",)
    total = sum(not standing.is_reserve(job) for job in standing.work.jobs)
    found = [f"Only {total - len(missing)} of the {total} plates fit before the bell."]
    again = {name for name, _pass_no in standing.lost - lost_before}
    names = [standing.key(job)[0] for job in missing if job.number in standing.first_plates]
    if names:
        found.append(f"Without a plate of their own so far, and so first next time: {', '.join(names)}.")
    repeats = sorted(again.intersection(standing.key(job)[0] for job in missing))
    if repeats:
        found.append(f"No time is left to make the lost plate of {', '.join(repeats)} again.")
    over_s = _needed_s(standing)
    if over_s is not None:
        found.append(f"All of them would fit if the bell came {duration_words(over_s)} later.")
    return tuple(found)


def _needed_s(standing: Standing) -> int | None:
    """Return how much later the last bell would have to come for all plates of people; None if that is not known."""
    problem = standing.work.problem
    people = tuple(group for group in problem.groups if not group.reserve)
    opens, closes = problem.periods[-1]
    ample = sum(sum(max(seconds.values()) for seconds in job.seconds) for job in standing.work.jobs)
    fixed = tuple(one for one in problem.fixed if one.group in {group.name for group in people})
    longer = replace(
        problem, groups=people, fixed=fixed, periods=(*problem.periods[:-1], (opens, closes + ample))
    )
    work = take_apart(longer, merge=False)
    kept_free = {group.name for group in problem.groups if group.reserve}
    old = [visit for visit in visits_of(standing.work, standing.old) if visit.group not in kept_free]
    eased = replace(standing, work=work, old=schedule_of(work, old))
    best = _constructed(eased)
    finish = work.finish(best)
    return finish - closes if len(best) == len(work.jobs) and finish > closes else None


def _sooner_start(
    problem: Problem, plan: Plan, late: LateStart, *, now_s: int, lost: frozenset[PassKey]
) -> tuple[str, ...]:
    """Say how much must be taken off the delay, such as from the talk, for all plates to fit; the shorter delay was planned."""
    changed = changed_by(problem, plan, late, now_s=now_s, lost=lost)
    assert isinstance(changed, Changed)
    over_s = _needed_s(_standing(changed, now_s))
    if over_s is None or over_s >= late.by_s:
        return ()
    shorter = changed_by(problem, plan, replace(late, by_s=late.by_s - over_s), now_s=now_s, lost=lost)
    assert isinstance(shorter, Changed)
    standing = _standing(shorter, now_s)
    best = _constructed(standing)
    if any(not standing.is_reserve(job) for job in standing.unplaced(best)):
        return ()
    return (
        f"All of them would fit if the first step began {duration_words(over_s)} sooner, for example after a shorter talk.",
    )


def compared(
    problem: Problem, plan: Plan, changed: Problem, new: Plan, names: Collection[str]
) -> tuple[Line, ...]:
    """Return the stays of the named groups that differ between two plans, in the order of the first problem's groups."""
    before, now = _stays(problem, plan), _stays(changed, new)
    order = {group.name: number for number, group in enumerate(problem.groups)}
    keys = sorted({*before, *now}, key=lambda key: (order.get(key[0], len(order)), key))
    return tuple(
        Line(*key, one, other)
        for key in keys
        if key[0] in names
        for one, other in zip_longest(before.get(key, ()), now.get(key, ()))
        if one != other
    )


def _stays(problem: Problem, plan: Plan) -> Mapping[PassKey, Sequence[Stay]]:
    """Return the stays of every pass in the plan, in order."""
    visits: dict[PassKey, list[Visit]] = {}
    for visit in plan.visits:
        visits.setdefault((visit.group, visit.pass_no), []).append(visit)
    groups = {group.name: group for group in problem.groups}
    found: dict[PassKey, list[Stay]] = {}
    for key, mine in visits.items():
        for step, visit in zip(
            problem.steps_of(groups[key[0]], key[1]), in_order(problem, key, mine), strict=True
        ):
            stays = found.setdefault(key, [])
            if stays and step.at == "same":
                last = stays[-1]
                stays[-1] = Stay((*last.steps, visit.step), last.place, last.start_s, visit.end_s)
            else:
                stays.append(Stay((visit.step,), visit.place, visit.start_s, visit.end_s))
    return found
