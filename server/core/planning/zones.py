"""Light and stillness in the constraint model: what is dark or still never overlaps what is lit or moves.

For every such pair one literal says which of the two is first. Passes that nothing tells apart come first in, first
out, so one literal implies those of the passes behind it: that is what makes classes solvable.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from server.core.planning.frame import Bool, Expr, Frame
from server.core.planning.work import Job

Key = tuple[int, int, int, int]


@dataclass(frozen=True)
class Demand:
    """Steps ``first`` to ``last`` of a job that hold a zone in one state, if all of ``when`` are true."""

    job: int
    first: int
    last: int
    when: tuple[Bool, ...]


@dataclass(frozen=True)
class Order:
    """A literal: the one demand, dark or still, ends before the other starts; else it starts after the other ends."""

    one: Demand
    other: Demand
    literal: Bool


class Zones:
    """The zones of a frame and the order literals between their demands."""

    def __init__(self, frame: Frame) -> None:
        """Add every zone's rules to the frame's model."""
        self.frame = frame
        self.model = frame.model
        self.orders: list[Order] = []
        self._literals: dict[Key, Bool] = {}
        self._rank = {
            number: (line, place)
            for line, members in enumerate(frame.work.sequences)
            for place, number in enumerate(members)
        }
        self._light = self._demands("light", ("dark", "lit"))
        still = self._demands("still", ("still", "moves"))
        for zone, (dark, lit) in self._light.items():
            glow = frame.work.problem.afterglow_s(zone) // frame.tick
            self._add_orders(dark, lit, glow)
            self._add_own_afterglow(dark, lit, glow)
        for resting, moving in still.values():
            self._add_orders(resting, moving, 0)
        for dark, lit in self._light.values():
            self._add_shared_machines(dark, lit)

    def _demands(self, sort: str, states: tuple[str, str]) -> Mapping[str, tuple[list[Demand], list[Demand]]]:
        """Return for each zone its dark (or still) and its lit (or moving) demands."""
        zones: dict[str, tuple[list[Demand], list[Demand]]] = defaultdict(lambda: ([], []))
        for job in self.frame.work.jobs:
            for side, state in enumerate(states):
                for demand, zone in self._demands_of(job, sort, state):
                    zones[zone][side].append(demand)
        return zones

    def _demands_of(self, job: Job, sort: str, state: str) -> list[tuple[Demand, str]]:
        found: list[tuple[Demand, str]] = []
        for step, one in enumerate(job.steps):
            if (one.light if sort == "light" else one.still) != state:
                continue
            kinds = self.frame.at[job.number][job.stay_of[step]]
            by_zone: dict[str | None, list[Bool]] = defaultdict(list)
            for kind, literal in kinds.items():
                place = self.frame.work.kinds[kind]
                zone = place.light_zone if sort == "light" else place.still_zone
                if literal is not None:
                    by_zone[zone].append(literal)
                else:
                    by_zone[zone] = []
            here = self.frame.here[job.number]
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

    def _add_own_afterglow(self, dark: Sequence[Demand], lit: Sequence[Demand], glow: int) -> None:
        """Let a pass wait for the glow of its own lights to fade before it goes on in the dark."""
        for one in dark if glow else ():
            for other in lit:
                if one.job == other.job and other.last < one.first:
                    end, start = self.frame.end[other.job][other.last], self.frame.start[one.job][one.first]
                    rule = self.model.add(start >= end + glow)
                    when = [*one.when, *other.when]
                    if when:
                        rule.only_enforce_if(when)

    def _add_orders(self, ones: Sequence[Demand], others: Sequence[Demand], glow: int) -> None:
        """Put every two opposite demands of a zone apart, so many ticks where the one follows the other."""
        known: dict[Key, Bool] = {}
        for one in ones:
            for other in others:
                if one.job == other.job:
                    continue
                settled = self._settled(one, other)
                when = [*one.when, *other.when]
                if settled is None:
                    literal = self.model.new_bool_var(
                        f"{one.job} {one.first} before {other.job} {other.first}"
                    )
                    self.orders.append(Order(one, other, literal))
                    known[one.job, one.first, other.job, other.first] = literal
                    first = self.model.add(
                        self.frame.end[one.job][one.last] <= self.frame.start[other.job][other.first]
                    )
                    first.only_enforce_if([literal, *when])
                    second = self.model.add(
                        self.frame.end[other.job][other.last] + glow <= self.frame.start[one.job][one.first]
                    )
                    second.only_enforce_if([literal.negated(), *when])
                    continue
                rule = self.model.add(
                    self.frame.end[one.job][one.last] <= self.frame.start[other.job][other.first]
                    if settled
                    else self.frame.end[other.job][other.last] + glow <= self.frame.start[one.job][one.first]
                )
                if when:
                    rule.only_enforce_if(when)
        self._literals.update(known)
        self._add_implied_orders(known)

    def _add_implied_orders(self, known: Mapping[Key, Bool]) -> None:
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
        line = self.frame.work.sequences[which]
        return line[place + step] if 0 <= place + step < len(line) else None

    def _imply(self, one: Bool, other: Bool, jobs: Sequence[int]) -> None:
        present = [here for job in jobs if (here := self.frame.here[job]) is not None]
        self.model.add_bool_or([one.negated(), other, *(here.negated() for here in present)])

    def _add_shared_machines(self, dark: Sequence[Demand], lit: Sequence[Demand]) -> None:
        """The dark at one kind of place and the light at another never overlap: together they are one machine."""

        def by_kind(demands: Sequence[Demand]) -> Mapping[int, list[Demand]]:
            sorted_out: dict[int, list[Demand]] = defaultdict(list)
            for demand in demands:
                for step in range(demand.first, demand.last + 1):
                    kinds = self.frame.work.jobs[demand.job].kinds_of(step)
                    if len(kinds) == 1:
                        sorted_out[kinds[0]].append(Demand(demand.job, step, step, demand.when))
            return sorted_out

        bright = by_kind(lit)
        for kind, closed in by_kind(dark).items():
            for other, opened in bright.items():
                weights = self.frame.work.kinds[other].capacity, self.frame.work.kinds[kind].capacity
                intervals = [self._demand_interval(demand) for demand in [*closed, *opened]]
                demands = [weights[0]] * len(closed) + [weights[1]] * len(opened)
                self.model.add_cumulative(intervals, demands, weights[0] * weights[1])

    def _demand_interval(self, demand: Demand) -> cp_model.IntervalVar:
        job = self.frame.work.jobs[demand.job]
        name = f"zone {demand.job} {demand.first}"
        start, end = self.frame.start[demand.job][demand.first], self.frame.end[demand.job][demand.last]
        literal = self.frame.here[demand.job]
        return self.frame.interval(start, end, self.frame.size(job, demand.first, demand.last), literal, name)

    def count_dark_windows(self) -> Expr | None:
        """Return the number of times the lights go off in all zones, or None if a demand's zone is open.

        Two dark demands share a window exactly when as many lit demands come before the one as before the other.
        """
        total: list[Bool] = []
        for dark, lit in self._light.values():
            if not dark or not lit:
                continue
            if any(
                len(d.when) > 1 or (d.when and d.when[0] is not self.frame.here[d.job]) for d in [*dark, *lit]
            ):
                return None
            total.extend(self._windows_of(dark, lit))
        return cp_model.LinearExpr.sum(total) if total else None

    def _windows_of(self, dark: Sequence[Demand], lit: Sequence[Demand]) -> list[Bool]:
        used = [self.model.new_bool_var(f"window {number}") for number in range(len(lit) + 1)]
        for one in dark:
            before, certain = self._lit_before(one, lit)
            rank = self.model.new_int_var(0, len(lit), f"lit before {one.job} {one.first}")
            self.model.add(rank == cp_model.LinearExpr.sum(before) + certain)
            mine = [
                self.model.new_bool_var(f"window {number} of {one.job} {one.first}")
                for number in range(len(used))
            ]
            here = self.frame.here[one.job]
            self.model.add_exactly_one(mine if here is None else [*mine, here.negated()])
            for number, (literal, window) in enumerate(zip(mine, used, strict=True)):
                self.model.add_implication(literal, window)
                self.model.add(rank == number).only_enforce_if(literal)
        return used

    def _lit_before(self, one: Demand, lit: Sequence[Demand]) -> tuple[list[Expr], int]:
        """Return literals, one for each lit demand that may come before a dark one, and how many certainly do."""
        before: list[Expr] = []
        certain = 0
        for other in lit:
            literal = self._literals.get((one.job, one.first, other.job, other.first))
            here = self.frame.here[other.job]
            if literal is None and self._settled(one, other):
                continue
            if here is None:
                certain += 1
                if literal is not None:
                    before.append(-literal)
            elif literal is None:
                before.append(here)
            else:
                both = self.model.new_bool_var(f"lit {other.job} {other.first} before {one.job} {one.first}")
                self.model.add_bool_and(here, literal.negated()).only_enforce_if(both)
                self.model.add_bool_or(both, here.negated(), literal)
                before.append(both)
        return before, certain
