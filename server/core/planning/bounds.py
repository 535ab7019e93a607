"""Lower bounds on the finish that need no search."""

from collections import defaultdict

from server.core.planning.work import Job, Work


def simple_bound(work: Work) -> int:
    """Return a second before which no plan of all passes can end.

    The largest of three: every fixed step and what must follow it; every group's passes one after another; and at
    the places that are offered together the shortest way there, the least work divided by their capacity, and the
    shortest way on.
    """
    opens = work.problem.periods[0][0]
    return max(_after_pins(work), opens + _longest_group(work), opens + _fullest_place(work))


def shortest_chain(job: Job, first: int, last: int) -> int:
    """Return the fewest seconds from the start of one step to the end of another."""
    return sum(job.shortest(step) for step in range(first, last + 1))


def _after_pins(work: Work) -> int:
    return max(
        (
            pin.start_s + shortest_chain(job, step, len(job.steps) - 1)
            for job in work.jobs
            for step, pin in job.pins.items()
        ),
        default=0,
    )


def _longest_group(work: Work) -> int:
    present: dict[int, int] = defaultdict(int)
    shortest_tail: dict[int, int] = {}
    for job in work.jobs:
        attended = -1 if job.last_attended is None else job.last_attended
        present[job.group] += shortest_chain(job, 0, attended)
        tail = shortest_chain(job, attended + 1, len(job.steps) - 1)
        shortest_tail[job.group] = min(tail, shortest_tail.get(job.group, tail))
    return max(present[group] + shortest_tail[group] for group in present)


def _fullest_place(work: Work) -> int:
    total: dict[tuple[int, ...], int] = defaultdict(int)
    head: dict[tuple[int, ...], int] = {}
    tail: dict[tuple[int, ...], int] = {}
    for job in work.jobs:
        for stay in job.stays:
            offered = stay.kinds
            total[offered] += shortest_chain(job, stay.first, stay.last)
            before = shortest_chain(job, 0, stay.first - 1)
            after = shortest_chain(job, stay.last + 1, len(job.steps) - 1)
            head[offered] = min(before, head.get(offered, before))
            tail[offered] = min(after, tail.get(offered, after))
    capacity = {offered: sum(work.kinds[kind].capacity for kind in offered) for offered in total}
    return max(
        (head[offered] + -(-total[offered] // capacity[offered]) + tail[offered] for offered in total),
        default=0,
    )
