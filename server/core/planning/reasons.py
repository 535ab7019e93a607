"""Why passes were left out and what would make them fit, in a teacher's words. Every fix named here was solved."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from server.core.planning.answer import Plan, Unplaced
from server.core.planning.changes import fresh_name, with_fewer_plates, with_room, with_twin
from server.core.planning.conflict import Conflict, Limit, conflict_of, with_charges, with_wait
from server.core.planning.problem import Fixed, Group, Problem, Step
from server.core.planning.rounds import constructed
from server.core.planning.search import finish_of_all, fits
from server.core.planning.solving import Budget
from server.core.planning.work import Job, Work, take_apart, tick_of
from server.core.units import duration_words

MOST_FIXED_TRIED = 6
MOST_PLACES_TRIED = 3
WAITS_TRIED = 4
# Of what is left of the time, what finding the smallest set of limits may use.
FOR_CONFLICTS = 0.5


def partial_reasons(work: Work, answer: Plan, budget: Budget, *, most: bool) -> tuple[str, ...]:
    """Return why the plan leaves passes out and which changes would let all of them in, the least asked for first."""
    problem = work.problem
    total, placed = len(work.jobs), len(work.jobs) - len(answer.unplaced)
    periods = "period" if len(problem.periods) == 1 else "periods"
    found = [
        f"Only {placed} of the {plates(total)} fit into the {periods}."
        if most
        else f"The best plan found in the time given has room for {placed} of the {plates(total)}."
    ]
    conflicts = budget.set_aside(FOR_CONFLICTS)
    too_long = [fault for job in _different_jobs(work) if (fault := _alone(work, job, conflicts)) is not None]
    conflict = None if too_long else conflict_of(problem, conflicts)
    budget.add(conflicts)
    found.extend(too_long or ([] if conflict is None else [conflict_words(conflict)]))
    found.extend(_with_more_time(problem, total, budget))
    if not too_long:
        limits = () if conflict is None else conflict.limits
        found.extend(_with_longer_waits(problem, limits, budget))
        found.extend(_with_open_places(problem, limits, budget))
        found.extend(_with_fresh_charges(problem, limits, budget))
        found.extend(_with_fewer_plates(problem, budget))
        found.extend(_with_more_room(work, limits, budget))
    return tuple(found)


def impossible_plan(work: Work, budget: Budget) -> Plan:
    """Return the plan that places nothing, with the cause in words."""
    problem = work.problem
    reasons = [fault for job in _different_jobs(work) if (fault := _alone(work, job, budget)) is not None]
    if problem.fixed:
        clashes = list(_clashes(problem))
        conflict = None if clashes else conflict_of(problem, budget)
        reasons.extend(
            clashes
            or [
                "The fixed steps leave no way to finish the plates that have been begun."
                if conflict is None
                else conflict_words(conflict)
            ]
        )
        reasons.extend(_without_one_fixed(problem, budget))
    reasons.extend(_with_more_time(problem, len(work.jobs), budget))
    missing = tuple(
        Unplaced(group.name, pass_no) for group in problem.groups for pass_no in range(1, group.passes + 1)
    )
    return Plan("impossible", 0, 0, (), missing, tuple(reasons) or ("No plate fits into the periods.",))


def conflict_words(conflict: Conflict) -> str:
    """Return the limits that rule out a plan of all plates, and whether each of them is needed for that."""
    listed = "; ".join(limit.words for limit in conflict.limits)
    if len(conflict.limits) == 1:
        return f"This alone rules it out: {listed}."
    if conflict.smallest:
        return f"These together rule it out, and without any one of them the others would not: {listed}."
    return f"These together rule it out; whether fewer of them would was not found out in the time given: {listed}."


def plates(count: int) -> str:
    """Return the count with its word."""
    return "1 plate" if count == 1 else f"{count} plates"


def _different_jobs(work: Work) -> list[Job]:
    """Return one job for each list of steps that differs from those before it."""
    found: dict[tuple[Step, ...], Job] = {}
    for job in work.jobs:
        found.setdefault(job.steps, job)
    return list(found.values())


def _alone(work: Work, job: Job, budget: Budget) -> str | None:
    """Return why one plate does not fit even with the lab to itself, or None if it does or that was not found out."""
    problem = work.problem
    group = problem.groups[job.group]
    single = Group(group.name, 1, job.steps)
    by_itself = replace(problem, groups=(single,), fixed=())
    if len(constructed(take_apart(by_itself))) == 1:
        return None
    longest = max(closes - opens for opens, closes in problem.periods)
    which = (
        f"The period has only {duration_words(longest)}"
        if len(problem.periods) == 1
        else (f"The longest period has only {duration_words(longest)}")
    )
    seconds = [job.shortest(step) for step in range(len(job.steps))]
    for step, taken in zip(job.steps, seconds, strict=True):
        if taken > longest and step.attended:
            return f"{_named(step)} takes {group.name} {duration_words(taken)}. {which}."
    dark = [index for index, step in enumerate(job.steps) if step.light == "dark"]
    if dark and sum(seconds[dark[0] : dark[-1] + 1]) > longest:
        first, last = job.steps[dark[0]].name, job.steps[dark[-1]].name
        span = duration_words(sum(seconds[dark[0] : dark[-1] + 1]))
        return (
            f"The dark steps of {group.name} from {first} to {last} take at least {span} in one go. {which}."
        )
    if sum(seconds) > longest and all(step.attended for step in job.steps) and len(problem.periods) == 1:
        return f"One plate of {group.name} takes at least {duration_words(sum(seconds))} from first step to last. {which}."
    conflict = conflict_of(by_itself, budget)
    if conflict is None:
        return None
    return f"Not even one plate of {group.name} fits with the lab to itself. {conflict_words(conflict)}"


def _named(step: Step) -> str:
    return f"The step {step.name}"


def _with_more_time(problem: Problem, total: int, budget: Budget) -> Iterator[str]:
    """Say how much longer the last period would have to be."""
    opens, closes = problem.periods[-1]
    work = take_apart(problem)
    ample = sum(sum(max(seconds.values()) for seconds in job.seconds) for job in work.jobs)
    longer = replace(problem, periods=(*problem.periods[:-1], (opens, closes + ample)))
    if budget.spent:
        return
    answer = finish_of_all(take_apart(longer), budget, 0.5)
    if answer is None:
        return
    finish, proven = answer
    whole = "The one plate" if total == 1 else f"All {plates(total)}"
    need = ("needs" if total == 1 else "need") if proven else "would fit into"
    if finish <= closes:
        return
    over = duration_words(finish - closes)
    if len(problem.periods) == 1:
        yield f"{whole} {need} {duration_words(finish - opens)}, {over} more than the period."
    else:
        yield f"{whole} {'fits' if total == 1 else 'fit'} if the last period ends {over} later."


@dataclass(frozen=True)
class _Relief:
    """A changed problem and what was changed."""

    problem: Problem
    what: str


def _all_fit(problem: Problem, budget: Budget) -> str | None:
    """Return “all of them fit”, with the finish found for them, or None if no plan of all was found."""
    if budget.spent:
        return None
    found = finish_of_all(take_apart(problem), budget, 0.3)
    if found is None:
        return None
    return f"all of them fit and end {duration_words(found[0] - problem.periods[0][0])} after the start"


def _with_longer_waits(problem: Problem, limits: Sequence[Limit], budget: Budget) -> Iterator[str]:
    """Try longer waits after the steps that may be followed by one: the shortest of a few that let all plates in."""
    for limit in limits:
        steps = [
            step
            for group in problem.groups
            for number in range(1, group.passes + 1)
            for step in problem.steps_of(group, number)
            if step.name == limit.about
        ]
        longest = min((step.max_wait_s for step in steps if step.max_wait_s is not None), default=0)
        if limit.kind != "wait" or longest == 0 or budget.spent:
            continue
        enough = _shortest_enough(problem, limit.about, longest, budget)
        if enough is not None:
            wait_s, fitting = enough
            yield (
                f"If up to {duration_words(wait_s)} may pass after {limit.about} (instead of "
                f"{duration_words(longest)}) {fitting}."
            )


def _shortest_enough(problem: Problem, name: str, longest_s: int, budget: Budget) -> tuple[int, str] | None:
    """Return the shortest of the waits tried after a step that lets all plates in, and what then happens."""
    tick = tick_of(take_apart(problem))
    enough: tuple[int, str] | None = None
    too_short, trial = longest_s, 2 * longest_s
    for _ in range(WAITS_TRIED):
        fitting = _all_fit(with_wait(name, trial, problem), budget)
        if fitting is None:
            too_short = trial
        else:
            enough = (trial, fitting)
        trial = 2 * trial if enough is None else -(-(too_short + enough[0]) // (2 * tick)) * tick
    return enough


def _with_open_places(problem: Problem, limits: Sequence[Limit], budget: Budget) -> Iterator[str]:
    for limit in limits:
        if limit.kind == "closed" and (fitting := _all_fit(limit.lift(problem), budget)) is not None:
            yield f"If {limit.about} is not closed {fitting}."


def _with_fresh_charges(problem: Problem, limits: Sequence[Limit], budget: Budget) -> Iterator[str]:
    """Try one more charge like the last, ready when that is used up or has lived out its time."""
    for limit in limits:
        if limit.kind != "charge":
            continue
        charges = next(place.charges for place in problem.places if place.name == limit.about)
        last = max(charges, key=lambda charge: charge.until_s)
        life_s = last.until_s - last.from_s
        for from_s, when in (
            (last.until_s, "when the last has lived out its time"),
            (last.from_s, "beside the last"),
        ):
            fresh = replace(last, from_s=from_s, until_s=from_s + life_s)
            fitting = _all_fit(with_charges(limit.about, (*charges, fresh), problem), budget)
            if fitting is not None:
                yield f"With one more charge for {limit.about}, {when}, {fitting}."
                break


def _with_more_room(work: Work, limits: Sequence[Limit], budget: Budget) -> Iterator[str]:
    """Try one more of each of the busiest places, of those that stand in the way where that is known."""
    rooms = {limit.about for limit in limits if limit.kind == "room"}
    kinds = [
        kind
        for kind in range(len(work.kinds))
        if _load(work, kind) > 0 and (not limits or work.kinds[kind].places[0].name in rooms)
    ]
    busiest = sorted(kinds, key=lambda kind: -_load(work, kind))[:MOST_PLACES_TRIED]
    for kind in sorted(busiest, key=lambda kind: _is_station(work, kind)):
        relief = _one_more(work, kind)
        fitting = _all_fit(relief.problem, budget)
        if fitting is not None:
            yield f"{relief.what} {fitting}."


def _load(work: Work, kind: int) -> float:
    """Return the seconds of work on a kind of place, for each plate it takes at once."""
    total = sum(
        sum(job.shortest(step) for step in range(stay.first, stay.last + 1)) / len(stay.kinds)
        for job in work.jobs
        for stay in job.stays
        if kind in stay.kinds
    )
    return total / work.kinds[kind].capacity


def _one_more(work: Work, kind: int) -> _Relief:
    problem, places = work.problem, work.kinds[kind].places
    if any(place.capacity > 1 for place in places) or not _is_station(work, kind):
        name, room = places[0].name, places[0].capacity
        return _Relief(
            with_room(problem, {name}),
            f"With room for {plates(room + 1)} at once in {name} (instead of {room})",
        )
    twin = replace(places[0], name=fresh_name(problem.places))
    stations = sum(_is_station(work, other) * len(one.places) for other, one in enumerate(work.kinds))
    return _Relief(
        with_twin(problem, places[0].name, twin),
        f"With one more station ({stations + 1} instead of {stations})",
    )


def _is_station(work: Work, kind: int) -> bool:
    """Tell whether groups hold still at this kind of place."""
    return any(
        job.steps[step].still == "still"
        for job in work.jobs
        for stay in job.stays
        if kind in stay.kinds
        for step in range(stay.first, stay.last + 1)
    )


def _with_fewer_plates(problem: Problem, budget: Budget) -> Iterator[str]:
    """Try one plate less for every group that makes the most."""
    fewer = with_fewer_plates(problem)
    fitting = None if fewer is None else _all_fit(fewer, budget)
    if fitting is not None:
        most = max(group.passes for group in problem.groups)
        yield f"With at most {plates(most - 1)} for each group (instead of {most}) {fitting}."


def _clashes(problem: Problem) -> Iterator[str]:
    """Yield the fixed steps that no plan can keep, alone or two by two."""
    for fixed in problem.fixed:
        step = _step_of(problem, fixed)
        end = fixed.start_s + step.seconds_at(fixed.place)
        inside = any(opens <= fixed.start_s and end <= closes for opens, closes in problem.periods)
        if not inside and step.attended:
            yield f"{_told(fixed)}, does not lie in one period."
    for one, other in combinations(problem.fixed, 2):
        one_ends = one.start_s + _step_of(problem, one).seconds_at(one.place)
        other_ends = other.start_s + _step_of(problem, other).seconds_at(other.place)
        if one.start_s < other_ends and other.start_s < one_ends:
            why = _why_apart(problem, one, other)
            if why is not None:
                yield f"{_told(one)}, and {_told(other)}, are at the same time: {why}."


def _step_of(problem: Problem, fixed: Fixed) -> Step:
    group = next(group for group in problem.groups if group.name == fixed.group)
    return next(step for step in problem.steps_of(group, fixed.pass_no) if step.name == fixed.step)


def _told(fixed: Fixed) -> str:
    return f"{fixed.group}'s {fixed.step} at {fixed.place}, fixed {duration_words(fixed.start_s)} after the start"


def _why_apart(problem: Problem, one: Fixed, other: Fixed) -> str | None:
    """Return why two fixed steps may not overlap, or None if they may."""
    places = {place.name: place for place in problem.places}
    mine, theirs = _step_of(problem, one), _step_of(problem, other)
    here, there = places[one.place], places[other.place]
    if one.group == other.group and mine.attended and theirs.attended:
        return f"{one.group} can only be in one place"
    if here == there and here.capacity == 1:
        return f"{here.name} has room for 1 plate"
    if here.light_zone == there.light_zone is not None and {mine.light, theirs.light} == {"dark", "lit"}:
        return "one needs the dark and the other the lights on"
    if here.still_zone == there.still_zone is not None and {mine.still, theirs.still} == {"still", "moves"}:
        return "one holds still and the other moves"
    return None


def _without_one_fixed(problem: Problem, budget: Budget) -> Iterator[str]:
    """Say which single fixed step stands in the way."""
    for fixed in problem.fixed[:MOST_FIXED_TRIED]:
        if budget.spent:
            return
        rest = tuple(other for other in problem.fixed if other != fixed)
        if fits(take_apart(replace(problem, fixed=rest)), budget, 0.2) is not None:
            yield f"If {fixed.group}'s {fixed.step} of pass {fixed.pass_no} is not fixed, a plan is possible."
