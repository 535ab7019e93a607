"""Two classes whose places no longer differ in their times, one easier and one harder than the class itself.

Places that are alike make the search short: the easier class bounds the finish, the harder one gives a good start.
"""

from collections.abc import Callable
from dataclasses import replace

from server.core.planning.problem import Problem, Step
from server.core.planning.work import Schedule, Work, schedule_of, visits_of


def with_shortest_times(problem: Problem) -> Problem:
    """Return the class in which every step takes its shortest time at every place.

    A step cut short leaves a wait behind it, so the wait allowed there grows by what was cut: every plan of the
    class is a plan of this one too.
    """
    return with_steps(problem, _shortest)


def with_longest_times(problem: Problem) -> Problem | None:
    """Return the class in which every step takes its longest time at every place.

    A step that really ends sooner leaves a wait behind it, so the wait allowed there shrinks by as much. None if
    some wait is too short for that: then a plan of such a class need not be a plan of the class itself.
    """
    lists = [problem.steps, *(group.steps or () for group in problem.groups)]
    lists.extend(steps for group in problem.groups for steps in group.pass_steps or ())
    for steps in lists:
        for step in steps[:-1]:
            if step.max_wait_s is not None and step.max_wait_s < _spread(step):
                return None
    return with_steps(problem, _longest)


def moved_to(work: Work, alike: Work, schedule: Schedule) -> Schedule:
    """Return a schedule of the class with the longest times as one of the class itself."""
    return schedule_of(work, visits_of(alike, schedule))


def with_steps(problem: Problem, change: Callable[[Step], Step]) -> Problem:
    """Return the class with every step changed, also in groups' own lists."""
    groups = tuple(
        replace(
            group,
            steps=None if group.steps is None else tuple(map(change, group.steps)),
            pass_steps=None
            if group.pass_steps is None
            else tuple(tuple(map(change, steps)) for steps in group.pass_steps),
        )
        for group in problem.groups
    )
    return replace(problem, steps=tuple(map(change, problem.steps)), groups=groups)


def times_of(step: Step) -> list[int]:
    """Return the seconds that a step takes at one place or another."""
    return [step.seconds] if isinstance(step.seconds, int) else list(dict(step.seconds).values())


def _spread(step: Step) -> int:
    return max(times_of(step)) - min(times_of(step))


def _shortest(step: Step) -> Step:
    wait = None if step.max_wait_s is None else step.max_wait_s + _spread(step)
    return replace(step, seconds=min(times_of(step)), max_wait_s=wait)


def _longest(step: Step) -> Step:
    wait = None if step.max_wait_s is None else max(0, step.max_wait_s - _spread(step))
    return replace(step, seconds=max(times_of(step)), max_wait_s=wait)
