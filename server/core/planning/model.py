"""The class as a constraint model. Imports the solver, so it is itself imported only when a plan is asked for."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import pairwise
from math import gcd
from typing import TypeAlias

from ortools.sat.python import cp_model

from server.core.planning.work import Job, Placed, Schedule, Work

Bool: TypeAlias = cp_model.IntVar
Expr: TypeAlias = cp_model.LinearExprT


@dataclass(frozen=True)
class Demand:
    """Steps ``first`` to ``last`` of a job that hold a zone in one state, if all of ``when`` are true."""

    job: int
    first: int
    last: int
    when: tuple[Bool, ...]


@dataclass(frozen=True)
class Order:
    """A literal: the first demand, which is dark or still, ends before the second one starts, else after it."""

    one: Demand
    other: Demand
    literal: Bool


class ClassModel:
    """The constraint model of one class; ``horizon_s`` is a finish no better plan needs to exceed.

    With ``optional`` a pass may be left out; without it every pass must be placed.
    """

    def __init__(self, work: Work, *, horizon_s: int, optional: bool) -> None:
        """Build every variable and rule."""
        self.work = work
        self.optional = optional
        self.tick = tick_of(work)
        self.horizon = horizon_s // self.tick
        self.model = cp_model.CpModel()
        longest = max(sum(max(seconds.values()) for seconds in job.seconds) for job in work.jobs)
        self.latest = self.horizon + (longest // self.tick if optional else 0)
        self.makespan = self.model.new_int_var(0, self.horizon, "makespan")
        self.free: list[tuple[cp_model.IntVar, int, int, bool]] = []
        self.here: list[Bool | None] = []
        self.at: list[list[dict[int, Bool | None]]] = []
        self.start: list[list[Expr]] = []
        self.end: list[list[Expr]] = []
        self.orders: list[Order] = []
        self.in_period: dict[tuple[int, int], Bool] = {}
        self._rank = {number: (which, place) for which, line in enumerate(work.sequences) for place, number in enumerate(line)}
        self._known: dict[tuple[int, int, int, int], Bool] = {}
        for job in work.jobs:
            self._add_job(job)
        self._add_places()
        self._add_groups()
        self._add_sequences()
        self.zones = self._zones()
        for zone, (dark, lit) in self.zones.items():
            self._add_orders(dark, lit)
            if zone[0] == "light":
                self._add_shared_machines(dark, lit)

    # One pass.

    def _add_job(self, job: Job) -> None:
        model = self.model
        here = model.new_bool_var(f"here {job.number}") if self.optional and not job.pins else None
        self.here.append(here)
        at: list[dict[int, Bool | None]] = []
        for index, stay in enumerate(job.stays):
            if len(stay.kinds) == 1:
                at.append({stay.kinds[0]: here})
                continue
            chosen = {kind: model.new_bool_var(f"at {job.number} {index} {kind}") for kind in stay.kinds}
            if here is None:
                model.add_exactly_one(chosen.values())
            else:
                model.add(sum(chosen.values()) == here)
            at.append(dict(chosen))
        self.at.append(at)
        starts: list[Expr] = []
        ends: list[Expr] = []
        self.start.append(starts)
        self.end.append(ends)
        for block in job.blocks:
            for step in range(block.first, block.last + 1):
                kinds = at[job.stay_of[step]]
                fixed_length = len({job.seconds[step][kind] for kind in kinds}) == 1
                if step > block.first and self._fixed_length(job, step - 1):
                    starts.append(ends[step - 1])
                else:
                    start = model.new_int_var(0, self.latest, f"start {job.number} {step}")
                    self.free.append((start, job.number, step, False))
                    starts.append(start)
                    if step > block.first:
                        model.add(starts[step] == ends[step - 1])
                if fixed_length:
                    ends.append(starts[step] + job.shortest(step) // self.tick)
                else:
                    length = sum(
                        job.seconds[step][kind] // self.tick * literal
                        for kind, literal in kinds.items()
                        if literal is not None
                    )
                    end = model.new_int_var(0, self.latest, f"end {job.number} {step}")
                    self.free.append((end, job.number, step, True))
                    model.add(end == starts[step] + length)
                    ends.append(end)
                self._add_window(job, step)
            if block.first:
                model.add(starts[block.first] >= ends[block.first - 1])
                longest = job.blocks[job.blocks.index(block) - 1].max_wait_s
                if longest is not None and longest < self.horizon * self.tick:
                    model.add(starts[block.first] <= ends[block.first - 1] + longest // self.tick)
        finish = model.add(self.makespan >= ends[-1])
        if here is not None:
            finish.only_enforce_if(here)
        self._keep_dark_together(job)

    def _fixed_length(self, job: Job, step: int) -> bool:
        return len(set(job.seconds[step].values())) == 1

    def _add_window(self, job: Job, step: int) -> None:
        """Keep a step inside the periods, and a fixed one at its start."""
        here = self.here[job.number]
        if step in job.pins:
            self.model.add(self.start[job.number][step] == job.pins[step].start_s // self.tick)
        inside = job.steps[step].attended or job.steps[step].light == "dark"
        for kind, literal in self.at[job.number][job.stay_of[step]].items():
            seconds = job.seconds[step][kind] if inside else 0
            spans = [
                [-(-opens // self.tick), (closes - seconds) // self.tick]
                for opens, closes in self.work.problem.periods
                if closes - seconds >= opens
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

    # Places and groups.

    def _interval(self, start: Expr, end: Expr, size: int | None, literal: Bool | None, name: str) -> cp_model.IntervalVar:
        model = self.model
        if size is not None:
            if literal is None:
                return model.new_fixed_size_interval_var(start, size, name)
            return model.new_optional_fixed_size_interval_var(start, size, literal, name)
        length = model.new_int_var(0, self.latest, f"length {name}")
        if literal is None:
            return model.new_interval_var(start, length, end, name)
        return model.new_optional_interval_var(start, length, end, literal, name)

    def _size(self, job: Job, first: int, last: int, kind: int | None = None) -> int | None:
        """Return the ticks from the start of one step to the end of another if they cannot vary."""
        seconds = 0
        for step in range(first, last + 1):
            lengths = {job.seconds[step][kind]} if kind in job.seconds[step] else set(job.seconds[step].values())
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
                        self._interval(
                            self.start[job.number][stay.first],
                            self.end[job.number][stay.last],
                            self._size(job, stay.first, stay.last, kind),
                            literal,
                            f"stay {job.number} {index} {kind}",
                        )
                    )
        for kind, intervals in spans.items():
            capacity = self.work.kinds[kind].capacity
            if capacity == 1:
                self.model.add_no_overlap(intervals)
            elif capacity < len(intervals):
                self.model.add_cumulative(intervals, [1] * len(intervals), capacity)

    def _release(self, job: Job) -> Expr:
        last = job.last_attended
        return self.start[job.number][0] if last is None else self.end[job.number][last]

    def _add_groups(self) -> None:
        for number, group in enumerate(self.work.problem.groups):
            jobs = [self.work.passes[number, pass_no] for pass_no in range(1, group.passes + 1)]
            if group.any_order and not self._alike(jobs):
                self.model.add_no_overlap(
                    self._interval(
                        self.start[job.number][0],
                        self._release(job),
                        0 if job.last_attended is None else self._size(job, 0, job.last_attended),
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

    def _alike(self, jobs: Sequence[Job]) -> bool:
        return len({job.steps for job in jobs}) == 1 and not any(job.pins for job in jobs)

    # What makes the search short without losing a plan.

    def _add_sequences(self) -> None:
        for line in self.work.sequences:
            for one, other in pairwise(line):
                here, earlier = self.here[other], self.here[one]
                for block in self.work.jobs[one].blocks:
                    rule = self.model.add(self.start[other][block.first] >= self.start[one][block.first])
                    if here is not None:
                        rule.only_enforce_if(here)
                if here is not None and earlier is not None:
                    self.model.add_implication(here, earlier)
            for index, stay in enumerate(self.work.jobs[line[0]].stays) if line else ():
                capacity = self.work.kinds[stay.kinds[0]].capacity
                for one, other in zip(line, line[capacity:], strict=False):
                    here = self.here[other]
                    rule = self.model.add(
                        self.start[other][self.work.jobs[other].stays[index].first] >= self.end[one][stay.last]
                    )
                    if here is not None:
                        rule.only_enforce_if(here)
        in_line = set(self._rank)
        for family in self.work.families:
            jobs = [self.work.passes[group, 1] for group in family]
            if self.optional or any(job.number in in_line for job in jobs):
                continue
            for one, other in pairwise(jobs):
                self.model.add(self.start[other.number][0] >= self.start[one.number][0])

    def _zones(self) -> Mapping[tuple[str, str], tuple[list[Demand], list[Demand]]]:
        """Return for each light and still zone its dark (or still) and its lit (or moving) demands."""
        zones: dict[tuple[str, str], tuple[list[Demand], list[Demand]]] = defaultdict(lambda: ([], []))
        for job in self.work.jobs:
            for sort, states in (("light", ("dark", "lit")), ("still", ("still", "moves"))):
                for side, state in enumerate(states):
                    for demand, zone in self._demands_of(job, sort, state):
                        zones[sort, zone][side].append(demand)
        return zones

    def _demands_of(self, job: Job, sort: str, state: str) -> list[tuple[Demand, str]]:
        found: list[tuple[Demand, str]] = []
        for step, one in enumerate(job.steps):
            if (one.light if sort == "light" else one.still) != state:
                continue
            kinds = self.at[job.number][job.stay_of[step]]
            by_zone: dict[str | None, list[Bool]] = defaultdict(list)
            for kind, literal in kinds.items():
                place = self.work.kinds[kind]
                zone = place.light_zone if sort == "light" else place.still_zone
                if literal is not None:
                    by_zone[zone].append(literal)
                else:
                    by_zone[zone] = []
            here = self.here[job.number]
            always = () if here is None else (here,)
            for zone, literals in by_zone.items():
                if zone is None:
                    continue
                if len(by_zone) == 1:
                    demand = Demand(job.number, step, step, always)
                    if found and self._continues(job, found[-1], zone, demand):
                        demand = Demand(job.number, found.pop()[0].first, step, always)
                    found.append((demand, zone))
                else:
                    found.extend((Demand(job.number, step, step, (literal,)), zone) for literal in literals)
        return found

    def _continues(self, job: Job, last: tuple[Demand, str], zone: str, demand: Demand) -> bool:
        joined = job.steps[demand.first - 1].max_wait_s == 0 if demand.first else False
        return joined and last[0].last == demand.first - 1 and last[1] == zone and last[0].when == demand.when

    def _settled(self, one: Demand, other: Demand) -> bool | None:
        """Return the order of two demands that is certain from the sequence they share, None if it is open."""
        if one.job == other.job:
            return one.first < other.first
        mine, theirs = self._rank.get(one.job), self._rank.get(other.job)
        if mine is None or theirs is None or mine[0] != theirs[0]:
            return None
        if mine[1] < theirs[1] and one.last < other.first:
            return True
        if theirs[1] < mine[1] and other.last < one.first:
            return False
        return None

    def _add_orders(self, ones: Sequence[Demand], others: Sequence[Demand]) -> None:
        known: dict[tuple[int, int, int, int], Bool] = {}
        for one in ones:
            for other in others:
                if one.job == other.job:
                    continue
                settled = self._settled(one, other)
                when = [*one.when, *other.when]
                if settled is None:
                    literal = self.model.new_bool_var(f"{one.job} {one.first} before {other.job} {other.first}")
                    self.orders.append(Order(one, other, literal))
                    known[one.job, one.first, other.job, other.first] = literal
                    first = self.model.add(self.end[one.job][one.last] <= self.start[other.job][other.first])
                    first.only_enforce_if([literal, *when])
                    second = self.model.add(self.end[other.job][other.last] <= self.start[one.job][one.first])
                    second.only_enforce_if([literal.negated(), *when])
                    continue
                rule = self.model.add(
                    self.end[one.job][one.last] <= self.start[other.job][other.first]
                    if settled
                    else self.end[other.job][other.last] <= self.start[one.job][one.first]
                )
                if when:
                    rule.only_enforce_if(when)
        self._known.update(known)
        self._add_implied_orders(known)

    def _add_implied_orders(self, known: Mapping[tuple[int, int, int, int], Bool]) -> None:
        """A demand before one of a later pass's is before all that follow it in first-in-first-out order."""
        for (one, first, other, second), literal in known.items():
            following = self._neighbour(other, 1)
            if following is not None and (after := known.get((one, first, following, second))) is not None:
                self._imply(literal, after, [one, other, following])
            earlier = self._neighbour(one, -1)
            if earlier is not None and (before := known.get((earlier, first, other, second))) is not None:
                self._imply(literal, before, [one, other, earlier])

    def _neighbour(self, job: int, step: int) -> int | None:
        if job not in self._rank:
            return None
        which, place = self._rank[job]
        line = self.work.sequences[which]
        return line[place + step] if 0 <= place + step < len(line) else None

    def _imply(self, one: Bool, other: Bool, jobs: Sequence[int]) -> None:
        present = [here for job in jobs if (here := self.here[job]) is not None]
        self.model.add_bool_or([one.negated(), other, *(here.negated() for here in present)])

    def _add_shared_machines(self, dark: Sequence[Demand], lit: Sequence[Demand]) -> None:
        """The dark at one kind of place and the light at another never overlap: together they are one machine."""

        def by_kind(demands: Sequence[Demand]) -> Mapping[int, list[Demand]]:
            sorted_out: dict[int, list[Demand]] = defaultdict(list)
            for demand in demands:
                for step in range(demand.first, demand.last + 1):
                    kinds = self.work.jobs[demand.job].kinds_of(step)
                    if len(kinds) == 1:
                        sorted_out[kinds[0]].append(Demand(demand.job, step, step, demand.when))
            return sorted_out

        bright = by_kind(lit)
        for kind, closed in by_kind(dark).items():
            for other, opened in bright.items():
                weights = self.work.kinds[other].capacity, self.work.kinds[kind].capacity
                intervals = [self._demand_interval(demand) for demand in [*closed, *opened]]
                demands = [weights[0]] * len(closed) + [weights[1]] * len(opened)
                self.model.add_cumulative(intervals, demands, weights[0] * weights[1])

    def _demand_interval(self, demand: Demand) -> cp_model.IntervalVar:
        job = self.work.jobs[demand.job]
        name = f"zone {demand.job} {demand.first}"
        start, end = self.start[demand.job][demand.first], self.end[demand.job][demand.last]
        literal = self.here[demand.job]
        return self._interval(start, end, self._size(job, demand.first, demand.last), literal, name)

    # Later goals.

    def count_dark_windows(self) -> Expr | None:
        """Return the number of times the lights go off in all zones, or None if a demand's zone is open.

        Two dark demands share a window exactly when as many lit demands come before the one as before the other.
        """
        total: list[Bool] = []
        for (sort, _), (dark, lit) in self.zones.items():
            if sort != "light" or not dark or not lit:
                continue
            if any(len(d.when) > 1 or (d.when and d.when[0] is not self.here[d.job]) for d in [*dark, *lit]):
                return None
            total.extend(self._windows_of(dark, lit))
        return sum(total) if total else None

    def _windows_of(self, dark: Sequence[Demand], lit: Sequence[Demand]) -> list[Bool]:
        used = [self.model.new_bool_var(f"window {number}") for number in range(len(lit) + 1)]
        for one in dark:
            before: list[Expr] = []
            constant = 0
            for other in lit:
                literal = self._known.get((one.job, one.first, other.job, other.first))
                here = self.here[other.job]
                if literal is None:
                    if not self._settled(one, other):
                        before.append(1 if here is None else here)
                elif here is None:
                    before.append(1 - literal)
                else:
                    both = self.model.new_bool_var("")
                    self.model.add(both >= here - literal)
                    self.model.add(both <= here)
                    self.model.add(both <= 1 - literal)
                    before.append(both)
            mine = [self.model.new_bool_var("") for _ in used]
            here = self.here[one.job]
            self.model.add_exactly_one(mine if here is None else [*mine, here.negated()])
            for number, (literal, window) in enumerate(zip(mine, used, strict=True)):
                self.model.add_implication(literal, window)
                self.model.add(sum(before) + constant == number).only_enforce_if(literal)
        return used

    def waiting(self) -> tuple[Expr, Expr]:
        """Return the ticks spent waiting inside passes: all groups' together, and the most of any group."""
        most = self.model.new_int_var(0, self.latest * max(1, len(self.work.jobs)), "most waiting")
        total: list[Expr] = []
        for number, group in enumerate(self.work.problem.groups):
            mine: list[Expr] = []
            for pass_no in range(1, group.passes + 1):
                job = self.work.passes[number, pass_no]
                here = self.here[job.number]
                waits: list[Expr] = [
                    self.start[job.number][block.first] - self.end[job.number][block.first - 1]
                    for block in job.blocks[1:]
                ]
                if here is None:
                    mine.extend(waits)
                elif waits:
                    waited = self.model.new_int_var(0, self.latest, f"waited {job.number}")
                    self.model.add(waited >= sum(waits)).only_enforce_if(here)
                    mine.append(waited)
            total.extend(mine)
            self.model.add(most >= sum(mine))
        return sum(total), most


def tick_of(work: Work) -> int:
    """Return the greatest common divisor of every duration, wait, period start and fixed start.

    Period ends need not be multiples: earliest starts are, so an end may be rounded down.
    """
    numbers = [opens for opens, _ in work.problem.periods]
    for job in work.jobs:
        for seconds in job.seconds:
            numbers.extend(seconds.values())
        numbers.extend(pin.start_s for pin in job.pins.values())
        numbers.extend(block.max_wait_s for block in job.blocks[:-1] if block.max_wait_s is not None)
    return reduce(gcd, numbers)


def schedule_from(model: ClassModel, solver: cp_model.CpSolver) -> Schedule:
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
    work, made = model.work, model.model
    made.clear_hints()
    schedule = in_sequence(work, schedule)
    for job in work.jobs:
        here, placed = model.here[job.number], schedule.get(job.number)
        if here is not None:
            made.add_hint(here, placed is not None)
        if placed is None:
            continue
        for at, kind in zip(model.at[job.number], placed.kinds, strict=True):
            if len(at) > 1:
                for offered, literal in at.items():
                    if literal is not None:
                        made.add_hint(literal, offered == kind)
    for variable, number, step, at_end in model.free:
        placed = schedule.get(number)
        if placed is not None:
            moment = work.ends(work.jobs[number], placed)[step] if at_end else placed.starts[step]
            made.add_hint(variable, moment // model.tick)
    for order in model.orders:
        one, other = schedule.get(order.one.job), schedule.get(order.other.job)
        if one is not None and other is not None:
            made.add_hint(order.literal, one.starts[order.one.first] < other.starts[order.other.first])
    for (number, period), literal in model.in_period.items():
        placed = schedule.get(number)
        if placed is not None:
            job = work.jobs[number]
            dark = next(step for step, one in enumerate(job.steps) if one.light == "dark")
            opens, closes = work.problem.periods[period]
            made.add_hint(literal, opens <= placed.starts[dark] < closes)
    made.add_hint(model.makespan, work.finish(schedule) // model.tick)


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
