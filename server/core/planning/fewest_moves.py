"""The search for a plan in the middle of a class: most plates, then the fewest groups moved, then the earliest finish.

Imports the solver, so it is itself imported only when a search is needed.
"""

from ortools.sat.python import cp_model

from server.core.planning.frame import Bool, Expr
from server.core.planning.model import ClassModel, hint
from server.core.planning.replanning import TOLERANCE_S, Standing
from server.core.planning.search import latest_finish
from server.core.planning.solving import Budget, run
from server.core.planning.work import Job, Schedule

SHARE_OF_PLATES = 0.5
SHARE_OF_MOVES = 0.6


class StandingModel(ClassModel):
    """A class model in which nothing begins before now, and which knows what moving a group means."""

    def __init__(self, standing: Standing, *, horizon_s: int, optional: bool) -> None:
        """Add to every rule of a class that the past is over, and a literal for each group that moves."""
        super().__init__(standing.work, horizon_s=horizon_s, optional=optional)
        self.standing = standing
        for job in self.work.jobs:
            for step in range(standing.begun_steps(job), len(job.steps)):
                self.model.add(self.start[job.number][step] >= -(-standing.now_s // self.tick))
        self.moves: dict[int, Bool] = {}
        for job in self.work.jobs:
            if job.number in standing.old and not standing.is_reserve(job):
                self._tie(job)

    def _tie(self, job: Job) -> None:
        """Unless its group moves, a job is where and when it was."""
        moves = self.moves.setdefault(job.group, self.model.new_bool_var(f"moves {job.group}"))
        old, here = self.standing.old[job.number], self.here[job.number]
        if here is not None:
            self.model.add_bool_or(moves, here)
        for stay, kind in enumerate(old.kinds):
            literal = self.at[job.number][stay].get(kind)
            if kind not in self.at[job.number][stay]:
                self.model.add_bool_or(moves)
            elif literal is not None:
                self.model.add_bool_or(moves, literal)
        for step, start in enumerate(old.starts):
            if start >= self.standing.now_s:
                moment = self.start[job.number][step]
                self.model.add(moment >= -(-(start - TOLERANCE_S) // self.tick)).only_enforce_if(
                    moves.negated()
                )
                self.model.add(moment <= (start + TOLERANCE_S) // self.tick).only_enforce_if(moves.negated())

    def plates(self) -> Expr:
        """Return the worth of the plates that are placed: people's before reserve, and first ones before later ones."""
        most = len(self.work.jobs) + 1
        worth: list[Expr] = []
        for job in self.work.jobs:
            first = job.number in self.standing.first_plates
            weight = 1 if self.standing.is_reserve(job) else most * (most + first)
            here = self.here[job.number]
            if here is not None:
                worth.append(weight * here)
        return cp_model.LinearExpr.sum(worth)


def improved(standing: Standing, start: Schedule, *, seconds: float, seed: int) -> Schedule:
    """Return the best schedule found with about so much of the solver's time, never worse than the start."""
    budget, work = Budget.of(seconds, seed), standing.work
    optional = bool(standing.unplaced(start))
    model = StandingModel(standing, horizon_s=latest_finish(work), optional=optional)
    best = start
    goals: list[tuple[Expr, float, bool]] = []
    if optional:
        goals.append((model.plates(), SHARE_OF_PLATES, True))
    if model.moves:
        goals.append((cp_model.LinearExpr.sum(list(model.moves.values())), SHARE_OF_MOVES, False))
    goals.append((model.makespan, 1.0, False))
    for goal, share, most in goals:
        if not budget.affords(model):
            break
        hint(model, best)
        outcome = run(model, goal, budget, share, most=most)
        if outcome.schedule is None:
            break
        best = min(best, outcome.schedule, key=standing.worth)
        model.model.add(goal >= outcome.value if most else goal <= outcome.value)
    return best
