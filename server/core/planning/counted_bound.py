"""The bound from counting plates in phases, over every number of phases that a plan can have."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from server.core.planning.phase_counting import LIGHTS, PhaseCounting, least_finish, shortest_phases
from server.core.planning.phases import (
    Bottleneck,
    Plates,
    bottlenecks,
    plates_in,
    way_in_s,
    way_out_s,
    zones_in_both_lights,
)
from server.core.planning.solving import Budget
from server.core.planning.work import Work, tick_of

# Counting uses linear relaxation, whose units of work pass faster.
FASTER = 2.0
# Of what is left, the most that one number of phases may use up in the first go.
PART = 0.35
# Seconds to build the counts of one phase.
BUILDING_S = 0.003


def counted_bound(work: Work, *, best_s: int, least_s: int, budget: Budget) -> int:
    """Return a second before which no plan of all passes can end; ``best_s`` is the finish of one, ``least_s`` a bound.

    Each zone whose light and darkness are both needed gives a bound; the largest counts. All of the budget may be used.
    """
    zones = zones_in_both_lights(work)
    for number, zone in enumerate(zones):
        if least_s < best_s:
            mine = budget.set_aside(1 / (len(zones) - number))
            sweep = _Sweep(work, plates_in(work, zone), best_s, least_s, mine)
            least_s = max(least_s, sweep.bound_s())
            budget.add(mine)
    return least_s


@dataclass
class _Sweep:
    """One zone's bound: the least over the numbers of phases, the smaller ones first."""

    work: Work
    plates: Sequence[Plates]
    best_s: int
    least_s: int
    budget: Budget

    def bound_s(self) -> int:
        """Return the bound; the budget may end before every number of phases has had its search."""
        found = {phases: min(self.best_s, self._at_least(phases)) for phases in self._numbers()}
        lowest = min(found.values(), default=self.best_s)
        aim, part = self._beyond(max(lowest, self.least_s)), PART
        while lowest < self.best_s and part <= 1 and not self.budget.spent:
            weakest = min(found, key=lambda phases: (found[phases], phases))
            reached = self._bound_with(weakest, aim, part)
            if reached <= found[weakest]:
                part *= 2
            found[weakest] = max(found[weakest], reached)
            lowest = min(found.values())
            if lowest >= aim:
                aim = self._beyond(lowest)
        return lowest

    def _beyond(self, lowest: int) -> int:
        """Return a finish that is worth trying to rule out next: one far below the best plan's takes little time."""
        tick = tick_of(self.work)
        return lowest + -(-(self.best_s - lowest) * 2 // (3 * tick)) * tick

    def _at_least(self, phases: int) -> int:
        """Return a bound on plans with so many phases that needs no search.

        In each light, and for each kind of spell, all turns at the places that are short of room are dealt to the
        phases where they lengthen these least.
        """
        shortest = shortest_phases(self.plates)
        lengths = [shortest[phase % 2] for phase in range(phases)]
        lengths[0] = 0
        if phases > 1:
            lengths[0] = way_in_s(self.plates, LIGHTS[1])
        if phases > len(LIGHTS):
            # With two phases the way in and the way out may share what is done between them.
            lengths[-1] = max(lengths[-1], way_out_s(self.plates, LIGHTS[phases % 2]))
        longest = [sum(lengths[side::2]) for side in range(2)]
        patterns: dict[object, list[Plates]] = defaultdict(list)
        for one in self.plates:
            patterns[one.pattern].append(one)
        for alike in patterns.values():
            total = sum(one.count for one in alike)
            for spell in alike[0].spells:
                side = LIGHTS.index(spell.light)
                for limit in bottlenecks(self.work, alike, spell.first, spell.last):
                    longest[side] = max(longest[side], _dealt(limit, total, lengths[side::2]))
        return self.work.problem.periods[0][0] + sum(longest)

    def _bound_with(self, phases: int, below_s: int, part: float) -> int:
        """Return a bound on plans with so many phases; it need not be above ``below_s``."""
        horizon_s = below_s - tick_of(self.work)
        counting = PhaseCounting(self.work, self.plates, horizon_s=horizon_s, phases=phases)
        counted = least_finish(
            counting,
            seconds=max(self.budget.seconds * min(1.0, 2 * part), 0.01),
            work=max(self.budget.work * part * FASTER, 0.001),
            seed=self.budget.seed,
        )
        self.budget.seconds -= counted.seconds + phases * BUILDING_S
        self.budget.work -= counted.work / FASTER
        return min(counted.bound_s, below_s)

    def _numbers(self) -> Sequence[int]:
        """Return the numbers of phases a plan that ends before the best one can have.

        A place kept from light into darkness, or back, is filled once for each time the light changes so, and the
        last phase is one in which a plate is done with the zone.
        """
        pair_s = sum(shortest_phases(self.plates))
        most = 2 * ((self.best_s - self.work.problem.periods[0][0]) // pair_s) + 2
        fewest = max(
            [1, *(self._changes(kinds) for kinds in {kept.kinds for one in self.plates for kept in one.kept})]
        )
        lights = {one.spells[-1].light for one in self.plates}
        return [phases for phases in range(fewest, most + 1) if LIGHTS[(phases - 1) % 2] in lights]

    def _changes(self, kinds: frozenset[int]) -> int:
        """Return the fewest phases that let all plates pass a place that they keep from one light into the other."""
        room = sum(self.work.kinds[kind].capacity for kind in kinds)
        fewest = 1
        for first, last in (LIGHTS, LIGHTS[::-1]):
            plates = sum(
                one.count
                for one in self.plates
                for kept in one.kept
                if kept.kinds <= kinds
                and one.spells[kept.first].light == first
                and one.spells[kept.last].light == last
            )
            fewest = max(fewest, 2 * -(-plates // room) + (1 if first == "dark" and plates else 0))
        return fewest


def _dealt(limit: Bottleneck, plates: int, lengths: Sequence[int]) -> int:
    """Return the fewest seconds of phases of these lengths, together, in which so many plates pass one bottleneck."""
    turns = -(-plates // limit.capacity)
    longer: list[int] = []
    for length in lengths:
        filled = [max(length, limit.seconds_for(turn * limit.capacity)) for turn in range(1, turns + 1)]
        longer.extend(after - before for before, after in pairwise([length, *filled]))
    return sum(lengths) + sum(sorted(longer)[:turns])
