"""What keeps each visit of a plan from beginning earlier while all other visits stay: every rule's own moment.

Derived from the plan and the class alone; shares nothing with the planner.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from server.core.planning.answer import Visit
from server.core.planning.problem import Problem, Step

# own: the step before; wait: a later step may not wait longer; place: it is full; dark, lit: the zone is the other way;
# still, moves: likewise; afterglow: the lights have not been off for long enough; group: it is busy with another plate;
# reserve: ordinary passes come first; opens, closed, charge, fixed: moments; slack: nothing.
Cause = Literal[
    "own", "wait", "place", "dark", "lit", "still", "moves", "afterglow", "group", "reserve",
    "opens", "closed", "charge", "fixed", "slack",
]  # fmt: skip


@dataclass(frozen=True)
class Hold:
    """A visit begins no earlier than ``bound_s`` because of ``cause``.

    ``by`` is the visit behind it (None: a moment) and ``since_s`` when it, its stay or its pass began. ``weak`` tells
    that another place like this one had room.
    """

    cause: Cause
    bound_s: int
    by: Visit | None = None
    since_s: int = 0
    weak: bool = False


@dataclass(frozen=True)
class _Stay:
    """A plate at a place from the first step there to the last."""

    first: Visit
    last: Visit
    steps: tuple[Step, ...]
    offered: tuple[str, ...]


@dataclass(frozen=True)
class _Pass:
    steps: tuple[Step, ...]
    visits: tuple[Visit, ...]

    @property
    def released(self) -> Visit | None:
        """The last visit that the group attends."""
        attended = [visit for step, visit in zip(self.steps, self.visits, strict=True) if step.attended]
        return attended[-1] if attended else None

    @property
    def released_s(self) -> int:
        return self.visits[0].start_s if self.released is None else self.released.end_s


class _Ends:
    """Visits by their end, to find the last that has ended by a moment."""

    def __init__(self) -> None:
        self.visits: list[Visit] = []
        self.ends: list[int] = []

    def sort(self) -> None:
        self.visits.sort(key=lambda visit: visit.end_s)
        self.ends = [visit.end_s for visit in self.visits]

    def last_by(self, moment: int) -> list[Visit]:
        """Return the visits that end together, last of all that have ended by the moment."""
        after = bisect_right(self.ends, moment)
        if not after:
            return []
        return self.visits[bisect_right(self.ends, self.ends[after - 1] - 1) : after]


class Holds:
    """The holds of every visit of one plan."""

    def __init__(self, problem: Problem, visits: Sequence[Visit]) -> None:
        """Sort the visits by pass, place and zone."""
        self.problem = problem
        self.places = {place.name: place for place in problem.places}
        self.groups = {group.name: group for group in problem.groups}
        self.passes: dict[tuple[str, int], _Pass] = {}
        self.stays: dict[str, list[_Stay]] = defaultdict(list)
        self.stay_from: dict[Visit, _Stay] = {}
        self.position: dict[Visit, int] = {}
        self.in_state: dict[tuple[str, str], _Ends] = defaultdict(_Ends)
        self.fixed = {(one.group, one.pass_no, one.step) for one in problem.fixed}
        mine: dict[tuple[str, int], dict[str, Visit]] = defaultdict(dict)
        for visit in visits:
            mine[visit.group, visit.pass_no][visit.step] = visit
        for (name, number), by_step in mine.items():
            steps = problem.steps_of(self.groups[name], number)
            self._add(name, number, _Pass(steps, tuple(by_step[step.name] for step in steps)))
        for ends in self.in_state.values():
            ends.sort()

    def _add(self, name: str, number: int, one: _Pass) -> None:
        self.passes[name, number] = one
        first = 0
        for index, (step, visit) in enumerate(zip(one.steps, one.visits, strict=True)):
            self.position[visit] = index
            place = self.places[visit.place]
            if place.light_zone is not None and step.light != "any":
                self.in_state[place.light_zone, step.light].visits.append(visit)
            if place.still_zone is not None and step.still != "any":
                self.in_state[place.still_zone, step.still].visits.append(visit)
            if index + 1 == len(one.steps) or one.steps[index + 1].at != "same":
                at = one.steps[first].at
                offered = (visit.place,) if at == "same" else at
                stay = _Stay(one.visits[first], visit, one.steps[first : index + 1], offered)
                self.stays[visit.place].append(stay)
                self.stay_from[stay.first] = stay
                first = index + 1

    def step(self, visit: Visit) -> Step:
        """Return the step of a visit."""
        return self.passes[visit.group, visit.pass_no].steps[self.position[visit]]

    def ready(self, visit: Visit) -> int:
        """Return when the plate was ready for the visit, or the group for its pass."""
        index = self.position[visit]
        if index:
            return self.passes[visit.group, visit.pass_no].visits[index - 1].end_s
        free = [other.released_s for other in self._others(visit) if other.released_s <= visit.start_s]
        return max(free, default=self.problem.periods[0][0])

    def of(self, visit: Visit) -> Iterator[Hold]:
        """Yield for every rule the latest moment before which the visit cannot begin; a rule that is far off may miss."""
        yield from self._within_the_pass(visit)
        yield from self._moments(visit)
        if visit in self.stay_from:
            yield from self._full(self.stay_from[visit])
        yield from self._zones(visit)
        if self.position[visit] == 0:
            yield from self._busy(visit)

    def _within_the_pass(self, visit: Visit) -> Iterator[Hold]:
        one, index = self.passes[visit.group, visit.pass_no], self.position[visit]
        if index:
            before = one.visits[index - 1]
            yield Hold("own", before.end_s, before, before.start_s)
        longest = one.steps[index].max_wait_s
        if longest is not None and index + 1 < len(one.visits):
            after = one.visits[index + 1]
            yield Hold("wait", after.start_s - longest - (visit.end_s - visit.start_s), after, after.start_s)

    def _moments(self, visit: Visit) -> Iterator[Hold]:
        if (visit.group, visit.pass_no, visit.step) in self.fixed:
            yield Hold("fixed", visit.start_s)
        step = self.step(visit)
        inside_s = visit.end_s - visit.start_s if step.attended or step.light == "dark" else 0
        opens, closed_s = self.problem.periods[0]
        for begin, end in self.problem.periods[1:]:
            # A second earlier it may fit into a period that goes on without a break.
            if begin <= visit.start_s and begin - 1 + inside_s > closed_s:
                opens = begin
            closed_s = end
        yield Hold("opens", opens)
        stay = self.stay_from.get(visit)
        if stay is not None:
            place = self.places[visit.place]
            yield from (Hold("closed", end) for _, end in place.closed if end <= visit.start_s)
            serving = [
                one for one in place.charges if one.from_s <= visit.start_s and stay.last.end_s <= one.until_s
            ]
            if serving:
                yield Hold("charge", max(one.from_s for one in serving), weak=len(serving) > 1)

    def _full(self, stay: _Stay) -> Iterator[Hold]:
        """Yield who left the place last of those who filled it."""
        place, start = self.places[stay.first.place], stay.first.start_s
        others = [other for other in self.stays[place.name] if other is not stay]
        for end in sorted({other.last.end_s for other in others if other.last.end_s <= start}, reverse=True):
            there = [other for other in others if other.first.start_s < end <= other.last.end_s]
            if len(there) >= place.capacity:
                weak = end == start and self._elsewhere(stay)
                for other in there:
                    if other.last.end_s == end:
                        yield Hold("place", end, other.last, other.first.start_s, weak)
                return

    def _elsewhere(self, stay: _Stay) -> bool:
        """Tell whether another place like the stay's had room for it, and a second earlier."""
        here = self.places[stay.first.place]
        begin, end = stay.first.start_s - 1, stay.last.end_s
        for name in stay.offered:
            place = self.places[name]
            if (
                name != here.name
                and (place.light_zone, place.still_zone) == (here.light_zone, here.still_zone)
                and all(step.seconds_at(name) == step.seconds_at(here.name) for step in stay.steps)
                and not place.charges
                and not any(begin < opens and shut < end for shut, opens in place.closed)
                and self._most_in(name, begin, end) < place.capacity
            ):
                return True
        return False

    def _most_in(self, place: str, begin: int, end: int) -> int:
        """Return the most plates at a place at once between two moments."""
        there = [one for one in self.stays[place] if one.first.start_s < end and begin < one.last.end_s]
        moments = {max(begin, one.first.start_s) for one in there}
        return max(
            (sum(one.first.start_s <= moment < one.last.end_s for one in there) for moment in moments),
            default=0,
        )

    def _zones(self, visit: Visit) -> Iterator[Hold]:
        place, step, start = self.places[visit.place], self.step(visit), visit.start_s
        if place.light_zone is not None and step.light == "dark":
            glow = self.problem.afterglow_s(place.light_zone)
            cause: Cause = "afterglow" if glow else "dark"
            for other in self._ended(place.light_zone, "lit", start - glow):
                yield Hold(cause, other.end_s + glow, other, other.start_s)
            if glow:
                opened = [opens + glow for opens, _ in self.problem.periods if opens + glow <= start]
                yield from (Hold("afterglow", moment) for moment in opened[-1:])
        if place.light_zone is not None and step.light == "lit":
            for other in self._ended(place.light_zone, "dark", start):
                yield Hold("lit", other.end_s, other, other.start_s)
        if place.still_zone is not None and step.still != "any":
            moves: Cause = "moves" if step.still == "moves" else "still"
            for other in self._ended(place.still_zone, "still" if moves == "moves" else "moves", start):
                yield Hold(moves, other.end_s, other, other.start_s)

    def _ended(self, zone: str, state: str, moment: int) -> list[Visit]:
        ends = self.in_state.get((zone, state))
        return [] if ends is None else ends.last_by(moment)

    def _others(self, visit: Visit) -> list[_Pass]:
        """Return the passes of the group that may have to come before the visit's."""
        name, number = visit.group, visit.pass_no
        if self.groups[name].any_order:
            return [one for (group, other), one in self.passes.items() if group == name and other != number]
        before = self.passes.get((name, number - 1))
        return [] if before is None else [before]

    def _busy(self, visit: Visit) -> Iterator[Hold]:
        before = [one for one in self._others(visit) if one.released_s <= visit.start_s]
        last = max((one.released_s for one in before), default=None)
        for one in before:
            if one.released_s == last:
                yield Hold("group", last, one.released or one.visits[0], one.visits[0].start_s)
        begun = {(group, number) for group, number, _ in self.fixed}
        if self.groups[visit.group].reserve and (visit.group, visit.pass_no) not in begun:
            left = [
                stay
                for stays in self.stays.values()
                for stay in stays
                if not self.groups[stay.first.group].reserve and self.position[stay.first] == 0
            ]
            last = max((stay.last.end_s for stay in left), default=None)
            for stay in left:
                if stay.last.end_s == last:
                    yield Hold("reserve", last, stay.last, stay.first.start_s)
