"""A problem taken apart for planning: kinds of places, jobs, stays and blocks.

Places that nothing tells apart are merged into one kind with their capacities added; real places are given
out afterwards, which always works because visits to a kind are intervals of time.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from math import gcd

from server.core.planning.answer import Visit
from server.core.planning.problem import Charge, Group, Place, Problem, Step, places_of_steps


@dataclass(frozen=True)
class Kind:
    """Places that are alike, as one place with their capacities added."""

    places: tuple[Place, ...]

    @property
    def capacity(self) -> int:
        """Plates at once in all places of the kind."""
        return sum(place.capacity for place in self.places)

    @property
    def light_zone(self) -> str | None:
        """The zone whose white light the places share."""
        return self.places[0].light_zone

    @property
    def still_zone(self) -> str | None:
        """The zone whose vibration the places share."""
        return self.places[0].still_zone

    @cached_property
    def charges(self) -> tuple[Charge, ...]:
        """What is in the place and when, soonest end first; empty where anything goes at any time."""
        return tuple(sorted(self.places[0].charges, key=lambda charge: (charge.until_s, charge.from_s)))

    @cached_property
    def closed(self) -> tuple[tuple[int, int], ...]:
        """When nothing may be at the place, in order and apart."""
        found: list[tuple[int, int]] = []
        for shut, opens in sorted(self.places[0].closed):
            if found and shut <= found[-1][1]:
                found[-1] = found[-1][0], max(opens, found[-1][1])
            else:
                found.append((shut, opens))
        return tuple(found)


@dataclass(frozen=True)
class Stay:
    """Steps ``first`` to ``last`` of a pass, all at one place of one of the kinds."""

    first: int
    last: int
    kinds: tuple[int, ...]


@dataclass(frozen=True)
class Block:
    """Steps ``first`` to ``last`` of a pass with no wait between them; ``max_wait_s`` holds after the last."""

    first: int
    last: int
    max_wait_s: int | None


@dataclass(frozen=True)
class Pin:
    """A fixed step of a job: the kind it is at and the second it starts."""

    kind: int
    start_s: int


@dataclass(frozen=True)
class Job:
    """One pass of one group. ``number`` is its place in ``Work.jobs``."""

    number: int
    group: int
    pass_no: int
    steps: tuple[Step, ...]
    stays: tuple[Stay, ...]
    blocks: tuple[Block, ...]
    seconds: tuple[Mapping[int, int], ...]
    pins: Mapping[int, Pin]

    @cached_property
    def stay_of(self) -> tuple[int, ...]:
        """For each step the index of its stay."""
        return tuple(index for index, stay in enumerate(self.stays) for _ in range(stay.first, stay.last + 1))

    @cached_property
    def last_attended(self) -> int | None:
        """The last step the group must be present for."""
        return max((index for index, step in enumerate(self.steps) if step.attended), default=None)

    @cached_property
    def steady(self) -> bool:
        """Whether every stay has one kind, so that every step has one duration."""
        return all(len(stay.kinds) == 1 for stay in self.stays)

    def kinds_of(self, step: int) -> tuple[int, ...]:
        """Return the kinds of place the step may be at."""
        return self.stays[self.stay_of[step]].kinds

    def shortest(self, step: int) -> int:
        """Return the fewest seconds the step can take."""
        return min(self.seconds[step].values())


@dataclass(frozen=True)
class Placed:
    """A job's answer: a start for each step and a kind for each stay."""

    starts: tuple[int, ...]
    kinds: tuple[int, ...]


Schedule = Mapping[int, Placed]


@dataclass(frozen=True)
class Work:
    """The whole problem taken apart. ``jobs`` are in order of pass, then group.

    ``families`` are lists of groups that nothing tells apart. ``sequences`` are lists of jobs that may be taken
    first in, first out at every step without losing any plan.
    """

    problem: Problem
    kinds: tuple[Kind, ...]
    jobs: tuple[Job, ...]
    families: tuple[tuple[int, ...], ...]
    sequences: tuple[tuple[int, ...], ...]

    @cached_property
    def passes(self) -> Mapping[tuple[int, int], Job]:
        """Jobs by group number and pass number."""
        return {(job.group, job.pass_no): job for job in self.jobs}

    @cached_property
    def first_alike(self) -> tuple[int, ...]:
        """For each job the first one with the same steps and fixed starts, which may be itself."""
        first: dict[object, int] = {}
        return tuple(first.setdefault((job.steps, tuple(job.pins.items())), job.number) for job in self.jobs)

    @cached_property
    def begun(self) -> frozenset[int]:
        """Jobs that every plan must place: those with a fixed step, and those that come before one in their group."""
        found = {job.number for job in self.jobs if job.pins}
        for job in self.jobs:
            if job.pins and not self.problem.groups[job.group].any_order:
                found.update(self.passes[job.group, pass_no].number for pass_no in range(1, job.pass_no))
        return frozenset(found)

    @cached_property
    def reserve(self) -> frozenset[int]:
        """Jobs that are kept free for repeats."""
        return frozenset(job.number for job in self.jobs if self.problem.groups[job.group].reserve)

    @cached_property
    def held_back(self) -> frozenset[int]:
        """Jobs that begin when all that is not kept for repeats has left its first place."""
        return frozenset(number for number in self.reserve if not self.jobs[number].pins)

    def worth(self, number: int) -> int:
        """Return what a job counts for: any that is not kept for repeats more than all that are."""
        return 1 if number in self.reserve else len(self.reserve) + 1

    def worth_of(self, schedule: Schedule) -> int:
        """Return what the jobs of a schedule count for together."""
        return sum(map(self.worth, schedule))

    @property
    def end_s(self) -> int:
        """The end of the last period."""
        return self.problem.periods[-1][1]

    def ends(self, job: Job, placed: Placed) -> tuple[int, ...]:
        """Return the end of each step."""
        return tuple(
            start + job.seconds[step][placed.kinds[job.stay_of[step]]]
            for step, start in enumerate(placed.starts)
        )

    def finish(self, schedule: Schedule) -> int:
        """Return the second the last step ends, 0 for no jobs."""
        return max(
            (self.ends(self.jobs[number], placed)[-1] for number, placed in schedule.items()), default=0
        )


def take_apart(problem: Problem, *, merge: bool = True) -> Work:
    """Return the problem as kinds of places and jobs.

    Without ``merge`` every place is a kind of its own and every group and pass itself, as for people who know their plan.
    """
    kinds = _kinds(problem) if merge else tuple(Kind((place,)) for place in problem.places)
    kind_of = {place.name: number for number, kind in enumerate(kinds) for place in kind.places}
    jobs: list[Job] = []
    for pass_no in range(1, max(group.passes for group in problem.groups) + 1):
        for number, group in enumerate(problem.groups):
            if pass_no <= group.passes:
                jobs.append(_job(problem, len(jobs), number, group, pass_no, kind_of))
    by_pass = {(job.group, job.pass_no): job for job in jobs}
    if not merge:
        return Work(
            problem, kinds, tuple(jobs), tuple((number,) for number in range(len(problem.groups))), ()
        )
    families = _families(problem)
    sequences: list[tuple[int, ...]] = []
    for family in families:
        sequences.extend(_sequences(problem, family, by_pass, kinds))
    return Work(problem, kinds, tuple(jobs), families, tuple(sequences))


def _kinds(problem: Problem) -> tuple[Kind, ...]:
    """Merge places alike in their zones and closed times that every step offers together for the same seconds.

    Charges that serve so many plates and no more are counted place by place, so such places stay apart.
    """
    uses: dict[str, list[object]] = {place.name: [] for place in problem.places}
    lists = {
        problem.steps_of(group, number) for group in problem.groups for number in range(1, group.passes + 1)
    }
    for steps in sorted(lists, key=repr):
        for index, (step, places) in enumerate(zip(steps, places_of_steps(steps), strict=True)):
            for name in places:
                uses[name].append((steps, index, step.seconds_at(name)))
    fixed = {fixed.place for fixed in problem.fixed}
    merged: dict[object, list[Place]] = defaultdict(list)
    for place in problem.places:
        counted = any(charge.plates is not None for charge in place.charges)
        alone = place.name if place.name in fixed or counted or not uses[place.name] else None
        times = place.closed, place.charges
        merged[place.light_zone, place.still_zone, times, tuple(uses[place.name]), alone].append(place)
    return tuple(Kind(tuple(places)) for places in merged.values())


def _job(
    problem: Problem, number: int, group_number: int, group: Group, pass_no: int, kind_of: Mapping[str, int]
) -> Job:
    steps = problem.steps_of(group, pass_no)
    places = places_of_steps(steps)
    seconds = tuple(
        {kind_of[place]: step.seconds_at(place) for place in offered}
        for step, offered in zip(steps, places, strict=True)
    )
    pins = {
        index: Pin(kind_of[fixed.place], fixed.start_s)
        for index, step in enumerate(steps)
        for fixed in problem.fixed
        if (fixed.group, fixed.pass_no, fixed.step) == (group.name, pass_no, step.name)
    }
    stays: list[Stay] = []
    for first, last in _runs([step.at == "same" for step in steps]):
        offered_kinds = tuple(sorted(seconds[first]))
        pinned = {pin.kind for index, pin in pins.items() if first <= index <= last}
        stays.append(Stay(first, last, tuple(sorted(pinned)) if pinned else offered_kinds))
    joined = [False] + [step.max_wait_s == 0 for step in steps[:-1]]
    blocks = tuple(Block(first, last, steps[last].max_wait_s) for first, last in _runs(joined))
    narrowed = tuple(
        {kind: seconds[index][kind] for kind in stay.kinds}
        for stay in stays
        for index in range(stay.first, stay.last + 1)
    )
    return Job(number, group_number, pass_no, steps, tuple(stays), blocks, narrowed, pins)


def _runs(joined: Sequence[bool]) -> list[tuple[int, int]]:
    """Return the first and last index of each run; ``joined`` tells whether an item belongs to the one before."""
    starts = [index for index, joins in enumerate(joined) if not joins]
    return list(zip(starts, [start - 1 for start in starts[1:]] + [len(joined) - 1], strict=True))


def _families(problem: Problem) -> tuple[tuple[int, ...], ...]:
    """Return the groups that have the same passes and nothing fixed, together."""
    fixed = {fixed.group for fixed in problem.fixed}
    alike: dict[object, list[int]] = defaultdict(list)
    for number, group in enumerate(problem.groups):
        each = tuple(problem.steps_of(group, pass_no) for pass_no in range(1, group.passes + 1))
        alone = group.name if group.name in fixed else None
        alike[each, group.any_order and len(set(each)) > 1, group.reserve, alone].append(number)
    return tuple(tuple(members) for members in alike.values())


def _sequences(
    problem: Problem,
    family: tuple[int, ...],
    jobs: Mapping[tuple[int, int], Job],
    kinds: Sequence[Kind],
) -> list[tuple[int, ...]]:
    """Return the family's jobs as sequences that lose nothing when taken first in, first out.

    Sorting the starts of every step over identical jobs keeps every wait, capacity, closed time and zone, because
    each of those depends on the sorted starts alone. When all passes are alike, dealing the sorted jobs to the groups
    in turn also keeps each group's passes apart: never more of them overlap than there are groups. Stays with a wait
    inside would be cut anew by the sorting, and a charge with few plates might not serve the longer ones.
    """
    first = problem.groups[family[0]]
    pass_numbers = range(1, first.passes + 1)
    mine = [[jobs[group, pass_no] for group in family] for pass_no in pass_numbers]
    if any(job.pins or not job.steady or _waits_in_charge(job, kinds) for row in mine for job in row):
        return []
    if len({row[0].steps for row in mine}) == 1:
        return [tuple(job.number for row in mine for job in row)]
    return [] if first.any_order else [tuple(job.number for job in row) for row in mine]


def _waits_in_charge(job: Job, kinds: Sequence[Kind]) -> bool:
    """Tell whether a stay is longer than its block at a place whose charges serve so many plates and no more."""
    return any(
        not any(block.first <= stay.first and stay.last <= block.last for block in job.blocks)
        and any(charge.plates is not None for kind in stay.kinds for charge in kinds[kind].charges)
        for stay in job.stays
    )


def tick_of(work: Work) -> int:
    """Return the greatest common divisor of every duration, wait and fixed start, and of what only then may begin.

    That is a period, a charge, what follows a closed time or an afterglow. When one of them ends need not be a multiple:
    earliest starts are, so an end may be rounded down.
    """
    numbers = [opens for opens, _ in work.problem.periods]
    for kind in {kind for job in work.jobs for stay in job.stays for kind in stay.kinds}:
        numbers.append(work.problem.afterglow_s(work.kinds[kind].light_zone))
        begins = [opens for _, opens in work.kinds[kind].closed]
        begins.extend(charge.from_s for charge in work.kinds[kind].charges)
        numbers.extend(second for second in begins if second <= work.end_s)
    for job in work.jobs:
        for seconds in job.seconds:
            numbers.extend(seconds.values())
        numbers.extend(pin.start_s for pin in job.pins.values())
        numbers.extend(block.max_wait_s for block in job.blocks[:-1] if block.max_wait_s is not None)
    return reduce(gcd, numbers)


def visits_of(work: Work, schedule: Schedule) -> tuple[Visit, ...]:
    """Return the schedule as visits to real places, by time and then by group.

    Each stay takes the first place of its kind with room; taking stays by their start never runs out of room.
    """
    free: dict[int, list[tuple[Place, list[int]]]] = {
        number: [(place, [0] * place.capacity) for place in kind.places]
        for number, kind in enumerate(work.kinds)
    }
    stays = sorted(
        (placed.starts[stay.first], number, index)
        for number, placed in schedule.items()
        for index, stay in enumerate(work.jobs[number].stays)
    )
    where: dict[tuple[int, int], str] = {}
    for start, number, index in stays:
        job, placed = work.jobs[number], schedule[number]
        end = work.ends(job, placed)[job.stays[index].last]
        place, slots, slot = next(
            (place, slots, slot)
            for place, slots in free[placed.kinds[index]]
            for slot, until in enumerate(slots)
            if until <= start
        )
        slots[slot] = end
        where[number, index] = place.name
    visits = [
        (start, end, job.group, job.pass_no, step, where[number, job.stay_of[step]])
        for number, placed in schedule.items()
        for job in (work.jobs[number],)
        for step, (start, end) in enumerate(zip(placed.starts, work.ends(job, placed), strict=True))
    ]
    return tuple(
        Visit(
            work.problem.groups[group].name,
            pass_no,
            work.problem.steps_of(work.problem.groups[group], pass_no)[step].name,
            place,
            start,
            end,
        )
        for start, end, group, pass_no, step, place in sorted(visits)
    )


def schedule_of(work: Work, visits: Sequence[Visit]) -> Schedule:
    """Return visits to real places, of whole passes, as the schedule that they are."""
    kind_of = {place.name: number for number, kind in enumerate(work.kinds) for place in kind.places}
    names = {group.name: number for number, group in enumerate(work.problem.groups)}
    found: dict[int, dict[str, Visit]] = defaultdict(dict)
    for visit in visits:
        found[work.passes[names[visit.group], visit.pass_no].number][visit.step] = visit
    return {
        number: Placed(
            tuple(mine[step.name].start_s for step in work.jobs[number].steps),
            tuple(
                kind_of[mine[work.jobs[number].steps[stay.first].name].place]
                for stay in work.jobs[number].stays
            ),
        )
        for number, mine in found.items()
    }


def better(work: Work, one: Schedule, other: Schedule) -> Schedule:
    """Return the schedule whose passes count for more, or for as much with an earlier finish; else the one."""
    return min(one, other, key=lambda schedule: (-work.worth_of(schedule), work.finish(schedule)))
