"""Waiting turned into something to do: activities for groups that wait while others align, expose or process.

All times are whole seconds from the first period's start, as in the planner's problem.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from server.core.planning import Problem, Visit
from server.core.planning.problem import Light, Stillness

Stretch = tuple[int, int]

# Assumed: to save less than a minute, nobody begins another activity.
WORTH_S = 60
# Assumed: the same thing is not done again sooner, unless something else lies between.
REST_S = 300


@dataclass(frozen=True)
class Activity:
    """Something a group can do while it waits, for ``shortest_s`` to ``longest_s`` seconds.

    ``light_zone`` and ``still_zone`` name the zones it takes place in; none means where no plate is open and nothing holds
    still, such as another room. ``at_once`` is how many groups can do it at the same time, none any number. A group does it
    once unless it is ``repeatable``. One that ``opens`` comes before all other activities of its group.
    """

    name: str
    shortest_s: int
    longest_s: int
    repeatable: bool = False
    at_once: int | None = None
    light_zone: str | None = None
    light: Light = "any"
    still_zone: str | None = None
    still: Stillness = "any"
    opens: bool = False


@dataclass(frozen=True)
class Busy:
    """A visit with what it needs of the room. Its group is free meanwhile if it is not ``attended``."""

    group: str
    start_s: int
    end_s: int
    light: Light = "any"
    still: Stillness = "any"
    light_zone: str | None = None
    still_zone: str | None = None
    attended: bool = True
    step: str = ""
    place: str = ""
    pass_no: int = 0


@dataclass(frozen=True)
class Filled:
    """One activity of one group."""

    group: str
    activity: str
    start_s: int
    end_s: int


@dataclass(frozen=True)
class Waiting:
    """How long a group waits in all without an activity: before any was given, and after."""

    group: str
    before_s: int
    after_s: int


@dataclass(frozen=True)
class Filling:
    """Activities in the order of time, and the waiting of each group."""

    filled: tuple[Filled, ...]
    waiting: tuple[Waiting, ...]

    @property
    def before_s(self) -> int:
        return sum(one.before_s for one in self.waiting)

    @property
    def after_s(self) -> int:
        return sum(one.after_s for one in self.waiting)


def busy_of(problem: Problem, visits: Iterable[Visit]) -> tuple[Busy, ...]:
    """The visits of a plan with the light, the stillness and the zones they need."""
    places = {place.name: place for place in problem.places}
    groups = {group.name: group for group in problem.groups}
    found = []
    for visit in visits:
        steps = problem.steps_of(groups[visit.group], visit.pass_no)
        step = next(step for step in steps if step.name == visit.step)
        place = places[visit.place]
        found.append(
            Busy(
                visit.group,
                visit.start_s,
                visit.end_s,
                step.light,
                step.still,
                place.light_zone,
                place.still_zone,
                step.attended,
                visit.step,
                visit.place,
                visit.pass_no,
            )
        )
    return tuple(found)


def fill(
    groups: Sequence[str],
    *,
    spans: Sequence[Stretch],
    busy: Sequence[Busy],
    activities: Sequence[Activity],
    afterglow_s: Mapping[str, int] | None = None,
) -> Filling:
    """Give waiting groups something to do, so that little waiting is left.

    ``spans`` are the stretches in which the class is at work, in order and apart; what is between them is a break. A lit
    activity ends ``afterglow_s`` seconds of its light zone before the next dark step there. Groups that wait longest choose
    first; each begins with what opens, then takes what it has not done yet, and repeats the rest. The same question gives the
    same answer.
    """
    room = _Room(spans, busy, activities, afterglow_s or {})
    gaps = {group: without(spans, attended(busy, group)) for group in groups}
    waits = {group: _length(gaps[group]) for group in groups}
    for group in sorted(groups, key=lambda group: -waits[group]):
        room.take(_fill_one(group, gaps[group], room))
    filled = sorted(room.filled, key=lambda one: (one.start_s, groups.index(one.group)))
    return Filling(
        tuple(filled),
        tuple(Waiting(group, waits[group], waits[group] - room.filled_s(group)) for group in groups),
    )


def attended(busy: Iterable[Busy], group: str) -> list[Stretch]:
    return [(one.start_s, one.end_s) for one in busy if one.group == group and one.attended]


def _length(stretches: Iterable[Stretch]) -> int:
    return sum(end - start for start, end in stretches)


def without(stretches: Iterable[Stretch], taken: Iterable[Stretch]) -> list[Stretch]:
    """The parts of ordered ``stretches`` that none of ``taken`` touches."""
    cuts = sorted(taken)
    left: list[Stretch] = []
    for start, end in stretches:
        begin = start
        for cut_start, cut_end in cuts:
            if cut_end <= begin or cut_start >= end:
                continue
            if cut_start > begin:
                left.append((begin, cut_start))
            begin = max(begin, cut_end)
        if begin < end:
            left.append((begin, end))
    return left


class _Room:
    """Where and when each activity can be done, beside the plan's visits and the activities that were given out."""

    def __init__(
        self,
        spans: Sequence[Stretch],
        busy: Sequence[Busy],
        activities: Sequence[Activity],
        afterglow_s: Mapping[str, int],
    ) -> None:
        self.activities = tuple(activities)
        self.filled: list[Filled] = []
        self._by_name = {activity.name: activity for activity in activities}
        self._possible = [
            without(spans, _refused(activity, busy, afterglow_s)) for activity in self.activities
        ]

    def take(self, filled: Iterable[Filled]) -> None:
        self.filled.extend(filled)

    def filled_s(self, group: str) -> int:
        return _length((one.start_s, one.end_s) for one in self.filled if one.group == group)

    def windows(self, gaps: Sequence[Stretch]) -> list[list[list[Stretch]]]:
        """For each gap and activity the stretches in which a further group can do it."""
        found: list[list[list[Stretch]]] = [[] for _ in gaps]
        for activity, possible in zip(self.activities, self._possible, strict=True):
            free = without(possible, self._closed(activity))
            ends = [end for _start, end in free]
            for index, (opens, closes) in enumerate(gaps):
                here = []
                for start, end in free[bisect_right(ends, opens) :]:
                    if start >= closes:
                        break
                    begin, finish = max(start, opens), min(end, closes)
                    if finish - begin >= activity.shortest_s:
                        here.append((begin, finish))
                found[index].append(here)
        return found

    def _closed(self, activity: Activity) -> list[Stretch]:
        """When it is full, or another activity needs the opposite light or stillness in the same zone."""
        closed = [
            (one.start_s, one.end_s) for one in self.filled if opposed(activity, self._by_name[one.activity])
        ]
        if activity.at_once is not None:
            same = [(one.start_s, one.end_s) for one in self.filled if one.activity == activity.name]
            closed.extend(_crowded(same, activity.at_once))
        return closed


def _refused(activity: Activity, busy: Iterable[Busy], afterglow_s: Mapping[str, int]) -> Iterator[Stretch]:
    """When the plan's visits leave no room for the activity in its zones."""
    for one in busy:
        if activity.light_zone is not None and one.light_zone == activity.light_zone:
            if (activity.light, one.light) == ("lit", "dark"):
                yield one.start_s - afterglow_s.get(activity.light_zone, 0), one.end_s
            elif (activity.light, one.light) == ("dark", "lit"):
                yield one.start_s, one.end_s
        if (
            activity.still_zone is not None
            and one.still_zone == activity.still_zone
            and {activity.still, one.still} == {"still", "moves"}
        ):
            yield one.start_s, one.end_s


def opposed(one: Activity, other: Activity) -> bool:
    same_light = one.light_zone is not None and one.light_zone == other.light_zone
    same_still = one.still_zone is not None and one.still_zone == other.still_zone
    return (same_light and {one.light, other.light} == {"dark", "lit"}) or (
        same_still and {one.still, other.still} == {"still", "moves"}
    )


def _crowded(stretches: Iterable[Stretch], most: int) -> Iterator[Stretch]:
    """When at least ``most`` of the stretches run at once."""
    changes = sorted([(start, 1) for start, _end in stretches] + [(end, -1) for _start, end in stretches])
    inside = 0
    for (moment, change), (following, _change) in pairwise([*changes, (0, 0)]):
        inside += change
        if inside >= most and following > moment:
            yield moment, following


@dataclass(frozen=True)
class _Placed:
    """An activity, by its index, at its time."""

    index: int
    start_s: int
    end_s: int


_Gap = tuple[_Placed, ...]


def _rested(gap: _Gap) -> Iterator[_Gap]:
    """The gap, unless the same thing follows on itself too soon."""
    if not any(
        one.index == other.index and other.start_s - one.end_s < REST_S for one, other in pairwise(gap)
    ):
        yield gap


def _covered(gap: Iterable[_Placed]) -> int:
    return sum(one.end_s - one.start_s for one in gap)


def _fill_one(group: str, gaps: Sequence[Stretch], room: _Room) -> list[Filled]:
    """What one group does, given what the groups before it do."""
    opened, gaps = _open(gaps, room)
    windows = room.windows(gaps)
    chosen = _Gaps(room.activities, gaps, windows, once_first=True).filled()
    if _covered(chosen) + WORTH_S <= _length(gaps):
        fuller = _Gaps(room.activities, gaps, windows, once_first=False).filled()
        chosen = fuller if _covered(fuller) >= _covered(chosen) + WORTH_S else chosen
    return [
        Filled(group, room.activities[one.index].name, one.start_s, one.end_s) for one in (*opened, *chosen)
    ]


def _open(gaps: Sequence[Stretch], room: _Room) -> tuple[_Gap, Sequence[Stretch]]:
    """What opens, as early as there is room for it, and the gaps that are left after it."""
    opened: list[_Placed] = []
    for index, activity in enumerate(room.activities):
        windows = [windows[index] for windows in room.windows(gaps)] if activity.opens else []
        first = next((window for here in windows for window in here), None)
        if first is not None:
            opened.append(_Placed(index, first[0], min(first[1], first[0] + activity.longest_s)))
            gaps = without(gaps, [(gaps[0][0], opened[-1].end_s)])
    return tuple(opened), gaps


class _Gaps:
    """One group's waiting, filled one activity after the other; ``once_first`` takes what is done once before the rest."""

    def __init__(
        self,
        activities: Sequence[Activity],
        stretches: Sequence[Stretch],
        windows: Sequence[Sequence[Sequence[Stretch]]],
        *,
        once_first: bool,
    ) -> None:
        self._gaps: list[_Gap] = [() for _ in stretches]
        self._activities, self._stretches, self._windows = activities, stretches, windows
        self._once_first = once_first
        self._done: set[int] = set()
        self._chances = [self._ways(number) for number in range(len(stretches))]

    def filled(self) -> _Gap:
        while self._add():
            pass
        return tuple(one for gap in self._gaps for one in gap)

    def _add(self) -> bool:
        """Add the activity that saves most waiting, one not done yet if there is any; False when none is worth it."""
        best: tuple[tuple[int, int, int, int], int, _Gap] | None = None
        for number, ways in enumerate(self._chances):
            for index, gap in ways:
                activity = self._activities[index]
                saved = _covered(gap) - _covered(self._gaps[number])
                if saved < WORTH_S or (index in self._done and not activity.repeatable):
                    continue
                new = index not in self._done
                key = (new + (new and self._once_first and not activity.repeatable), saved, -index, -number)
                if best is None or key > best[0]:
                    best = key, number, gap
        if best is None:
            return False
        _key, number, gap = best
        self._done.update(one.index for one in gap)
        self._gaps[number] = gap
        self._chances[number] = self._ways(number)
        return True

    def _ways(self, number: int) -> list[tuple[int, _Gap]]:
        """Each activity that is possible in the gap, with the gap as it is after it was added in the best place."""
        found: list[tuple[int, _Gap]] = []
        gap, (opens, closes) = self._gaps[number], self._stretches[number]
        if _covered(gap) + WORTH_S > closes - opens:
            return []
        for index, windows in enumerate(self._windows[number]):
            activity = self._activities[index]
            if not windows or activity.opens or (index in self._done and not activity.repeatable):
                continue
            ways = list(self._beside(number, index))
            most = min(closes - opens, _covered(gap) + activity.longest_s)
            if gap and max(map(_covered, ways), default=0) < most:
                ways.extend(self._anew(number, index))
            if ways:
                found.append((index, max(ways, key=_covered)))
        return found

    def _beside(self, number: int, index: int) -> Iterator[_Gap]:
        """The gap with the activity put between the others, which stay as they are."""
        gap, (opens, closes) = self._gaps[number], self._stretches[number]
        for place in range(len(gap) + 1):
            before, after = gap[:place], gap[place:]
            between = (
                before[-1].end_s + REST_S * (before[-1].index == index) if before else opens,
                after[0].start_s - REST_S * (after[0].index == index) if after else closes,
            )
            beside = self._timed(number, [index], between)
            if beside is not None:
                yield *before, *beside, *after

    def _anew(self, number: int, index: int) -> Iterator[_Gap]:
        """The gap with the activity at each place in its order, all of them timed anew."""
        order, stretch = [one.index for one in self._gaps[number]], self._stretches[number]
        for place in range(len(order) + 1):
            timed = self._timed(number, [*order[:place], index, *order[place:]], stretch)
            if timed is not None:
                yield from _rested(timed)

    def _timed(self, number: int, order: Sequence[int], within: Stretch) -> _Gap | None:
        """The activities in this order, each as early and as long as the next ones allow; None if they don't all fit."""
        latest = self._latest(number, order, within)
        if latest is None:
            return None
        placed: list[_Placed] = []
        moment = within[0]
        for at, index in enumerate(order):
            activity, limit = self._activities[index], latest[at + 1]
            possible = [
                _Placed(index, begin, min(end, limit, begin + activity.longest_s))
                for start, end in self._windows[number][index]
                if (begin := max(start, moment)) + activity.shortest_s <= min(end, limit)
            ]
            last = at + 1 == len(order)
            chosen = max(possible, key=lambda one: one.end_s - one.start_s) if last else possible[0]
            placed.append(chosen)
            moment = chosen.end_s
        return tuple(placed)

    def _latest(self, number: int, order: Sequence[int], within: Stretch) -> list[int] | None:
        """The latest start of each activity with which the ones after it still fit, and the end of all."""
        latest = [within[1]]
        for index in reversed(order):
            shortest = self._activities[index].shortest_s
            starts = [
                min(end, latest[-1]) - shortest
                for start, end in self._windows[number][index]
                if start + shortest <= min(end, latest[-1])
            ]
            if not starts or max(starts) < within[0]:
                return None
            latest.append(max(starts))
        return latest[::-1]
