"""A bound on the finish from counting plates in the lit and dark phases of a zone.

Imports the solver, so it is itself imported only when a plan is asked for.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from ortools.sat.python import cp_model

from server.core.planning.frame import Expr
from server.core.planning.phases import Bottleneck, Plates, bottlenecks, way_in_s, way_out_s
from server.core.planning.problem import Light
from server.core.planning.work import Work, tick_of

# How many phases from the opening, and from the finish, what has happened before or comes after is looked at.
EDGE = 3
LIGHTS: tuple[Light, Light] = ("lit", "dark")


@dataclass(frozen=True)
class _Window:
    """From the begin of phase ``first`` to the end of phase ``last``; from the opening or to the finish without one."""

    first: int | None
    last: int | None


class PhaseCounting:
    """Every plan with ``phases`` phases, as counts of plates: its least makespan is theirs at the least.

    Phases are lit (even numbers) and dark (odd ones) in turn, each from the start of the first thing done in it to the end
    of the last. Only the first may be empty: then the plan begins in the dark. ``done`` counts for each kind of passes and
    each of their spells how many have been done by the end of each phase.
    """

    def __init__(self, work: Work, plates: Sequence[Plates], *, horizon_s: int, phases: int) -> None:
        """Build the counts and the lengths they ask for, for plans that end by ``horizon_s``."""
        self.work = work
        self.plates = plates
        self.tick = tick_of(work)
        self.model = cp_model.CpModel()
        self.phases = range(phases)
        self.opens = work.problem.periods[0][0] // self.tick
        self.latest = horizon_s // self.tick
        self.shortest = tuple(shortest_s // self.tick for shortest_s in shortest_phases(plates))
        self.begin = [self._moment(f"begin {phase}") for phase in self.phases]
        self.end = [self._moment(f"end {phase}") for phase in self.phases]
        self.makespan = self._moment("makespan")
        self.done = [self._counted(one) for one in plates]
        self._add_order()
        self._add_turns()
        self._add_kept_places()
        self._add_windows()
        self.model.minimize(self.makespan)

    def _moment(self, name: str) -> cp_model.IntVar:
        return self.model.new_int_var(self.opens, max(self.opens, self.latest), name)

    def _counted(self, plates: Plates) -> list[list[Expr]]:
        found: list[list[Expr]] = []
        for number, spell in enumerate(plates.spells):
            mine: list[Expr] = []
            before: Expr = cp_model.LinearExpr.constant(0)
            for phase in self.phases:
                if LIGHTS[phase % 2] == spell.light:
                    done = self.model.new_int_var(
                        0, plates.count, f"done {plates.job.number} {number} {phase}"
                    )
                    self.model.add(done >= before)
                    before = done
                mine.append(before)
            self.model.add(mine[-1] >= plates.count)
            found.append(mine)
        return found

    def _by(self, done: Sequence[Expr], phase: int) -> Expr:
        """Return what is done by the end of a phase as an expression, even before the first one."""
        return done[phase] if phase >= 0 else cp_model.LinearExpr.constant(0)

    def _add_order(self) -> None:
        for phase in self.phases:
            self.model.add(self.end[phase] - self.begin[phase] >= self._least(phase, phase))
        for before, after in pairwise(self.phases):
            self.model.add(self.end[before] <= self.begin[after])
            self.model.add(
                cp_model.LinearExpr.sum([done[after] for each in self.done for done in each])
                > cp_model.LinearExpr.sum([done[before] for each in self.done for done in each])
            )
        self.model.add(self.end[-1] <= self.makespan)
        if len(self.phases) > 1:
            way_in = way_in_s(self.plates, LIGHTS[1]) // self.tick
            way_out = way_out_s(self.plates, LIGHTS[len(self.phases) % 2]) // self.tick
            self.model.add(self.begin[1] >= self.opens + way_in)
            self.model.add(self.makespan >= self.end[-2] + way_out)

    def _least(self, first: int, last: int) -> int:
        """Return the fewest ticks from the begin of one phase to the end of another."""
        return sum(self.shortest[phase % 2] for phase in range(max(first, 1), last + 1))

    def _add_turns(self) -> None:
        """A plate's spells come in their order, and a group's next plate after all it had to be there for."""
        for each in self.done:
            for before, after in pairwise(each):
                self._never_ahead(after, before)
        for one, two in self._next_passes():
            attended = self._attended(one)
            if attended:
                self._never_ahead(self.done[two][0], self.done[one][attended[-1]])

    def _never_ahead(self, after: Sequence[Expr], before: Sequence[Expr]) -> None:
        for phase in self.phases:
            self.model.add(self._by(after, phase) <= self._by(before, phase))

    def _next_passes(self) -> Iterator[tuple[int, int]]:
        """Yield the passes, by their place in the list, that a group makes one straight after the other."""
        for one, plates in enumerate(self.plates):
            for two, other in enumerate(self.plates):
                follows = other.family == plates.family and other.job.pass_no == plates.job.pass_no + 1
                if follows and not self.work.problem.groups[plates.job.group].any_order:
                    yield one, two

    def _attended(self, number: int) -> list[int]:
        """Return the spells after which the group is still needed, or that it is needed for."""
        plates = self.plates[number]
        attended = -1 if plates.job.last_attended is None else plates.job.last_attended
        return [spell for spell, one in enumerate(plates.spells) if one.last <= attended]

    def _add_kept_places(self) -> None:
        """A place kept from one phase into the next holds no more plates than it takes."""
        for kinds in sorted({kept.kinds for plates in self.plates for kept in plates.kept}, key=sorted):
            room = sum(self.work.kinds[kind].capacity for kind in kinds)
            kept_there = [
                (done[kept.first], done[kept.last])
                for plates, done in zip(self.plates, self.done, strict=True)
                for kept in plates.kept
                if kept.kinds <= kinds
            ]
            for phase in self.phases:
                held = [self._by(first, phase) - self._by(last, phase) for first, last in kept_there]
                self.model.add(cp_model.LinearExpr.sum(held) <= room)

    def _add_windows(self) -> None:
        """Whatever begins in one phase and ends in another needs its time between them."""
        patterns: dict[object, list[int]] = defaultdict(list)
        for number, plates in enumerate(self.plates):
            patterns[plates.pattern].append(number)
        for alike in patterns.values():
            self._add_windows_of(alike)
            equals: dict[object, list[int]] = defaultdict(list)
            for number in alike:
                equals[self.plates[number].lengths].append(number)
            if len(equals) > 1:
                for equal in equals.values():
                    self._add_windows_of(equal)
        following = dict(self._next_passes())
        for one, two in following.items():
            self._add_windows_between(one, two)
        for one in set(following) - set(following.values()):
            self._add_windows_along(one, following)

    def _add_windows_of(self, alike: Sequence[int]) -> None:
        plates = [self.plates[number] for number in alike]
        spells, final = plates[0].spells, len(plates[0].job.steps) - 1
        total = sum(one.count for one in plates)

        def done(spell: int, phase: int) -> Expr:
            return cp_model.LinearExpr.sum([self._by(self.done[number][spell], phase) for number in alike])

        for one, first in enumerate(spells):
            onward = bottlenecks(self.work, plates, first.first, final)
            so_far = bottlenecks(self.work, plates, 0, first.last)
            for phase in self._lit_as(first.light):
                if phase >= len(self.phases) - EDGE:
                    self._need(_Window(phase, None), total - done(one, phase - 1), total, onward)
                if phase < EDGE:
                    self._need(_Window(None, phase), done(one, phase), total, so_far)
            for two in range(one, len(spells)):
                limits = bottlenecks(self.work, plates, first.first, spells[two].last)
                for window in self._windows(first.light, spells[two].light):
                    most = min(total, plates[0].most_at_once(self.work, one)) if one == two else total
                    assert window.first is not None
                    assert window.last is not None
                    count = done(two, window.last) - done(one, window.first - 1)
                    self._need(window, count, most, limits)

    def _add_windows_between(self, one: int, two: int) -> None:
        before, after = self.plates[one], self.plates[two]
        last_attended = before.job.last_attended
        if last_attended is None:
            return
        for mine in self._attended(one):
            for theirs, spell in enumerate(after.spells):
                taken_s = before.seconds(before.spells[mine].first, last_attended) + after.seconds(
                    0, spell.last
                )
                for window in self._windows(before.spells[mine].light, spell.light):
                    assert window.first is not None
                    assert window.last is not None
                    count = self._by(self.done[two][theirs], window.last) - self._by(
                        self.done[one][mine], window.first - 1
                    )
                    self._need(window, count, after.count, [Bottleneck(0, taken_s, 0, after.count)])

    def _add_windows_along(self, one: int, following: Mapping[int, int]) -> None:
        """What a group has done before a phase, and has still to do after it, takes it some time."""
        line = [one]
        while line[-1] in following:
            line.append(following[line[-1]])
        present = [
            self.plates[number].seconds(0, -1 if last is None else last)
            for number in line
            for last in [self.plates[number].job.last_attended]
        ]
        for place, number in enumerate(line):
            plates = self.plates[number]
            ends = [
                sum(present[place + 1 : other]) + self.plates[line[other]].whole_s
                for other in range(place + 1, len(line))
            ]
            for spell in self._attended(number):
                first, last = plates.spells[spell].first, plates.spells[spell].last
                left_s = plates.seconds(first, plates.job.last_attended or 0) + max(ends, default=0)
                past_s = sum(present[:place]) + plates.seconds(0, last)
                onward, so_far = (Bottleneck(0, s, 0, plates.count) for s in (left_s, past_s))
                for phase in self._lit_as(plates.spells[spell].light):
                    if ends:
                        left = plates.count - self._by(self.done[number][spell], phase - 1)
                        self._need(_Window(phase, None), left, plates.count, [onward])
                    if place:
                        done = self._by(self.done[number][spell], phase)
                        self._need(_Window(None, phase), done, plates.count, [so_far])

    def _lit_as(self, light: Light) -> Sequence[int]:
        return self.phases[LIGHTS.index(light) :: 2]

    def _windows(self, first: Light, last: Light) -> Iterator[_Window]:
        """Yield one phase, or two that follow: longer windows ask for little more than their phases do."""
        for phase in self._lit_as(first):
            end = phase if first == last else phase + 1
            if end < len(self.phases):
                yield _Window(phase, end)

    def _need(self, window: _Window, count: Expr, most: int, limits: Iterable[Bottleneck]) -> None:
        """Make a window long enough for so many plates, ``most`` at the most.

        Each limit asks for its whole length from the first plate on, and for one more turn at its places whenever
        they have been filled.
        """
        last = len(self.phases) - 1 if window.last is None else window.last
        base = self._least(window.first or 0, last)
        end = self.makespan if window.last is None else self.end[window.last]
        begin = self.opens if window.first is None else self.begin[window.first]
        tight = [limit for limit in limits if limit.seconds_for(most) > base * self.tick]
        if not tight:
            return
        some = self.model.new_bool_var("some")
        self.model.add(count <= most * some)
        more: dict[int, Expr] = {}
        for limit in tight:
            if limit.capacity not in more:
                turns = -(-most // limit.capacity) - 1
                more[limit.capacity] = extra = self.model.new_int_var(0, turns, "more turns")
                self.model.add(limit.capacity * (some + extra) >= count)
                self.model.add(extra <= turns * some)
            over = limit.seconds_for(1) // self.tick - base
            whole = base + over * some if over > 0 else base + over
            self.model.add(end - begin >= whole + limit.seconds // self.tick * more[limit.capacity])


def shortest_phases(plates: Sequence[Plates]) -> tuple[int, int]:
    """Return the seconds that a lit and a dark phase last at least if anything is done in them."""
    lit, dark = (
        min(
            one.seconds(spell.first, spell.last)
            for one in plates
            for spell in one.spells
            if spell.light == light
        )
        for light in LIGHTS
    )
    return lit, dark


@dataclass(frozen=True)
class Counted:
    """What one search over counts says, in seconds: no plan with so many phases ends earlier; its work done."""

    bound_s: int
    work: float
    seconds: float


def least_finish(counting: PhaseCounting, *, seconds: float, work: float, seed: int) -> Counted:
    """Search the counts for their least makespan; beyond the horizon nothing is known, so its end is the bound there."""
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = seed % 2**31
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = 2
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.symmetry_level = 0
    solver.parameters.max_presolve_iterations = 1
    solver.parameters.optimize_with_lb_tree_search = True
    solver.parameters.max_deterministic_time = work
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(counting.model)
    bound = ceil(solver.best_objective_bound - 1e-6)
    if status == cp_model.INFEASIBLE:
        bound = counting.latest + 1
    return Counted(bound * counting.tick, solver.response_proto.deterministic_time, solver.wall_time)
