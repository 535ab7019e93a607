"""Passes at their places as a constraint model: steps, waits, periods, capacities, groups.

Imports the solver, so it is itself imported only when a plan is asked for.
"""

from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise
from typing import TypeAlias

from ortools.sat.python import cp_model

from server.core.planning.work import Block, Job, Work, tick_of

Bool: TypeAlias = cp_model.IntVar
Expr: TypeAlias = cp_model.LinearExpr


class Frame:
    """The model without its zones; ``horizon_s`` is a finish no better plan needs to exceed.

    With ``optional`` a pass that has not begun may be left out; without it every pass must be placed.
    For every job ``here`` is its presence (None where it is certain), ``at`` the choice of a kind of place for each
    stay, ``start`` and ``end`` the moments of its steps in ticks; ``free`` lists the variables behind them.
    """

    def __init__(self, work: Work, *, horizon_s: int, optional: bool) -> None:
        """Build every variable and every rule that needs no zone."""
        self.work = work
        self.optional = optional
        self.tick = tick_of(work)
        self.model = cp_model.CpModel()
        longest = max(sum(max(seconds.values()) for seconds in job.seconds) for job in work.jobs)
        self.latest = horizon_s // self.tick + (longest // self.tick if optional else 0)
        self.makespan = self.model.new_int_var(0, horizon_s // self.tick, "makespan")
        self.here: list[Bool | None] = []
        self.at: list[list[dict[int, Bool | None]]] = []
        self.start: list[list[Expr]] = []
        self.end: list[list[Expr]] = []
        self.free: list[tuple[Bool, int, int, bool]] = []
        self.in_period: dict[tuple[int, int], Bool] = {}
        for job in work.jobs:
            self._add_job(job)
        self._add_places()
        self._add_charges()
        self._add_groups()
        self._add_reserve()
        self._add_sequences()

    def _add_job(self, job: Job) -> None:
        here = (
            self.model.new_bool_var(f"here {job.number}")
            if self.optional and job.number not in self.work.begun
            else None
        )
        self.here.append(here)
        self.at.append([self._choice(job, index) for index in range(len(job.stays))])
        self.start.append([])
        self.end.append([])
        for before, block in zip((None, *job.blocks), job.blocks, strict=False):
            for step in range(block.first, block.last + 1):
                self._add_step(job, step, begins=step == block.first)
                self._add_window(job, step)
            if before is not None:
                self._add_wait(job, before, block)
        finish = self.model.add(self.makespan >= self.end[job.number][-1])
        if here is not None:
            finish.only_enforce_if(here)
        self._keep_dark_together(job)

    def _choice(self, job: Job, index: int) -> dict[int, Bool | None]:
        """Return a literal for every kind of place a stay may be at; the job's presence if there is no choice."""
        here, kinds = self.here[job.number], job.stays[index].kinds
        if len(kinds) == 1:
            return {kinds[0]: here}
        chosen: dict[int, Bool | None] = {}
        literals: list[Bool] = []
        for kind in kinds:
            chosen[kind] = literal = self.model.new_bool_var(f"at {job.number} {index} {kind}")
            literals.append(literal)
        if here is None:
            self.model.add_exactly_one(literals)
        else:
            self.model.add(sum(literals) == here)
        return chosen

    def _add_step(self, job: Job, step: int, *, begins: bool) -> None:
        """Add the start and the end of a step; only the start of a block and what follows a choice is free."""
        starts, ends = self.start[job.number], self.end[job.number]
        if not begins and len(set(job.seconds[step - 1].values())) == 1:
            starts.append(ends[step - 1])
        else:
            start = self._moment(job, step, at_end=False)
            starts.append(start)
            if not begins:
                self.model.add(start == ends[step - 1])
        if len(set(job.seconds[step].values())) == 1:
            ends.append(starts[step] + job.shortest(step) // self.tick)
            return
        length = sum(
            job.seconds[step][kind] // self.tick * literal
            for kind, literal in self.at[job.number][job.stay_of[step]].items()
            if literal is not None
        )
        end = self._moment(job, step, at_end=True)
        self.model.add(end == starts[step] + length)
        ends.append(end)

    def _moment(self, job: Job, step: int, *, at_end: bool) -> Bool:
        moment = self.model.new_int_var(0, self.latest, f"{'end' if at_end else 'start'} {job.number} {step}")
        self.free.append((moment, job.number, step, at_end))
        return moment

    def _add_wait(self, job: Job, before: Block, after: Block) -> None:
        start, end = self.start[job.number][after.first], self.end[job.number][before.last]
        self.model.add(start >= end)
        if before.max_wait_s is not None and before.max_wait_s // self.tick < self.latest:
            self.model.add(start <= end + before.max_wait_s // self.tick)

    def _add_window(self, job: Job, step: int) -> None:
        """Keep a step inside the periods, and a fixed one at its start."""
        here = self.here[job.number]
        if step in job.pins:
            self.model.add(self.start[job.number][step] == job.pins[step].start_s // self.tick)
        inside = job.steps[step].attended or job.steps[step].light == "dark"
        for kind, literal in self.at[job.number][job.stay_of[step]].items():
            seconds = job.seconds[step][kind] if inside else 0
            dark = job.steps[step].light == "dark"
            glow_s = self.work.problem.afterglow_s(self.work.kinds[kind].light_zone) if dark else 0
            spans = [
                [-(-(opens + glow_s) // self.tick), (closes - seconds) // self.tick]
                for opens, closes in self.work.problem.periods
                if closes - seconds >= opens + glow_s
            ]
            domain = cp_model.Domain.from_intervals([span for span in spans if span[0] <= span[1]])
            rule = self.model.add_linear_expression_in_domain(self.start[job.number][step], domain)
            conditions = [literal] if literal is not None else [here] if here is not None else []
            if conditions:
                rule.only_enforce_if(conditions)

    def _keep_dark_together(self, job: Job) -> None:
        dark = [step for step, one in enumerate(job.steps) if one.light == "dark"]
        periods = self.work.problem.periods
        if len(periods) == 1 or len(dark) <= 1:
            return
        here = self.here[job.number]
        chosen = [self.model.new_bool_var(f"dark {job.number} {number}") for number in range(len(periods))]
        self.in_period.update({(job.number, number): literal for number, literal in enumerate(chosen)})
        if here is None:
            self.model.add_exactly_one(chosen)
        else:
            self.model.add(sum(chosen) == here)
        for literal, (opens, closes) in zip(chosen, periods, strict=True):
            self.model.add(self.start[job.number][dark[0]] >= -(-opens // self.tick)).only_enforce_if(literal)
            self.model.add(self.end[job.number][dark[-1]] <= closes // self.tick).only_enforce_if(literal)

    def interval(
        self, start: Expr, end: Expr, size: int | None, literal: Bool | None, name: str
    ) -> cp_model.IntervalVar:
        """Return the interval between two moments, ``size`` ticks long if that is known."""
        model = self.model
        if size is not None:
            if literal is None:
                return model.new_fixed_size_interval_var(start, size, name)
            return model.new_optional_fixed_size_interval_var(start, size, literal, name)
        length = model.new_int_var(0, self.latest, f"length {name}")
        if literal is None:
            return model.new_interval_var(start, length, end, name)
        return model.new_optional_interval_var(start, length, end, literal, name)

    def size(self, job: Job, first: int, last: int, kind: int | None = None) -> int | None:
        """Return the ticks from the start of one step to the end of another if they cannot vary."""
        seconds = 0
        for step in range(first, last + 1):
            timed = job.seconds[step]
            lengths = set(timed.values()) if kind is None or kind not in timed else {timed[kind]}
            if len(lengths) > 1 or (step < last and job.steps[step].max_wait_s != 0):
                return None
            seconds += lengths.pop()
        return seconds // self.tick

    def _add_places(self) -> None:
        spans: dict[int, list[cp_model.IntervalVar]] = defaultdict(list)
        for job in self.work.jobs:
            for index, stay in enumerate(job.stays):
                for kind, literal in self.at[job.number][index].items():
                    spans[kind].append(
                        self.interval(
                            self.start[job.number][stay.first],
                            self.end[job.number][stay.last],
                            self.size(job, stay.first, stay.last, kind),
                            literal,
                            f"stay {job.number} {index} {kind}",
                        )
                    )
        for kind, intervals in spans.items():
            capacity = self.work.kinds[kind].capacity
            closed = self._closed(kind)
            if capacity == 1:
                self.model.add_no_overlap([*intervals, *closed])
            elif capacity < len(intervals) or closed:
                demands = [1] * len(intervals) + [capacity] * len(closed)
                self.model.add_cumulative([*intervals, *closed], demands, capacity)

    def _closed(self, kind: int) -> list[cp_model.IntervalVar]:
        """Return the intervals in which a kind of place is as if it were full."""
        found: list[cp_model.IntervalVar] = []
        for shut, opens in self.work.kinds[kind].closed:
            start, end = shut // self.tick, -(-opens // self.tick)
            name = f"closed {kind} {shut}"
            found.append(self.model.new_fixed_size_interval_var(start, end - start, name))
        return found

    def _add_charges(self) -> None:
        """Serve every plate where there are charges by one of them, and by each no more than it can."""
        served: dict[tuple[int, int], list[Bool | int]] = defaultdict(list)
        chosen: dict[tuple[int, int, int], list[Bool | int]] = {}
        for job in self.work.jobs:
            for index in range(len(job.stays)):
                for kind, literal in self.at[job.number][index].items():
                    literals = self._charges_of(job, index, kind, literal)
                    chosen[job.number, index, kind] = literals
                    for number, one in enumerate(literals):
                        served[kind, number].append(one)
        for (kind, number), literals in served.items():
            most = self.work.kinds[kind].charges[number].plates
            if most is not None and most < len(literals):
                self.model.add(cp_model.LinearExpr.sum(literals) <= most)

    def _charges_of(self, job: Job, index: int, kind: int, literal: Bool | None) -> list[Bool | int]:
        """Return for each charge at a kind of place whether it serves a stay; one does if the stay is there."""
        charges, stay = self.work.kinds[kind].charges, job.stays[index]
        if not charges:
            return []
        start, end = self.start[job.number][stay.first], self.end[job.number][stay.last]
        found = [
            self.model.new_bool_var(f"charge {number} of {job.number} {index} {kind}")
            for number in range(len(charges))
        ]
        self.model.add(cp_model.LinearExpr.sum(found) == (1 if literal is None else literal))
        for one, charge in zip(found, charges, strict=True):
            self.model.add(start >= -(-charge.from_s // self.tick)).only_enforce_if(one)
            self.model.add(end <= charge.until_s // self.tick).only_enforce_if(one)
        return list(found)

    def _release(self, job: Job) -> Expr:
        last = job.last_attended
        return self.start[job.number][0] if last is None else self.end[job.number][last]

    def _add_groups(self) -> None:
        for number, group in enumerate(self.work.problem.groups):
            jobs = [self.work.passes[number, pass_no] for pass_no in range(1, group.passes + 1)]
            if group.any_order and not self._alike(jobs):
                self.model.add_no_overlap(
                    self.interval(
                        self.start[job.number][0],
                        self._release(job),
                        0 if job.last_attended is None else self.size(job, 0, job.last_attended),
                        self.here[job.number],
                        f"group {job.number}",
                    )
                    for job in jobs
                )
                continue
            for before, after in pairwise(jobs):
                here = self.here[after.number]
                rule = self.model.add(self.start[after.number][0] >= self._release(before))
                if here is not None:
                    rule.only_enforce_if(here)
                    earlier = self.here[before.number]
                    if earlier is not None:
                        self.model.add_implication(here, earlier)

    def _add_reserve(self) -> None:
        """Let no pass that is kept for repeats begin before the others have left their first places."""
        if not self.work.held_back or len(self.work.reserve) == len(self.work.jobs):
            return
        left = self.model.new_int_var(0, self.latest, "first places left")
        for job in self.work.jobs:
            if job.number not in self.work.reserve:
                self._after(job.number, left, self.end[job.number][job.stays[0].last])
        for number in self.work.held_back:
            self._after(number, self.start[number][0], left)

    def _alike(self, jobs: Sequence[Job]) -> bool:
        return len({job.steps for job in jobs}) == 1 and not any(job.pins for job in jobs)

    def _add_sequences(self) -> None:
        """Let passes and groups that nothing tells apart come in order: the search is shorter and loses no plan."""
        jobs = self.work.jobs
        for line in self.work.sequences:
            for one, other in pairwise(line):
                for block in jobs[one].blocks:
                    self._after(other, self.start[other][block.first], self.start[one][block.first])
                here, earlier = self.here[other], self.here[one]
                if here is not None and earlier is not None:
                    self.model.add_implication(here, earlier)
            for stay in jobs[line[0]].stays:
                capacity = self.work.kinds[stay.kinds[0]].capacity
                for one, other in zip(line, line[capacity:], strict=False):
                    self._after(other, self.start[other][stay.first], self.end[one][stay.last])
        in_line = {number for line in self.work.sequences for number in line}
        for family in self.work.families:
            firsts = [self.work.passes[group, 1].number for group in family]
            if not self.optional and firsts[0] not in in_line:
                for one, other in pairwise(firsts):
                    self._after(other, self.start[other][0], self.start[one][0])

    def _after(self, job: int, moment: Expr, earlier: Expr) -> None:
        """Put a moment at or after an earlier one if a job, which one of them belongs to, is there at all."""
        rule = self.model.add(moment >= earlier)
        here = self.here[job]
        if here is not None:
            rule.only_enforce_if(here)
