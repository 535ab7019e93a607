"""How full the waste containers of a shelf get until a horizon, with a band, and what each pickup takes.

Three paths are followed from the same start. On the likely path every class brings what is expected of it; on the low and the high path
so much less or more that between two pickups all classes together stay above the one and below the other in 19 of 20 cases each. What
classes bring differs from class to class, so their spreads add up by their squares; that the mean itself may be off touches all alike and
adds up as it is. The factor is that of Student's t distribution for as many classes as stand behind the spread.

Additions fill the containers of a stream in their order, each up to its fill line. What finds no room waits, and goes first into what a
pickup has emptied. A pickup takes whole containers, oldest first, as long as they are within what the collector takes; an empty one of the
same size stands there afterwards, which is as old as what comes into it next. How old each is, is the likely path's on all three, so that what
brings more leaves no less. From its request on, at its cut-off at the latest, a container takes no more; those with the most room stay
off the request as far as something may come between it and the pickup. Volumes are microlitres; only the chance is not a whole number.
"""

from bisect import bisect_left
from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import chain
from math import isqrt, sqrt

from server.core.moments import day_at
from server.core.pickup_load import Load, share_of_pickup
from server.core.rinse_history import FEWEST_CLASSES
from server.core.student_t import share_below, t_that_holds
from server.core.waste_forecast import Addition

# How sure the lab wants to be that a level stays below the upper edge of the band, and above the lower one.
SURENESS = 0.95


@dataclass(frozen=True)
class Container:
    """A container of a stream: what it holds and where its fill line is. `since` is its start date, `is_taking` whether it takes more."""

    key: int
    name: str
    held_ul: int
    line_ul: int
    since: datetime
    is_taking: bool = True


@dataclass(frozen=True)
class Feed:
    """What comes into one stream, and its containers in the order in which they are filled.

    `behind` is how many classes stand behind the spreads of its additions.
    """

    key: int
    containers: tuple[Container, ...]
    additions: tuple[Addition, ...]
    behind: int = FEWEST_CLASSES


@dataclass(frozen=True)
class PickupAhead:
    """A pickup. It empties containers at `at`, the end of its day, if it was requested by `request_by`.

    `only` are the containers on its request; None where it takes whatever stands there. `most_ul` and `most_containers` are the most that the
    collector takes, None where nobody said; `others_ul` of it are other courses'.
    """

    key: int
    day: date
    at: datetime
    request_by: datetime
    is_requested: bool
    only: frozenset[int] | None = None
    most_ul: int | None = None
    most_containers: int | None = None
    others_ul: int = 0

    def comes(self, now: datetime) -> bool:
        """Whether it can be counted on: it is requested or still can be, and its day is not over."""
        return self.at > now and can_come(is_requested=self.is_requested, request_by=self.request_by, now=now)


def can_come(*, is_requested: bool, request_by: datetime, now: datetime) -> bool:
    """Whether a pickup comes: it was requested, or at `now` there is still time for it."""
    return is_requested or now <= request_by


@dataclass(frozen=True)
class Band:
    """One quantity on the three paths."""

    low: int
    likely: int
    high: int


def band_of(low: int, likely: int, high: int) -> Band:
    """The band that the three paths span.

    They stand in this order already, but for one case: a collector who leaves a full container behind on the high path alone, while the others
    have an empty one in its place.
    """
    return Band(min(low, likely, high), likely, max(low, likely, high))


@dataclass(frozen=True)
class State:
    """A stream on one path: what each container holds, the room left below fill lines, what waits for room, and what was taken so far."""

    levels_ul: tuple[int, ...]
    room_ul: int
    over_ul: int = 0
    taken_ul: int = 0

    @property
    def total_ul(self) -> int:
        """What stands in the lab: in containers, and waiting for one."""
        return sum(self.levels_ul) + self.over_ul


@dataclass(frozen=True)
class Step:
    """What came or went at `at`, how much on each path, and where the stream then stands.

    `asked` are the containers that a pickup is requested for. `chance_over` is the chance that by then something has found no room since the
    pickup before; None where that is not known, for a pickup left more behind on one path than on another, or a request took room away.
    """

    at: datetime
    addition: Addition | None
    pickup: PickupAhead | None
    moved: Band
    low: State
    likely: State
    high: State
    chance_over: float | None = None
    asked: tuple[int, ...] = ()

    @property
    def total_ul(self) -> Band:
        return band_of(self.low.total_ul, self.likely.total_ul, self.high.total_ul)

    @property
    def over_ul(self) -> Band:
        return band_of(self.low.over_ul, self.likely.over_ul, self.high.over_ul)


@dataclass(frozen=True)
class StreamFill:
    """The forecast of one stream: from `start` through all steps."""

    feed: Feed
    start: State
    steps: tuple[Step, ...]

    @property
    def first_over(self) -> Step | None:
        """The first addition that is expected to find no room, if one does not."""
        return next((step for step in self.steps if step.addition and step.likely.over_ul), None)

    @property
    def first_over_at_worst(self) -> Step | None:
        """The first addition that may find no room, at the upper edge of the band."""
        return next((step for step in self.steps if step.addition and step.high.over_ul), None)

    @property
    def before_pickup(self) -> tuple[Step, ...]:
        """The steps before anything is taken."""
        taken = next((number for number, step in enumerate(self.steps) if step.pickup), len(self.steps))
        return self.steps[:taken]

    @property
    def next_pickup(self) -> PickupAhead | None:
        return next((step.pickup for step in self.steps if step.pickup), None)

    def full_during(self, index: int) -> Addition | None:
        """The addition before the next pickup with which the container at `index` comes to its fill line, if it does."""
        line = self.feed.containers[index].line_ul
        full = (step for step in self.before_pickup if step.likely.levels_ul[index] >= line)
        return next((step.addition for step in full), None)


@dataclass(frozen=True)
class FillDay:
    """One day: what comes, where the stream stands before and after the day's pickup, and the cut-offs that fall on it.

    `room_ul` is the room below fill lines on the likely path before that pickup. `asked` are the containers that a request takes on this day.
    `pickups` are the day's pickups, also those that can't be counted on.
    """

    day: date
    additions: tuple[Step, ...]
    before_ul: Band
    after_ul: Band
    over_ul: Band
    room_ul: int
    asked: tuple[int, ...]
    pickups: tuple[PickupAhead, ...]
    cut_offs: tuple[PickupAhead, ...]


def _poured(levels: Sequence[int], lines: Sequence[int], volume: int) -> tuple[tuple[int, ...], int]:
    """The levels after `volume` was divided among vessels in their order, each up to its line, and what is left over."""
    after = []
    for level, line in zip(levels, lines, strict=True):
        taken = min(volume, max(0, line - level))
        after.append(level + taken)
        volume -= taken
    return tuple(after), volume


# A container by the number of its stream and its own in it.
Place = tuple[int, int]


@dataclass
class _Path:
    """The shelf on one path while it is followed. A container that takes no more counts with its line at nothing.

    `since` are the start dates of what is in the containers, which all paths share.
    """

    feeds: Sequence[Feed]
    since: Sequence[Sequence[datetime]]
    levels: list[tuple[int, ...]] = field(default_factory=list)
    lines: list[list[int]] = field(default_factory=list)
    over: list[int] = field(default_factory=list)
    taken: list[int] = field(default_factory=list)
    before: dict[Place, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for feed in self.feeds:
            self.levels.append(tuple(one.held_ul for one in feed.containers))
            self.lines.append([one.line_ul if one.is_taking else 0 for one in feed.containers])
            self.over.append(0)
            self.taken.append(0)

    def state(self, feed: int) -> State:
        levels = self.levels[feed]
        room = sum(max(0, line - level) for level, line in zip(levels, self.lines[feed], strict=True))
        return State(levels, room, self.over[feed], self.taken[feed])

    def pour(self, feed: int, volume: int) -> None:
        self.levels[feed], left = _poured(self.levels[feed], self.lines[feed], volume)
        self.over[feed] += left

    def room(self, place: Place) -> int:
        feed, index = place
        return max(0, self.lines[feed][index] - self.levels[feed][index])

    def ask_for(self, places: Iterable[Place]) -> None:
        """From now on they take no more; where a collector leaves one behind, it is as before."""
        for feed, index in places:
            self.before[feed, index] = self.lines[feed][index]
            self.lines[feed][index] = 0

    def collect(self, pickup: PickupAhead, places: Sequence[Place]) -> Mapping[Place, int]:
        """Empty what is in the collector's share of `places`, and pour what waits into it; what was taken of each is given back."""
        taken = {}
        for feed, index in places:
            self.lines[feed][index] = self.before.pop((feed, index), self.lines[feed][index])
        for feed, index in self._handed_over(pickup, places):
            taken[feed, index] = self.levels[feed][index]
            self.levels[feed] = (*self.levels[feed][:index], 0, *self.levels[feed][index + 1 :])
            self.lines[feed][index] = self.feeds[feed].containers[index].line_ul
        for feed in range(len(self.feeds)):
            self.taken[feed] += _taken_of(feed, taken)
            waiting, self.over[feed] = self.over[feed], 0
            self.pour(feed, waiting)
        return taken

    def _handed_over(self, pickup: PickupAhead, places: Iterable[Place]) -> Iterator[Place]:
        """What the collector's share is; one that is empty on this path takes nothing of it."""
        loads: dict[str, Place] = {}
        waiting = []
        for feed, index in places:
            level = self.levels[feed][index]
            if level:
                name = f"{len(loads):06}"
                loads[name] = feed, index
                waiting.append(Load(name, level, self.since[feed][index]))
            else:
                yield feed, index
        share = share_of_pickup(
            waiting,
            most_ul=pickup.most_ul,
            most_containers=pickup.most_containers,
            others_ul=pickup.others_ul,
        )
        yield from (loads[load.name] for load in share.goes)


def _taken_of(feed: int, taken: Mapping[Place, int]) -> int:
    return sum(volume for (number, _index), volume in taken.items() if number == feed)


def _may_be_asked(container: Container, pickup: PickupAhead, spoken_for: frozenset[int]) -> bool:
    """Whether a container goes with a pickup: it is on its request, or on no other's where this one is still to be requested."""
    return container.key not in spoken_for if pickup.only is None else container.key in pickup.only


@dataclass(frozen=True)
class _Expected:
    """An addition's volume on each path, and since the pickup before: the likely sum and its standard deviation."""

    moved: Band
    since_ul: int
    deviation_ul: float


def _expected(feed: Feed, additions: Sequence[Addition], empties: Sequence[datetime]) -> Iterator[_Expected]:
    """The volumes of a stream's additions in order of time; with each pickup at one of `empties` the spread is reckoned anew."""
    factor = round(1000 * t_that_holds(SURENESS, degrees=feed.behind - 1))
    window = squares = shared = since = half = 0
    for addition in additions:
        if bisect_left(empties, addition.starts_at) != window:
            window, squares, shared, since, half = bisect_left(empties, addition.starts_at), 0, 0, 0, 0
        since += addition.volume_ul
        squares += addition.spread_ul**2
        shared += addition.shared_ul
        variance = squares + shared**2
        wider = isqrt(variance * factor**2) // 1000 - half
        half += wider
        moved = Band(
            max(0, addition.volume_ul - addition.maybe_ul - wider),
            addition.volume_ul,
            addition.volume_ul + wider,
        )
        yield _Expected(moved, since, sqrt(variance))


def _chance(room_ul: int | None, expected: _Expected, feed: Feed) -> float | None:
    """The chance that what comes since the last pickup is more than the room there was after it."""
    if room_ul is None:
        return None
    if not expected.deviation_ul:
        return float(expected.since_ul > room_ul)
    return share_below((expected.since_ul - room_ul) / expected.deviation_ul, degrees=feed.behind - 1)


def _oldest_first(feeds: Sequence[Feed]) -> list[Place]:
    """Every container of the shelf."""
    every = [
        (container.since, number, index)
        for number, feed in enumerate(feeds)
        for index, container in enumerate(feed.containers)
    ]
    return [(number, index) for _since, number, index in sorted(every)]


@dataclass(frozen=True)
class _Coming:
    """An addition of a stream with what each path makes of it."""

    at: datetime
    feed: int
    addition: Addition
    expected: _Expected


def _all_coming(feeds: Sequence[Feed], pickups: Sequence[PickupAhead]) -> deque[_Coming]:
    """The additions of all streams in order of time."""
    found = []
    for number, feed in enumerate(feeds):
        additions = sorted(feed.additions, key=lambda one: one.starts_at)
        empties = [
            one.at
            for one in pickups
            if any(_may_be_asked(each, one, frozenset()) for each in feed.containers)
        ]
        found += [
            _Coming(addition.starts_at, number, addition, expected)
            for addition, expected in zip(additions, _expected(feed, additions, empties), strict=True)
        ]
    return deque(sorted(found, key=lambda one: (one.at, one.feed)))


class _Following:
    """The three paths of a shelf while they are followed, and the steps that were taken."""

    def __init__(self, feeds: Sequence[Feed], pickups: Sequence[PickupAhead]) -> None:
        self.feeds = feeds
        self.since = [[one.since for one in feed.containers] for feed in feeds]
        self.low, self.likely, self.high = self.paths = [_Path(feeds, self.since) for _path in range(3)]
        self.ahead = _all_coming(feeds, pickups)
        self.order = _oldest_first(feeds)
        self.spoken_for = frozenset[int]().union(*(one.only or () for one in pickups))
        self.asked: dict[int, list[Place]] = {}
        self.starts = [self.likely.state(number) for number in range(len(feeds))]
        self.rooms: list[int | None] = [start.room_ul for start in self.starts]
        self.chances = [0.0] * len(feeds)
        self.steps: list[list[Step]] = [[] for _feed in feeds]

    def _note(
        self,
        feed: int,
        at: datetime,
        moved: Band = Band(0, 0, 0),
        *,
        addition: Addition | None = None,
        pickup: PickupAhead | None = None,
        chance_over: float | None = None,
        asked: tuple[int, ...] = (),
    ) -> None:
        low, likely, high = (path.state(feed) for path in self.paths)
        self.steps[feed].append(Step(at, addition, pickup, moved, low, likely, high, chance_over, asked))

    def pour_until(self, at: datetime | None) -> None:
        """Everything that comes until then; all of it without a time."""
        while self.ahead and (at is None or self.ahead[0].at <= at):
            one = self.ahead.popleft()
            moved, feed = one.expected.moved, one.feed
            empty = [index for index, level in enumerate(self.likely.levels[feed]) if not level]
            for path, volume in zip(self.paths, (moved.low, moved.likely, moved.high), strict=True):
                path.pour(feed, volume)
            for index in empty:
                self.since[feed][index] = one.at
            chance = _chance(self.rooms[feed], one.expected, self.feeds[feed])
            if chance is not None:
                # What has found no room by one class has found none by the next.
                chance = self.chances[feed] = max(chance, self.chances[feed])
            self._note(feed, one.at, moved, addition=one.addition, chance_over=chance)

    def ask(self, pickup: PickupAhead) -> None:
        """A pickup is requested at its cut-off: what is asked for takes no more."""
        self.pour_until(pickup.request_by)
        asked = self.asked[pickup.key] = [*self._to_ask(pickup)]
        takes_room = {feed for feed, index in asked if self.likely.room((feed, index))}
        for path in self.paths:
            path.ask_for(asked)
        for number in {feed for feed, _index in asked}:
            if number in takes_room:
                self.rooms[number] = None
            keys = tuple(self.feeds[feed].containers[index].key for feed, index in asked if feed == number)
            self._note(number, pickup.request_by, asked=keys)

    def _to_ask(self, pickup: PickupAhead) -> Iterator[Place]:
        """What is not empty and can be spared until the pickup, at worst: of each stream those with the most room stay, as far as needed."""
        elsewhere = {place for places in self.asked.values() for place in places}
        for number, feed in enumerate(self.feeds):
            places = [(number, index) for index in range(len(feed.containers))]
            free = [place for place in places if place not in elsewhere]
            standing = [
                (feed_number, index)
                for feed_number, index in free
                if self.high.levels[number][index]
                and _may_be_asked(feed.containers[index], pickup, self.spoken_for)
            ]
            needed = sum(
                one.expected.moved.high for one in self.ahead if one.feed == number and one.at <= pickup.at
            )
            needed -= sum(self.high.room(place) for place in free if place not in standing)
            for place in sorted(standing, key=self.high.room, reverse=True):
                if needed > 0 and self.high.room(place):
                    needed -= self.high.room(place)
                else:
                    yield place

    def collect(self, pickup: PickupAhead) -> None:
        """A pickup comes."""
        self.pour_until(pickup.at)
        asked = self.asked.pop(pickup.key, None)
        places = [
            (number, index)
            for number, index in self.order
            if (
                _may_be_asked(self.feeds[number].containers[index], pickup, frozenset())
                if asked is None
                else (number, index) in asked
            )
        ]
        taken = [path.collect(pickup, places) for path in self.paths]
        for number, index in taken[1]:
            self.since[number][index] = pickup.at
        for number in range(len(self.feeds)):
            left = {(path.levels[number], path.over[number]) for path in self.paths}
            self.rooms[number] = self.likely.state(number).room_ul if len(left) == 1 else None
            self.chances[number] = 0.0
            moved = Band(*(_taken_of(number, volumes) for volumes in taken))
            self._note(number, pickup.at, moved, pickup=pickup)


def forecast(
    feeds: Sequence[Feed], pickups: Iterable[PickupAhead], *, now: datetime
) -> tuple[StreamFill, ...]:
    """Follow every stream of the shelf, through all additions and the pickups that can be counted on at `now`.

    They are one shelf because a collector who takes only so much takes of all streams together. At one moment additions come before a
    request, and a request before a pickup.
    """
    coming = [one for one in pickups if one.comes(now)]
    following = _Following(feeds, coming)
    events: list[tuple[datetime, bool, int, PickupAhead]] = [(one.at, True, one.key, one) for one in coming]
    events += [(one.request_by, False, one.key, one) for one in coming if not one.is_requested]
    for _at, is_day, _key, pickup in sorted(events, key=lambda event: event[:3]):
        if is_day:
            following.collect(pickup)
        else:
            following.ask(pickup)
    following.pour_until(None)
    return tuple(
        StreamFill(feed, start, tuple(own))
        for feed, start, own in zip(feeds, following.starts, following.steps, strict=True)
    )


def days_of(
    fill: StreamFill, pickups: Iterable[PickupAhead], *, first: date, last: date, zone: str
) -> tuple[FillDay, ...]:
    """The forecast day by day on the lab's clock. What should have come before `first` counts as coming on it."""
    booked, rest = tuple(pickups), deque(fill.steps)
    states = (fill.start, fill.start, fill.start)
    found = []
    for day in (first + timedelta(days=number) for number in range((last - first).days + 1)):
        steps = []
        while rest and rest[0].pickup is None and day_at(rest[0].at, zone) <= day:
            steps.append(rest.popleft())
        states = (steps[-1].low, steps[-1].likely, steps[-1].high) if steps else states
        before, over = _totals(states), band_of(*(state.over_ul for state in states))
        room = states[1].room_ul
        while rest and rest[0].pickup is not None and rest[0].pickup.day <= day:
            taken = rest.popleft()
            states = (taken.low, taken.likely, taken.high)
        found.append(
            FillDay(
                day,
                tuple(step for step in steps if step.addition is not None),
                before,
                _totals(states),
                over,
                room,
                tuple(chain.from_iterable(step.asked for step in steps)),
                tuple(one for one in booked if one.day == day),
                tuple(one for one in booked if day_at(one.request_by, zone) == day),
            )
        )
    return tuple(found)


def _totals(states: Sequence[State]) -> Band:
    return band_of(*(state.total_ul for state in states))
