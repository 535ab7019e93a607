"""The chance of finishing by the bell: the plan replayed many times with steps that take longer or shorter.

Every replay keeps the plan's order: at each place, in each zone (which darkness comes before which light, which stillness
before which movement) and in each group. A step begins when everything before it in that order has ended. A class may
run ahead of its plan. A wait that the plan itself chose is kept while the class is in time and given up when it is
late, so without any spread a replay is the plan, second by second. A plate that finds its next place taken waits for
it, even where the plan allows no wait, and does not block the place it comes from; nobody leaves at the bell with work
half done. Lamps glow on, closed places stay closed, and a plate that comes when no charge lives any more is lost.

Times of steps follow the lognormal distribution, whose mean is the planned time, or that much longer as the lab's classes are. Stillness is timed by the shutter's
clock and never varies. All replays are computed side by side.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, log, sqrt

import numpy as np
from numpy.typing import NDArray

from server.core import class_pace
from server.core.planning.answer import Plan, Visit
from server.core.planning.problem import Place, Problem, Step

Times = NDArray[np.float64]


@dataclass(frozen=True)
class Spread:
    """How much times vary: standard deviation ÷ mean of one step in the light, in the dark, or in either.

    `pace` is that of a whole class: a factor which all its steps share, with the mean `longer`. Steps named in `exact`, and all
    that hold still, take their planned time.
    """

    lit: float
    dark: float
    other: float
    pace: float
    exact: frozenset[str] = frozenset()
    longer: float = 1.0

    def is_exact(self, step: Step) -> bool:
        return step.still == "still" or step.name in self.exact

    def of(self, step: Step) -> float:
        """The step's own standard deviation ÷ mean, beside the class's pace."""
        if self.is_exact(step):
            return 0.0
        return {"lit": self.lit, "dark": self.dark, "any": self.other}[step.light]


# Assumed: no source counts how long the steps of a class really take.
ASSUMED_SPREAD = Spread(lit=0.3, dark=0.2, other=0.2, pace=class_pace.ASSUMED_SPREAD)


@dataclass(frozen=True)
class Chances:
    """What came of `replications` replays. Times are seconds from the first period's start.

    The plan uses so many `periods`, of which the last ends at `bell_s`. In `by_bell` of the replays the work of each
    period was done by its end; what may run on by itself in the light, such as drying, need only have begun. Of ten
    replays one has finished by `tenth_s`, half by `half_s`, nine by `nine_tenths_s`; in `curve` stand whole minutes, each
    with the number of replays finished by then, from none to all. `good_plates` is the expected number of plates done
    by the bell that come out well.
    """

    replications: int
    periods: int
    by_bell: int
    bell_s: int
    tenth_s: int
    half_s: int
    nine_tenths_s: int
    curve: tuple[tuple[int, int], ...]
    plates: int
    good_plates: Fraction

    def done_by(self, second: int) -> int:
        """The number of replays finished by the last whole minute up to `second`."""
        return max((number for minute_s, number in self.curve if minute_s <= second), default=0)


def simulate(
    problem: Problem,
    plan: Plan,
    *,
    replications: int,
    seed: int,
    failure: Fraction,
    spread: Spread = ASSUMED_SPREAD,
) -> Chances | None:
    """Replay a plan that keeps every rule; None where it has no visits. The same seed gives the same answer.

    `failure` is the chance that a plate fails. A failed plate takes its time like any other and is not repeated.
    """
    if not plan.visits:
        return None
    replay = _Replay(problem, spread, replications, np.random.Generator(np.random.PCG64(seed)))
    in_time: dict[tuple[str, int], NDArray[np.bool_]] = {}
    finish = np.zeros(replications + 1)
    moments = _moments(problem, plan)
    for moment in moments:
        starts, ends, served = replay.visit(moment)
        finish = np.maximum(finish, ends)
        closed = ((ends if moment.must_close else starts) <= moment.closes_s) & served
        one = moment.visit.group, moment.visit.pass_no
        in_time[one] = in_time[one] & closed if one in in_time else closed
    kept = np.array(list(in_time.values()))[:, 1:]
    finishes = np.sort(finish[1:])
    return Chances(
        replications=replications,
        periods=len({moment.closes_s for moment in moments}),
        by_bell=int(kept.all(axis=0).sum()),
        bell_s=max(moment.closes_s for moment in moments),
        tenth_s=_quantile(finishes, 1),
        half_s=_quantile(finishes, 5),
        nine_tenths_s=_quantile(finishes, 9),
        curve=tuple(_curve(finishes)),
        plates=len(in_time),
        good_plates=(1 - failure) * Fraction(int(kept.sum()), replications),
    )


def _quantile(finishes: Times, tenths: int) -> int:
    """The whole second by which so many tenths of the sorted finishes have passed."""
    return ceil(float(finishes[-(-len(finishes) * tenths // 10) - 1]))


def _curve(finishes: Times) -> Iterator[tuple[int, int]]:
    minutes = np.ceil(finishes / 60).astype(np.int64)
    first = int(minutes[0])
    yield (first - 1) * 60, 0
    for minute, number in enumerate(np.bincount(minutes - first).cumsum(), start=first):
        yield minute * 60, int(number)


@dataclass(frozen=True)
class _Moment:
    """One visit and what the order of the plan ties it to. It belongs to the period from `opens_s` to `closes_s`."""

    visit: Visit
    step: Step
    light_zone: str | None
    still_zone: str | None
    opens_s: int
    closes_s: int
    first_of_pass: bool
    enters: bool
    leaves: bool
    is_fixed: bool

    @property
    def must_close(self) -> bool:
        """Whether the whole step must lie in its period; what nobody attends in the light need only begin there."""
        return self.step.attended or self.step.light == "dark"


def _moments(problem: Problem, plan: Plan) -> list[_Moment]:
    """The plan's visits by their start; whatever a visit waits for comes before it, because no step takes no time."""
    found: dict[tuple[str, int], dict[str, Visit]] = defaultdict(dict)
    for visit in plan.visits:
        found[visit.group, visit.pass_no][visit.step] = visit
    fixed = {(one.group, one.pass_no, one.step) for one in problem.fixed}
    groups = {group.name: group for group in problem.groups}
    places = {place.name: place for place in problem.places}
    moments = []
    for (name, pass_no), visits in found.items():
        steps = problem.steps_of(groups[name], pass_no)
        for index, step in enumerate(steps):
            visit = visits[step.name]
            opens_s, closes_s = max(period for period in problem.periods if period[0] <= visit.start_s)
            moments.append(
                _Moment(
                    visit=visit,
                    step=step,
                    light_zone=None if step.light == "any" else places[visit.place].light_zone,
                    still_zone=None if step.still == "any" else places[visit.place].still_zone,
                    opens_s=opens_s,
                    closes_s=closes_s,
                    first_of_pass=index == 0,
                    enters=step.at != "same",
                    leaves=index + 1 == len(steps) or steps[index + 1].at != "same",
                    is_fixed=(name, pass_no, step.name) in fixed,
                )
            )
    return sorted(
        moments, key=lambda moment: (moment.visit.start_s, moment.visit.group, moment.visit.pass_no)
    )


@dataclass
class _Slots:
    """When a place's room for one plate each is free again, least first in every replay."""

    free: list[Times]

    def take(self) -> Times:
        return self.free.pop(0)

    def give(self, ends: Times) -> None:
        for index, one in enumerate(self.free):
            self.free[index], ends = np.minimum(one, ends), np.maximum(one, ends)
        self.free.append(ends)


@dataclass
class _Zone:
    """A zone's state now, when the stretch of the other state before it ended, and the latest end in this one.

    In the dark its lamps glow on for `afterglow_s` after the light before.
    """

    before: Times
    latest: Times
    afterglow_s: int
    state: str = ""

    def enter(self, state: str) -> Times:
        if state != self.state:
            self.state, self.before, self.latest = state, self.latest, np.zeros_like(self.latest)
        return self.before + self.glow_s(state)

    def glow_s(self, state: str) -> int:
        return self.afterglow_s if state == "dark" else 0

    def occupy(self, ends: Times) -> None:
        self.latest = np.maximum(self.latest, ends)


@dataclass
class _Group:
    """When the group is free for its next pass, and when the last step so far of each of its passes ends."""

    released: Times
    passes: dict[int, Times] = field(default_factory=dict)


class _Replay:
    """All replays side by side, with the plan itself in the first column."""

    def __init__(
        self, problem: Problem, spread: Spread, replications: int, chance: np.random.Generator
    ) -> None:
        self.spread = spread
        self.chance = chance
        self.places = {place.name: place for place in problem.places}
        self.pace = chance.standard_normal(replications)
        start = np.zeros(replications + 1)
        plates = sum(group.passes for group in problem.groups)
        self.slots = {place.name: _Slots([start] * min(place.capacity, plates)) for place in problem.places}
        glow = {zone.name: zone.afterglow_s for zone in problem.light_zones}
        named = [("light", place.light_zone) for place in problem.places]
        named += [("still", place.still_zone) for place in problem.places]
        self.zones = {
            (sort, zone): _Zone(start, start, glow.get(zone, 0) if sort == "light" else 0)
            for sort, zone in named
            if zone is not None
        }
        self.groups: dict[str, _Group] = defaultdict(lambda: _Group(start))

    def visit(self, moment: _Moment) -> tuple[Times, Times, NDArray[np.bool_]]:
        """The starts and ends of one visit, and where the place still served it; to be asked in the order of the plan."""
        visit, group = moment.visit, self.groups[moment.visit.group]
        zones = self._zones_of(moment)
        waits_for: list[Times] = [zone.enter(state) for zone, state in zones]
        waits_for.append(group.released if moment.first_of_pass else group.passes[visit.pass_no])
        if moment.enters:
            waits_for.append(self.slots[visit.place].take())
        # The lights are on until a period opens.
        opens_s = moment.opens_s + max((zone.glow_s(state) for zone, state in zones), default=0)
        ready = np.maximum(np.maximum.reduce(waits_for), opens_s)
        # The first column is the plan: what it waits beyond its need is a wait that it chose.
        chosen_s = np.inf if moment.is_fixed else visit.start_s - ready[0]
        starts = np.maximum(ready, np.minimum(visit.start_s, ready + chosen_s))
        durations = self._durations(moment)
        starts, served = _let_in(self.places[visit.place], starts, durations)
        ends = starts + durations
        group.passes[visit.pass_no] = ends
        if moment.step.attended or moment.first_of_pass:
            group.released = np.maximum(group.released, ends if moment.step.attended else starts)
        for zone, _state in zones:
            zone.occupy(ends)
        if moment.leaves:
            self.slots[visit.place].give(ends)
        return starts, ends, served

    def _zones_of(self, moment: _Moment) -> Sequence[tuple[_Zone, str]]:
        named = (
            ("light", moment.light_zone, moment.step.light),
            ("still", moment.still_zone, moment.step.still),
        )
        return [(self.zones[sort, zone], state) for sort, zone, state in named if zone is not None]

    def _durations(self, moment: _Moment) -> Times:
        planned_s = float(moment.visit.end_s - moment.visit.start_s)
        durations = np.full(len(self.pace) + 1, planned_s)
        if self.spread.is_exact(moment.step):
            return durations
        own, shared = _sigma(self.spread.of(moment.step)), _sigma(self.spread.pace)
        if own or shared:
            drawn = own * self.chance.standard_normal(len(self.pace)) + shared * self.pace
            durations[1:] *= np.exp(drawn - (own**2 + shared**2) / 2)
        durations[1:] *= self.spread.longer
        return durations


def _let_in(place: Place, starts: Times, durations: Times) -> tuple[Times, NDArray[np.bool_]]:
    """Return when a place that is closed at times, or whose charges live for a while, lets a visit begin, and where one still does.

    Which charge is used up by how many plates is not replayed.
    """
    for closes_s, opens_s in sorted(place.closed):
        meets = (starts < opens_s) & (starts + durations > closes_s)
        starts = np.where(meets, opens_s, starts)
    served = np.full(len(starts), not place.charges)
    for charge in sorted(place.charges, key=lambda charge: charge.from_s):
        begins = np.maximum(starts, charge.from_s)
        lives = ~served & (begins + durations <= charge.until_s)
        starts, served = np.where(lives, begins, starts), served | lives
    return starts, served


def _sigma(variation: float) -> float:
    """The standard deviation of the logarithm of a lognormal quantity with this standard deviation ÷ mean."""
    return sqrt(log(1 + variation**2))
