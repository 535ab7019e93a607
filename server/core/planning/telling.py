"""Why a plan ends when it does, and why none ends before its bound, in sentences for a person."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from server.core.planning.answer import Plan, Visit
from server.core.planning.bounds import AfterFixed, LongestGroup, strongest_limit
from server.core.planning.explaining import Part, Stretch, why_it_ends
from server.core.planning.phases import zones_in_both_lights
from server.core.planning.problem import Group, Problem
from server.core.planning.work import take_apart
from server.core.units import duration_words

# Turns a second into a time of day, or into hours and minutes from the start.
Clock: TypeAlias = Callable[[int], str]

# Stretches, from the last one back, that the short answer tells of.
TOLD = 2

WAITING = {
    "dark": "waiting for the dark",
    "lit": "waiting for the lights",
    "afterglow": "waiting for the lights to stop glowing",
    "still": "waiting for stillness",
    "moves": "waiting until moving was allowed",
    "opens": "before a period opened",
    "closed": "before a place was open again",
    "charge": "before a charge began",
    "fixed": "before a fixed start",
    "slack": "that no rule asks for",
}


@dataclass(frozen=True)
class Line:
    """One stretch of the chain in words: when, whose plate, what and where, its part of the finish, and its cause."""

    starts: str
    ends: str
    who: str
    steps: str
    places: str
    length: str
    why: str


@dataclass(frozen=True)
class Telling:
    """Why a plan ends when it does: in one sentence, in a few, as a list in the order of time, and as a sum.

    ``parts`` add up to ``whole``; ``bound`` says why no plan ends earlier than the bound.
    """

    sentence: str
    sentences: tuple[str, ...]
    lines: tuple[Line, ...]
    whole: str
    parts: tuple[str, ...]
    bound: str


def tell(problem: Problem, plan: Plan, at: Clock) -> Telling | None:
    """Return the whole answer in words, None for a plan without visits."""
    chain = why_it_ends(problem, plan)
    if chain is None:
        return None
    whole, parts = duration_words(chain.finish_s), tuple(map(part_words, chain.parts))
    last = chain.last
    count = next(group.passes for group in problem.groups if group.name == last.group)
    what = f"{last.group}'s {last.step}" + (f" of plate {last.pass_no}" if count > 1 else "")
    ends = f"It ends at {at(last.end_s)} because {what} at {last.place} is last"
    behind = [
        f"{plate(stretch.visits[0])} ({_steps(stretch)}): {stretch_words(problem, stretch, at)}"
        for stretch in chain.stretches[:0:-1][:TOLD]
    ]
    return Telling(
        f"{ends}: of {whole}, {'; '.join(parts)}.",
        (f"{ends}.", *behind),
        tuple(_line(problem, stretch, at) for stretch in chain.stretches),
        whole,
        parts,
        why_no_earlier(problem, plan, at),
    )


def part_words(part: Part) -> str:
    """Return the seconds of one part and where they go."""
    where = f"at {_listed(part.places)}" if part.places else WAITING[part.cause]
    return f"{duration_words(part.seconds)} {where}"


def _line(problem: Problem, stretch: Stretch, at: Clock) -> Line:
    return Line(
        at(stretch.visits[0].start_s),
        at(stretch.visits[-1].end_s),
        plate(stretch.visits[0]),
        ", ".join(visit.step for visit in stretch.visits),
        "; ".join(stretch.places),
        duration_words(stretch.seconds),
        stretch_words(problem, stretch, at),
    )


def _steps(stretch: Stretch) -> str:
    names = [visit.step for visit in stretch.visits]
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"


def plate(visit: Visit) -> str:
    """Return whose plate a visit is of."""
    return f"{visit.group}, plate {visit.pass_no}"


def stretch_words(problem: Problem, stretch: Stretch, at: Clock) -> str:
    """Return why a stretch begins no earlier."""
    return " ".join(_stretch_words(problem, stretch, at))


def _stretch_words(problem: Problem, stretch: Stretch, at: Clock) -> Iterator[str]:
    first = stretch.visits[0]
    if stretch.slack_s:
        yield (
            f"This and all that follows here could begin {duration_words(stretch.slack_s)} earlier in the same order; "
            "the search has not packed it. Then:"
        )
    if stretch.held != first:
        yield f"After {first.step}, {stretch.held.step} may not come later than it does:"
    words = _cause_words(problem, stretch, at)
    yield words[0].upper() + words[1:] if stretch.held == first and not stretch.slack_s else words
    if stretch.waited_s and stretch.by is not None:
        begun = problem.steps_of(_group(problem, first.group), first.pass_no)[0].name != first.step
        waited = duration_words(stretch.waited_s)
        yield f"The plate had waited {waited}." if begun else f"{first.group} had been free for {waited}."


def _group(problem: Problem, name: str) -> Group:
    return next(group for group in problem.groups if group.name == name)


def _cause_words(problem: Problem, stretch: Stretch, at: Clock) -> str:
    held, by = stretch.held, stretch.by
    if by is None:
        return _moment_words(problem, stretch, at)
    place = next(place for place in problem.places if place.name == held.place)
    until = at(by.end_s)
    lasted = f"from {at(stretch.since_s)} to {until} ({duration_words(by.end_s - stretch.since_s)})"
    full = f"{held.place} held {whose(by)} {lasted}."
    if place.capacity > 1:
        full = f"{held.place} was full with {place.capacity} plates until {until}, when {whose(by)} left."
    glow = at(by.end_s + problem.afterglow_s(place.light_zone))
    return {
        "own": f"{by.step} before it lasted until {until}.",
        "wait": f"{by.step} may not come later after {held.step} than it does.",
        "place": full,
        "dark": f"{held.step} needs the dark, and the lights of {place.light_zone} were on for {_doing(by)} {lasted}.",
        "lit": f"{held.step} needs the lights, and {place.light_zone} was dark for {_doing(by)} {lasted}.",
        "afterglow": (
            f"{held.step} needs the dark, and the lights of {place.light_zone}, on for {_doing(by)} until {until}, "
            f"glowed until {glow}."
        ),
        "still": f"{held.step} needs stillness, and {_doing(by)} moved {place.still_zone} {lasted}.",
        "moves": f"{held.step} moves {place.still_zone}, which had to be still for {_doing(by)} {lasted}.",
        "group": f"{held.group} was busy with its plate {by.pass_no} until {until}.",
        "reserve": (
            f"plates for repeats begin when every other plate has left its first place; {whose(by)} left {by.place} "
            f"at {until}."
        ),
    }[stretch.cause]


def _moment_words(problem: Problem, stretch: Stretch, at: Clock) -> str:
    held = stretch.held
    begins_s = held.start_s - stretch.slack_s
    moment = at(begins_s)
    return {
        "opens": "it begins with the class."
        if begins_s == problem.periods[0][0]
        else f"its period opened only at {moment}.",
        "closed": f"{held.place} was closed until {moment}.",
        "charge": f"the charge in {held.place} began only at {moment}.",
        "fixed": f"{held.step} is fixed at {moment}.",
        "afterglow": f"{held.step} needs the dark, and the lights, on until the period opened, glowed until {moment}.",
    }[stretch.cause]


def whose(visit: Visit) -> str:
    """Return a plate as somebody's, such as “G1's plate 2”."""
    return f"{visit.group}'s plate {visit.pass_no}"


def _doing(visit: Visit) -> str:
    return f"{visit.group}'s {visit.step}"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def why_no_earlier(problem: Problem, plan: Plan, at: Clock) -> str:
    """Return what rules out an earlier finish, with its numbers: a simple limit, or the search beyond the strongest of them."""
    work = take_apart(problem)
    limit = strongest_limit(work)
    if isinstance(limit, LongestGroup):
        what = (
            f"{limit.group} needs at least {duration_words(limit.seconds)} for its "
            f"{'plate' if limit.passes == 1 else f'{limit.passes} plates, one after another'}."
        )
    elif isinstance(limit, AfterFixed):
        what = (
            f"From {limit.step} of {limit.group}'s plate {limit.pass_no}, fixed at {at(limit.start_s)}, "
            f"to the end of that plate it takes at least {duration_words(limit.seconds)}."
        )
    else:
        each = f"{limit.capacity} at once, " if limit.capacity > 1 else "one at a time, "
        count = "1 plate needs" if limit.plates == 1 else f"{limit.plates} plates need"
        what = (
            f"{count} {_listed(limit.places)} for {duration_words(limit.work_s)} together, {each}"
            f"no sooner than {duration_words(limit.before_s)} after the start and with "
            f"{duration_words(limit.after_s)} to follow."
        )
    placed = len({(visit.group, visit.pass_no) for visit in plan.visits})
    if placed < len(work.jobs):
        return "Not all plates fit, so the bound is for plans with as many plates as this one; the search found it."
    if limit.ends_s >= plan.bound_s:
        return f"{what} So nothing can end before {at(plan.bound_s)}."
    further = "the search rules"
    if zones_in_both_lights(work):
        further = "counting plates in lit and dark phases, and the search, rule"
    return f"{what} That alone rules out a finish before {at(limit.ends_s)}; {further} out every one before {at(plan.bound_s)}."
