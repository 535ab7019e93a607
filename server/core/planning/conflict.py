"""The smallest set of a class's limits that leaves no way to make every plate, found by solving without each in turn.

Imports the solver, so it is itself imported only when a plan is asked for.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial

from server.core.planning.alike import with_steps
from server.core.planning.problem import Charge, Fixed, Problem, Step
from server.core.planning.search import possible
from server.core.planning.solving import Budget
from server.core.planning.work import take_apart
from server.core.units import duration_words

# Of what is left of the time, the most that one question may use up.
SHARE = 0.3


@dataclass(frozen=True)
class Limit:
    """One limit of a class: its kind, what it is about, its words, and the class without it.

    Lifting limits only ever allows more plans, and the order of lifting does not matter.
    """

    kind: str
    about: str
    words: str
    lift: Callable[[Problem], Problem]


@dataclass(frozen=True)
class Conflict:
    """Limits that together let no plan make every plate.

    If ``smallest``, each of them is needed for that: without any one of them, and without all other limits of the class,
    a plan of all plates was found.
    """

    limits: tuple[Limit, ...]
    smallest: bool


def conflict_of(problem: Problem, budget: Budget) -> Conflict | None:
    """Return the limits that rule out a plan of all plates, None if it is not proven that there is none.

    Limits are dropped one after another as long as the rest still rules it out: the ones a lab would name last go first.
    """
    if budget.spent or possible(take_apart(problem), budget, SHARE) is not False:
        return None
    kept, smallest = list(limits_of(problem)), True
    trial = _without(problem, kept[:-1])
    if possible(take_apart(trial), budget, SHARE) is False:
        kept, problem = kept[-1:], trial
    for limit in tuple(kept):
        trial = limit.lift(problem)
        found = None if budget.spent else possible(take_apart(trial), budget, SHARE)
        if found is False:
            problem = trial
            kept.remove(limit)
        smallest = smallest and found is not None
    return Conflict(tuple(kept[::-1]), smallest)


def limits_of(problem: Problem) -> tuple[Limit, ...]:
    """Return every limit of a class that can be lifted; the ones a lab would name first come last."""
    return (
        *_repeats(problem),
        *_waits(problem),
        *_stillness(problem),
        *_rooms(problem),
        *_lights(problem),
        *_charges(problem),
        *_closed(problem),
        *_fixed(problem),
        _periods(problem),
    )


def _without(problem: Problem, limits: list[Limit]) -> Problem:
    for limit in limits:
        problem = limit.lift(problem)
    return problem


def _repeats(problem: Problem) -> Iterator[Limit]:
    if any(group.reserve for group in problem.groups):
        yield Limit("repeats", "", "plates for repeats come after all others", _all_ordinary)


def _all_ordinary(problem: Problem) -> Problem:
    return replace(problem, groups=tuple(replace(group, reserve=False) for group in problem.groups))


def _waits(problem: Problem) -> Iterator[Limit]:
    found: dict[str, int] = {}
    for group in problem.groups:
        for number in range(1, group.passes + 1):
            for step in problem.steps_of(group, number)[:-1]:
                if step.max_wait_s is not None:
                    found[step.name] = min(step.max_wait_s, found.get(step.name, step.max_wait_s))
    for name, longest_s in sorted(found.items(), key=lambda item: item[1]):
        words = f"after {name} no more than {duration_words(longest_s)} may pass"
        if longest_s == 0:
            words = f"what follows {name} begins at once"
        yield Limit("wait", name, words, partial(with_wait, name, None))


def with_wait(name: str, longest_s: int | None, problem: Problem) -> Problem:
    """Return the problem with another longest wait after the steps of a name that have one."""

    def changed(step: Step) -> Step:
        limited = step.name == name and step.max_wait_s is not None
        return replace(step, max_wait_s=longest_s) if limited else step

    return with_steps(problem, changed)


def _stillness(problem: Problem) -> Iterator[Limit]:
    for zone in sorted({place.still_zone for place in problem.places if place.still_zone is not None}):
        words = f"in {zone} nobody moves while somebody holds still"
        yield Limit("still", zone, words, partial(_apart_in_stillness, zone))


def _apart_in_stillness(zone: str, problem: Problem) -> Problem:
    places = (replace(one, still_zone=None) if one.still_zone == zone else one for one in problem.places)
    return replace(problem, places=tuple(places))


def _lights(problem: Problem) -> Iterator[Limit]:
    for zone in problem.light_zones:
        if zone.afterglow_s:
            words = f"the lights of {zone.name} glow on for {duration_words(zone.afterglow_s)}"
            yield Limit("afterglow", zone.name, words, partial(_without_afterglow, zone.name))
    for name in sorted({place.light_zone for place in problem.places if place.light_zone is not None}):
        words = f"in {name} the lights are off for dark steps and on for lit ones"
        yield Limit("light", name, words, partial(_apart_in_light, name))


def _without_afterglow(name: str, problem: Problem) -> Problem:
    return replace(problem, light_zones=tuple(zone for zone in problem.light_zones if zone.name != name))


def _apart_in_light(zone: str, problem: Problem) -> Problem:
    places = (replace(one, light_zone=None) if one.light_zone == zone else one for one in problem.places)
    return replace(_without_afterglow(zone, problem), places=tuple(places))


def _rooms(problem: Problem) -> Iterator[Limit]:
    """Yield the capacity of every kind of place, the least busy first."""
    work = take_apart(problem)
    load = [
        sum(
            sum(job.shortest(step) for step in range(stay.first, stay.last + 1)) / len(stay.kinds)
            for job in work.jobs
            for stay in job.stays
            if number in stay.kinds
        )
        / kind.capacity
        for number, kind in enumerate(work.kinds)
    ]
    for number, kind in sorted(enumerate(work.kinds), key=lambda item: load[item[0]]):
        if load[number] and kind.capacity < len(work.jobs):
            names = tuple(place.name for place in kind.places)
            count = "1 plate" if kind.capacity == 1 else f"{kind.capacity} plates"
            words = f"{count} at a time at {', '.join(names)}"
            yield Limit("room", names[0], words, partial(_with_room_for, names, len(work.jobs)))


def _with_room_for(names: tuple[str, ...], plates: int, problem: Problem) -> Problem:
    places = (replace(one, capacity=plates) if one.name in names else one for one in problem.places)
    return replace(problem, places=tuple(places))


def _charges(problem: Problem) -> Iterator[Limit]:
    for place in problem.places:
        if place.charges:
            words = f"the life and the plates of what is in {place.name}"
            yield Limit("charge", place.name, words, partial(with_charges, place.name, ()))


def with_charges(name: str, charges: tuple[Charge, ...], problem: Problem) -> Problem:
    """Return the problem with other charges in a place."""
    places = (replace(one, charges=charges) if one.name == name else one for one in problem.places)
    return replace(problem, places=tuple(places))


def _closed(problem: Problem) -> Iterator[Limit]:
    for place in problem.places:
        if place.closed:
            yield Limit(
                "closed", place.name, f"{place.name} is closed for a time", partial(_opened, place.name)
            )


def _opened(name: str, problem: Problem) -> Problem:
    places = (replace(one, closed=()) if one.name == name else one for one in problem.places)
    return replace(problem, places=tuple(places))


def _fixed(problem: Problem) -> Iterator[Limit]:
    for fixed in problem.fixed:
        words = (
            f"{fixed.group}'s {fixed.step} of plate {fixed.pass_no} is fixed at {fixed.place}, "
            f"{duration_words(fixed.start_s)} after the start"
        )
        yield Limit("fixed", fixed.group, words, partial(_let_go, fixed))


def _let_go(fixed: Fixed, problem: Problem) -> Problem:
    return replace(problem, fixed=tuple(one for one in problem.fixed if one != fixed))


def _periods(problem: Problem) -> Limit:
    lengths = [closes - opens for opens, closes in problem.periods]
    words = (
        f"the period of {duration_words(lengths[0])}"
        if len(lengths) == 1
        else f"the {len(lengths)} periods, {duration_words(sum(lengths))} together"
    )
    return Limit("periods", "", words, _unending)


def _unending(problem: Problem) -> Problem:
    """Return the problem with one period in which every plate can be made alone, after all that is fixed or closed."""
    opens, closes = problem.periods[0][0], problem.periods[-1][1]
    moments = [closes, *(fixed.start_s for fixed in problem.fixed)]
    moments += [end for place in problem.places for _, end in place.closed]
    moments += [charge.until_s for place in problem.places for charge in place.charges]
    jobs = take_apart(problem).jobs
    ample = sum(max(seconds.values()) for job in jobs for seconds in job.seconds)
    glow = sum(zone.afterglow_s for zone in problem.light_zones) * (len(jobs) + 1)
    return replace(problem, periods=((opens, max(moments) + ample + glow),))
