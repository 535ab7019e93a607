"""Runs the solver under limits that repeat: deterministic time decides, wall time only guards."""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil
from typing import TypeAlias

from ortools.sat.python import cp_model

from server.core.planning.model import ClassModel, schedule_from
from server.core.planning.work import Schedule, Work, better

# The solver's repeatable units of work allowed for each second. A quiet machine does about 0.3 in a second, so that
# wall time cuts a search short, and makes its plan one that need not repeat, only on a machine less than half as fast.
WORK_PER_SECOND = 0.12
LEAST_SECONDS = 0.02
LEAST_WORK = 0.005
# Seconds to hand one rule of a model to the solver and prepare it.
LOADING_S = 2e-5
# Moments that a diary tries in a second; a quiet machine does about twice as many.
TRIED_PER_SECOND = 100_000

Goal: TypeAlias = cp_model.LinearExpr
# Told a schedule and a second before which no schedule of as many passes can end.
Watch: TypeAlias = Callable[[Schedule, int], None]


@dataclass
class Budget:
    """What is left of the time for one plan, in seconds by the wall and in the solver's repeatable units."""

    seconds: float
    work: float
    seed: int

    @classmethod
    def of(cls, seconds: float, seed: int) -> "Budget":
        """Return the budget for so many seconds."""
        return cls(seconds, seconds * WORK_PER_SECOND, seed)

    def affords(self, model: ClassModel) -> bool:
        """Whether one more run on the model is worth its loading, which grows with its rules."""
        seconds = len(model.model.proto.constraints) * LOADING_S
        return (
            self.seconds > 2 * seconds + LEAST_SECONDS
            and self.work > 2 * seconds * WORK_PER_SECOND + LEAST_WORK
        )

    def set_aside(self, share: float) -> "Budget":
        """Take a share out of this budget and return it."""
        aside = Budget(self.seconds * share, self.work * share, self.seed)
        self.seconds -= aside.seconds
        self.work -= aside.work
        return aside

    def add(self, other: "Budget") -> None:
        """Add what is left of another budget."""
        self.seconds += max(other.seconds, 0.0)
        self.work += max(other.work, 0.0)

    def pay(self, tried: int) -> None:
        """Take the moments tried for a plan made without a search out of this budget."""
        self.seconds -= tried / TRIED_PER_SECOND
        self.work -= tried / TRIED_PER_SECOND * WORK_PER_SECOND

    @property
    def spent(self) -> bool:
        """Whether too little is left to try anything."""
        return self.seconds < LEAST_SECONDS or self.work < LEAST_WORK


@dataclass
class Record:
    """The best schedule and bound so far; whoever watches is told of every improvement."""

    work: Work
    schedule: Schedule
    bound_s: int
    watch: Watch | None

    def __post_init__(self) -> None:
        """Tell of the beginning."""
        self.makespan_s = self.work.finish(self.schedule)
        self._tell()

    def takes(self, schedule: Schedule) -> None:
        """Note a schedule if it is better than the best one."""
        if better(self.work, self.schedule, schedule) is not self.schedule:
            self.schedule, self.makespan_s = schedule, self.work.finish(schedule)
            self._tell()

    def bounds(self, bound_s: int) -> None:
        """Note a second before which no schedule of as many passes can end."""
        if bound_s > self.bound_s:
            self.bound_s = min(bound_s, self.makespan_s)
            self._tell()

    @property
    def proven(self) -> bool:
        """Whether no plan ends earlier than the best one."""
        return self.bound_s >= self.makespan_s

    def _tell(self) -> None:
        if self.watch is not None and self.schedule:
            self.watch(self.schedule, self.bound_s)


class _Schedules(cp_model.CpSolverSolutionCallback):
    """Notes every schedule the solver comes by."""

    def __init__(self, record: Record, model: ClassModel) -> None:
        super().__init__()
        self.record = record
        self.model = model

    def on_solution_callback(self) -> None:
        self.record.takes(schedule_from(self.model, self))


@dataclass(frozen=True)
class Outcome:
    """What one run of the solver says: a schedule or None, the goal's value and bound, and whether the search was finished."""

    schedule: Schedule | None
    value: int
    bound: int
    finished: bool


def run(
    model: ClassModel,
    goal: Goal,
    budget: Budget,
    share: float,
    *,
    most: bool = False,
    record: Record | None = None,
) -> Outcome:
    """Minimise the goal (or maximise it) with a share of what is left of the budget; a watched record hears of it at once."""
    if most:
        model.model.maximize(goal)
    else:
        model.model.minimize(goal)
    solver = _solver(budget, share)
    status = solver.solve(model.model, _heard(solver, model, record, most=most))
    _charge(budget, solver, model)
    finished = status in {cp_model.OPTIMAL, cp_model.INFEASIBLE}
    if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        bound = 0 if finished else max(0, ceil(solver.best_objective_bound - 1e-6))
        return Outcome(None, 0, bound, finished)
    value = round(solver.objective_value)
    return Outcome(schedule_from(model, solver), value, ceil(solver.best_objective_bound - 1e-6), finished)


def _heard(
    solver: cp_model.CpSolver, model: ClassModel, record: Record | None, *, most: bool
) -> _Schedules | None:
    """Let a watched record hear of schedules, and of finishes ruled out where the goal is the finish."""
    if record is None or record.watch is None:
        return None
    if not most:
        solver.best_bound_callback = lambda bound: record.bounds(ceil(bound - 1e-6) * model.tick)
    return _Schedules(record, model)


def feasible(model: ClassModel, budget: Budget, share: float) -> Outcome:
    """Look for any schedule the model allows with this share of the budget; its value and bound mean nothing."""
    solver = _solver(budget, share)
    status = solver.solve(model.model)
    _charge(budget, solver, model)
    found = status in {cp_model.OPTIMAL, cp_model.FEASIBLE}
    finished = found or status == cp_model.INFEASIBLE
    return Outcome(schedule_from(model, solver) if found else None, 0, 0, finished)


def _solver(budget: Budget, share: float) -> cp_model.CpSolver:
    """One worker without linear relaxation repeats its search exactly and proved classes sooner than any mixture."""
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = budget.seed % 2**31
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = 0
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.max_deterministic_time = max(budget.work * share, 0.001)
    solver.parameters.max_time_in_seconds = max(budget.seconds * share, 0.01)
    return solver


def _charge(budget: Budget, solver: cp_model.CpSolver, model: ClassModel) -> None:
    """Take the run, and the time to hand the model over, out of the budget."""
    budget.seconds -= solver.wall_time + len(model.model.proto.constraints) * LOADING_S
    budget.work -= solver.response_proto.deterministic_time
