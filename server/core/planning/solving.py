"""Runs the solver under limits that repeat: deterministic time decides, wall time only guards."""

from dataclasses import dataclass
from typing import TypeAlias

from ortools.sat.python import cp_model

from server.core.planning.model import ClassModel, hint, schedule_from
from server.core.planning.work import Schedule, Work

WORK_PER_SECOND = 0.5

Goal: TypeAlias = cp_model.LinearExprT


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

    @property
    def spent(self) -> bool:
        """Whether too little is left to try anything."""
        return self.seconds < 0.02 or self.work < 0.005


@dataclass(frozen=True)
class Outcome:
    """What one run of the solver says: a schedule or None, the goal's bound, and whether it finished the search."""

    schedule: Schedule | None
    bound: int
    finished: bool


def run(model: ClassModel, goal: Goal, budget: Budget, share: float, *, most: bool = False) -> Outcome:
    """Minimise the goal (or maximise it) with a share of what is left of the budget."""
    if most:
        model.model.maximize(goal)
    else:
        model.model.minimize(goal)
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = budget.seed % 2**31
    solver.parameters.num_workers = 2
    solver.parameters.interleave_search = True
    solver.parameters.max_deterministic_time = max(budget.work * share, 0.001)
    solver.parameters.max_time_in_seconds = max(budget.seconds * share, 0.01)
    solver.parameters.log_search_progress = False
    status = solver.solve(model.model)
    budget.seconds -= solver.wall_time
    budget.work -= solver.response_proto.deterministic_time
    finished = status in {cp_model.OPTIMAL, cp_model.INFEASIBLE}
    found = status in {cp_model.OPTIMAL, cp_model.FEASIBLE}
    bound = round(solver.best_objective_bound) if status != cp_model.INFEASIBLE else 0
    return Outcome(schedule_from(model, solver) if found else None, bound, finished)
