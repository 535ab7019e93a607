"""Lower bounds on the finish that need no search."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from server.core.planning.work import Job, Work


@dataclass(frozen=True)
class AfterFixed:
    """A fixed step and the fewest seconds from its start to the end of its pass."""

    ends_s: int
    group: str
    pass_no: int
    step: str
    start_s: int
    seconds: int


@dataclass(frozen=True)
class LongestGroup:
    """The fewest seconds that a group needs for its passes, one after another."""

    ends_s: int
    group: str
    passes: int
    seconds: int


@dataclass(frozen=True)
class FullestPlaces:
    """Places that are offered together: ``work_s`` of work for ``plates`` plates, ``capacity`` of them at once.

    ``before_s`` pass at least before the first plate can be there, and ``after_s`` after the last has left.
    """

    ends_s: int
    places: tuple[str, ...]
    plates: int
    work_s: int
    capacity: int
    before_s: int
    after_s: int


Limit = AfterFixed | LongestGroup | FullestPlaces


def simple_bound(work: Work) -> int:
    """Return a second before which no plan of all passes can end."""
    return strongest_limit(work).ends_s


def strongest_limit(work: Work) -> Limit:
    """Return what rules out the most early finishes without a search; the simplest of those that rule out as many.

    The largest of three: every fixed step and what must follow it; every group's passes one after another; and at
    the places that are offered together the shortest way there, the least work divided by their capacity, and the
    shortest way on.
    """
    limits: list[Limit] = [*_groups(work), *_places(work), *_after_fixed(work)]
    return max(limits, key=lambda limit: limit.ends_s)


def shortest_chain(job: Job, first: int, last: int) -> int:
    """Return the fewest seconds from the start of one step to the end of another."""
    return sum(job.shortest(step) for step in range(first, last + 1))


def _after_fixed(work: Work) -> Iterator[AfterFixed]:
    for job in work.jobs:
        for step, pin in job.pins.items():
            seconds = shortest_chain(job, step, len(job.steps) - 1)
            group = work.problem.groups[job.group].name
            yield AfterFixed(
                pin.start_s + seconds, group, job.pass_no, job.steps[step].name, pin.start_s, seconds
            )


def _groups(work: Work) -> Iterator[LongestGroup]:
    present: dict[int, int] = defaultdict(int)
    shortest_tail: dict[int, int] = {}
    for job in work.jobs:
        attended = -1 if job.last_attended is None else job.last_attended
        present[job.group] += shortest_chain(job, 0, attended)
        tail = shortest_chain(job, attended + 1, len(job.steps) - 1)
        shortest_tail[job.group] = min(tail, shortest_tail.get(job.group, tail))
    for number, attended_s in present.items():
        group, seconds = work.problem.groups[number], attended_s + shortest_tail[number]
        yield LongestGroup(work.problem.periods[0][0] + seconds, group.name, group.passes, seconds)


def _places(work: Work) -> Iterator[FullestPlaces]:
    total: dict[tuple[int, ...], int] = defaultdict(int)
    plates: dict[tuple[int, ...], int] = defaultdict(int)
    head: dict[tuple[int, ...], int] = {}
    tail: dict[tuple[int, ...], int] = {}
    for job in work.jobs:
        for stay in job.stays:
            offered = stay.kinds
            total[offered] += shortest_chain(job, stay.first, stay.last)
            plates[offered] += 1
            before = shortest_chain(job, 0, stay.first - 1)
            after = shortest_chain(job, stay.last + 1, len(job.steps) - 1)
            head[offered] = min(before, head.get(offered, before))
            tail[offered] = min(after, tail.get(offered, after))
    for offered, work_s in total.items():
        places = [place for kind in offered for place in work.kinds[kind].places]
        capacity = sum(place.capacity for place in places)
        least_s = head[offered] - (-work_s // capacity) + tail[offered]
        yield FullestPlaces(
            work.problem.periods[0][0] + least_s,
            tuple(place.name for place in places),
            plates[offered],
            work_s,
            capacity,
            head[offered],
            tail[offered],
        )
