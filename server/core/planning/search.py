"""The search for a plan, goal after goal: most passes, earliest finish, fewest light switches, least and fairest waiting."""

from dataclasses import dataclass

from ortools.sat.python import cp_model

from server.core.planning.alike import moved_to, with_longest_times, with_shortest_times
from server.core.planning.bounds import simple_bound
from server.core.planning.counted_bound import counted_bound
from server.core.planning.model import ClassModel, hint
from server.core.planning.phases import zones_in_both_lights
from server.core.planning.rounds import made_without_search
from server.core.planning.solving import Budget, Outcome, Record, Watch, feasible, run
from server.core.planning.work import Schedule, Work, better, take_apart

FIRST_GOALS = 0.85
FIRST_COUNT = 0.1
FIRST_TRY = 0.5
SECOND_COUNT = 0.8
SECOND_TRY = 0.8
SHARE_OF_START = 0.3
SHARE_OF_BOUND = 0.3


@dataclass(frozen=True)
class Found:
    """A schedule with the bound on its finish; ``most`` tells whether no plan places more passes."""

    schedule: Schedule
    bound_s: int
    most: bool


def search(work: Work, start: Schedule, budget: Budget, watch: Watch | None = None) -> Found | None:
    """Return the best schedule found, at least as good as the start; None if the fixed steps allow none.

    ``watch`` is told of the start, of every schedule that places more passes or ends earlier, and of every better bound.
    """
    if len(start) == len(work.jobs):
        return _earliest_of_all(work, start, budget, watch)
    if len(work.begun) == len(work.jobs):
        whole = feasible(_of_all(work), budget, 0.5).schedule
        return None if whole is None else search(work, whole, budget, watch)
    model = ClassModel(work, horizon_s=latest_finish(work), optional=True)
    hint(model, start)
    worth = cp_model.LinearExpr.sum(
        [work.worth(number) * (1 if here is None else here) for number, here in enumerate(model.here)]
    )
    record = Record(work, {} if _unkept(work, start) else start, 0, watch)
    outcome = run(model, worth, budget, 0.6, most=True, record=record)
    if outcome.schedule is None and (outcome.finished or _unkept(work, start)):
        return None
    best = start if outcome.schedule is None else better(work, start, outcome.schedule)
    if len(best) == len(work.jobs):
        return _earliest_of_all(work, best, budget, watch)
    model.model.add(worth >= work.worth_of(best))
    return _earliest(model, best, budget, record, most=outcome.finished)


def fits(work: Work, budget: Budget, share: float) -> Schedule | None:
    """Return any schedule of all passes, or None if none was found with this share of the budget."""
    start = _begin(work, budget)
    if len(start) == len(work.jobs):
        return start
    return feasible(_of_all(work), budget, share).schedule


def possible(work: Work, budget: Budget, share: float) -> bool | None:
    """Tell whether there is a schedule of all passes; None if this share of the budget was too little to find out."""
    if simple_bound(work) > latest_finish(work):
        return False
    if len(_begin(work, budget)) == len(work.jobs):
        return True
    outcome = feasible(_of_all(work), budget, share)
    return True if outcome.schedule is not None else False if outcome.finished else None


def _of_all(work: Work) -> ClassModel:
    return ClassModel(work, horizon_s=latest_finish(work), optional=False)


def finish_of_all(work: Work, budget: Budget, share: float) -> tuple[int, bool] | None:
    """Return the earliest finish found for all passes and whether it is proven; None if none was found."""
    start = fits(work, budget, share / 2)
    if start is None:
        return None
    model = ClassModel(work, horizon_s=work.finish(start), optional=False)
    hint(model, start)
    outcome = run(model, model.makespan, budget, share / 2)
    best = _better(work, start, outcome)
    return work.finish(best), outcome.finished


def latest_finish(work: Work) -> int:
    """Return a second after which no plan can end: the last period's end and what may run on by itself."""
    alone = max(max(job.seconds[step].values()) for job in work.jobs for step in range(len(job.steps)))
    runs_on = any(not step.attended for job in work.jobs for step in job.steps)
    return work.end_s + (alone * max(len(job.steps) for job in work.jobs) if runs_on else 0)


def _begin(work: Work, budget: Budget) -> Schedule:
    """Return the best plan made without a search, at the cost of the budget."""
    made = made_without_search(work)
    budget.pay(made.tried)
    return made.best


def _unkept(work: Work, schedule: Schedule) -> bool:
    """Tell whether the schedule leaves out a pass that has begun."""
    return any(number not in schedule for number in work.begun)


def _better(work: Work, schedule: Schedule, outcome: Outcome) -> Schedule:
    if outcome.schedule is None or work.finish(outcome.schedule) > work.finish(schedule):
        return schedule
    return outcome.schedule


def _earliest_of_all(work: Work, start: Schedule, budget: Budget, watch: Watch | None) -> Found:
    """Minimise the finish of all passes; where places differ in their times, first search as if they did not.

    Where a room is lit and dark in turn and the first search is cut short, plates are counted in its phases for a better
    bound before the search goes on.
    """
    record = Record(work, start, simple_bound(work), watch)
    if not all(job.steady for job in work.jobs):
        start = _start_with_places_alike(work, start, budget)
        record.takes(start)
        record.bounds(_bound_with_places_alike(work, work.finish(start), budget))
    counts = bool(zones_in_both_lights(work))
    if counts:
        _count(work, record, budget, FIRST_COUNT)
    model = ClassModel(work, horizon_s=work.finish(start), optional=False)
    best = start
    for share in (FIRST_TRY, SECOND_TRY) if counts else (FIRST_GOALS,):
        if record.proven or not budget.affords(model):
            break
        best = _sooner(model, best, budget, share, record)
        if share == FIRST_TRY and not record.proven:
            _count(work, record, budget, SECOND_COUNT)
    if budget.affords(model):
        model.model.add(model.makespan <= work.finish(best) // model.tick)
        best = _later_goals(model, best, budget)
    return Found(best, record.bound_s, most=True)


def _count(work: Work, record: Record, budget: Budget, share: float) -> None:
    """Improve the bound by counting plates in phases with a share of the budget."""
    mine = budget.set_aside(share)
    record.bounds(counted_bound(work, best_s=record.makespan_s, least_s=record.bound_s, budget=mine))
    budget.add(mine)


def _sooner(model: ClassModel, best: Schedule, budget: Budget, share: float, record: Record) -> Schedule:
    """Return the better of the schedule and what a share of the budget finds."""
    model.model.add(model.makespan >= record.bound_s // model.tick)
    hint(model, best)
    outcome = run(model, model.makespan, budget, share, record=record)
    best = _better(model.work, best, outcome)
    record.takes(best)
    record.bounds(outcome.bound * model.tick)
    return best


def _earliest(model: ClassModel, start: Schedule, budget: Budget, record: Record, *, most: bool) -> Found:
    """Minimise the finish of as many passes as the start places, then the later goals with what is left."""
    work = model.work
    if not budget.affords(model):
        return Found(start, 0, most)
    hint(model, start)
    outcome = run(model, model.makespan, budget, FIRST_GOALS, record=record)
    best = _better(work, start, outcome)
    model.model.add(model.makespan <= work.finish(best) // model.tick)
    best = _later_goals(model, best, budget)
    return Found(best, min(outcome.bound * model.tick, work.finish(best)), most)


def _bound_with_places_alike(work: Work, horizon_s: int, budget: Budget) -> int:
    """Return a bound from the class with the shortest times."""
    alike = take_apart(with_shortest_times(work.problem))
    start = _begin(alike, budget)
    model = ClassModel(alike, horizon_s=horizon_s, optional=False)
    if len(start) == len(alike.jobs) and alike.finish(start) <= horizon_s:
        hint(model, start)
    return run(model, model.makespan, budget, SHARE_OF_BOUND).bound * model.tick


def _start_with_places_alike(work: Work, start: Schedule, budget: Budget) -> Schedule:
    """Return the better of the start and a plan of the class with the longest times."""
    harder = with_longest_times(work.problem)
    if harder is None:
        return start
    alike = take_apart(harder)
    first = _begin(alike, budget)
    if len(first) < len(alike.jobs):
        return start
    model = ClassModel(alike, horizon_s=alike.finish(first), optional=False)
    hint(model, first)
    found = moved_to(work, alike, _better(alike, first, run(model, model.makespan, budget, SHARE_OF_START)))
    return min(start, found, key=work.finish)


def _later_goals(model: ClassModel, best: Schedule, budget: Budget) -> Schedule:
    if not budget.affords(model):
        return best
    windows = model.zones.count_dark_windows()
    total, worst = model.waiting()
    goals = [goal for goal in (windows, total, worst) if goal is not None]
    for number, goal in enumerate(goals):
        if not budget.affords(model):
            break
        hint(model, best)
        outcome = run(model, goal, budget, 1 / (len(goals) - number))
        if outcome.schedule is None:
            break
        best = outcome.schedule
        model.model.add(goal <= outcome.value)
    return best
