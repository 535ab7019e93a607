"""The class as a constraint model: passes at places, zones, the goals in their order, hints in and schedules out."""

from collections import defaultdict

from ortools.sat.python import cp_model

from server.core.planning.frame import Expr, Frame
from server.core.planning.work import Placed, Schedule, Work
from server.core.planning.zones import Zones


class ClassModel(Frame):
    """A frame with its zones."""

    def __init__(self, work: Work, *, horizon_s: int, optional: bool) -> None:
        """Build every variable and rule."""
        super().__init__(work, horizon_s=horizon_s, optional=optional)
        self.zones = Zones(self)

    def waiting(self) -> tuple[Expr, Expr]:
        """Return the ticks spent waiting inside passes: all groups' together, and the most of any group."""
        most = self.model.new_int_var(0, self.latest * len(self.work.jobs), "most waiting")
        waits: dict[int, list[Expr]] = defaultdict(list)
        for job in self.work.jobs:
            starts, ends, here = self.start[job.number], self.end[job.number], self.here[job.number]
            between = [starts[block.first] - ends[block.first - 1] for block in job.blocks[1:]]
            if here is not None and between:
                waited = self.model.new_int_var(0, self.latest, f"waited {job.number}")
                self.model.add(waited >= cp_model.LinearExpr.sum(between)).only_enforce_if(here)
                between = [waited]
            waits[job.group].extend(between)
        for mine in waits.values():
            self.model.add(most >= cp_model.LinearExpr.sum(mine))
        return cp_model.LinearExpr.sum([wait for mine in waits.values() for wait in mine]), most


def schedule_from(
    model: ClassModel, solver: cp_model.CpSolver | cp_model.CpSolverSolutionCallback
) -> Schedule:
    """Return the schedule the solver holds."""
    schedule: dict[int, Placed] = {}
    for job in model.work.jobs:
        here = model.here[job.number]
        if here is not None and not solver.boolean_value(here):
            continue
        kinds = tuple(
            next(
                kind
                for kind, literal in at.items()
                if literal is None or len(at) == 1 or solver.boolean_value(literal)
            )
            for at in model.at[job.number]
        )
        starts = tuple(solver.value(start) * model.tick for start in model.start[job.number])
        schedule[job.number] = Placed(starts, kinds)
    return schedule


def hint(model: ClassModel, schedule: Schedule) -> None:
    """Tell the solver about a schedule, sorted so that it keeps the model's first-in-first-out order."""
    model.model.clear_hints()  # type: ignore[no-untyped-call]
    model.model.add_hint(model.makespan, model.work.finish(schedule) // model.tick)
    schedule = in_sequence(model.work, schedule)
    _hint_choices(model, schedule)
    _hint_moments(model, schedule)


def _hint_choices(model: ClassModel, schedule: Schedule) -> None:
    work, made = model.work, model.model
    for job in work.jobs:
        here, placed = model.here[job.number], schedule.get(job.number)
        if here is not None:
            made.add_hint(here, placed is not None)
        if placed is None:
            continue
        for at, kind in zip(model.at[job.number], placed.kinds, strict=True):
            for offered, literal in at.items():
                if len(at) > 1 and literal is not None:
                    made.add_hint(literal, offered == kind)
    for (number, period), literal in model.in_period.items():
        placed = schedule.get(number)
        if placed is not None:
            dark = next(step for step, one in enumerate(work.jobs[number].steps) if one.light == "dark")
            opens, closes = work.problem.periods[period]
            made.add_hint(literal, opens <= placed.starts[dark] < closes)


def _hint_moments(model: ClassModel, schedule: Schedule) -> None:
    for moment, number, step, at_end in model.free:
        placed = schedule.get(number)
        if placed is not None:
            second = model.work.ends(model.work.jobs[number], placed)[step] if at_end else placed.starts[step]
            model.model.add_hint(moment, second // model.tick)
    for order in model.zones.orders:
        one, other = schedule.get(order.one.job), schedule.get(order.other.job)
        if one is not None and other is not None:
            model.model.add_hint(order.literal, one.starts[order.one.first] < other.starts[order.other.first])


def in_sequence(work: Work, schedule: Schedule) -> Schedule:
    """Return an equally good schedule in which jobs that nothing tells apart are first in, first out."""
    found = dict(schedule)
    for line in work.sequences:
        placed = [schedule[number] for number in line if number in schedule]
        columns = [sorted(starts) for starts in zip(*(one.starts for one in placed), strict=True)]
        for number in line:
            found.pop(number, None)
        for number, starts in zip(line, zip(*columns, strict=True), strict=False):
            found[number] = Placed(starts, placed[0].kinds)
    lined_up = {number for line in work.sequences for number in line}
    for family in work.families:
        rows = [[job.number for job in work.jobs if job.group == group] for group in family]
        if any(number in lined_up or number not in schedule for row in rows for number in row):
            continue
        firsts = [min(row, key=lambda number: work.jobs[number].pass_no) for row in rows]
        order = sorted(range(len(rows)), key=lambda index: (schedule[firsts[index]].starts[0], index))
        for row, taken in zip(rows, order, strict=True):
            found.update({number: schedule[other] for number, other in zip(row, rows[taken], strict=True)})
    return found
