"""Every rule of a class, derived again from a finished plan. Shares nothing with the planner but the problem."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from server.core.planning.answer import Plan, Visit
from server.core.planning.problem import Charge, Place, Problem, Step


@dataclass(frozen=True)
class _Pass:
    """One complete pass: its steps beside its visits."""

    group: str
    pass_no: int
    steps: tuple[Step, ...]
    visits: tuple[Visit, ...]

    @property
    def who(self) -> str:
        return f"{self.group}, pass {self.pass_no}"

    def stays(self) -> Iterator[tuple[str, int, int]]:
        """Yield each place with the start of the first step there and the end of the last "same" one."""
        index = 0
        while index < len(self.steps):
            last = index
            while last + 1 < len(self.steps) and self.steps[last + 1].at == "same":
                last += 1
            yield self.visits[index].place, self.visits[index].start_s, self.visits[last].end_s
            index = last + 1


def check(problem: Problem, plan: Plan) -> tuple[str, ...]:
    """Return the rules the plan breaks, as sentences; empty for a valid plan."""
    passes: list[_Pass] = []
    found = list(_gather(problem, plan, passes))
    for one in passes:
        found.extend(_times(problem, one))
        found.extend(_places(problem, one))
    found.extend(_room(problem, passes))
    found.extend(_closed(problem, passes))
    found.extend(_charges(problem, passes))
    found.extend(_zones(problem, passes))
    found.extend(_groups(problem, passes))
    found.extend(_reserve(problem, passes))
    found.extend(_fixed(problem, plan))
    found.extend(_totals(plan))
    return tuple(found)


def _gather(problem: Problem, plan: Plan, passes: list[_Pass]) -> Iterator[str]:
    """Sort the visits into passes; yield what is missing, doubled or unknown."""
    visits: dict[tuple[str, int], list[Visit]] = defaultdict(list)
    for visit in plan.visits:
        visits[visit.group, visit.pass_no].append(visit)
    left_out = [(missing.group, missing.pass_no) for missing in plan.unplaced]
    known = {(group.name, number): group for group in problem.groups for number in range(1, group.passes + 1)}
    for key in sorted(set(visits) | set(left_out)):
        if key not in known:
            yield f"There is no pass {key[1]} of {key[0]}."
    for (name, number), group in known.items():
        mine = visits.get((name, number), [])
        if (name, number) not in left_out:
            yield from _gather_pass(name, number, problem.steps_of(group, number), mine, passes)
            continue
        if left_out.count((name, number)) > 1:
            yield f"{name}, pass {number} is listed as unplaced more than once."
        if mine:
            yield f"{name}, pass {number} is listed as unplaced and has visits."


def _gather_pass(
    name: str, number: int, steps: tuple[Step, ...], mine: Sequence[Visit], passes: list[_Pass]
) -> Iterator[str]:
    """Add one pass if every step has its visit; yield what is missing, doubled or unknown."""
    for visit in mine:
        if visit.step not in [step.name for step in steps]:
            yield f"{name}, pass {number} has no step {visit.step}."
    ordered: list[Visit] = []
    for step in steps:
        same = [visit for visit in mine if visit.step == step.name]
        if len(same) > 1:
            yield f"{name}, pass {number} does {step.name} more than once."
        if not same:
            yield f"{name}, pass {number} never does {step.name}."
        ordered.extend(same[:1])
    if len(ordered) == len(steps):
        passes.append(_Pass(name, number, steps, tuple(ordered)))


def _times(problem: Problem, one: _Pass) -> Iterator[str]:
    """Order, waits, durations and periods of one pass."""
    for step, visit in zip(one.steps, one.visits, strict=True):
        taken = visit.end_s - visit.start_s
        timed = step.seconds if isinstance(step.seconds, int) else dict(step.seconds).get(visit.place)
        if timed is not None and taken != timed:
            yield f"{one.who}: {step.name} takes {taken} s at {visit.place} instead of {timed} s."
        if step.attended or step.light == "dark":
            inside = any(start <= visit.start_s and visit.end_s <= end for start, end in problem.periods)
        else:
            inside = any(start <= visit.start_s <= end for start, end in problem.periods)
        if not inside:
            yield f"{one.who}: {step.name} does not lie in one period."
    for index in range(1, len(one.steps)):
        before, after = one.visits[index - 1], one.visits[index]
        wait, longest = after.start_s - before.end_s, one.steps[index - 1].max_wait_s
        if wait < 0:
            yield f"{one.who}: {after.step} begins before {before.step} has ended."
        elif longest is not None and wait > longest:
            yield f"{one.who}: the wait of {wait} s after {before.step} is longer than {longest} s."
    dark = [visit for step, visit in zip(one.steps, one.visits, strict=True) if step.light == "dark"]
    together = any(
        all(start <= visit.start_s and visit.end_s <= end for visit in dark) for start, end in problem.periods
    )
    if dark and not together:
        yield f"{one.who}: the dark steps do not lie in one period."


def _places(problem: Problem, one: _Pass) -> Iterator[str]:
    known = {place.name for place in problem.places}
    for index, (step, visit) in enumerate(zip(one.steps, one.visits, strict=True)):
        if visit.place not in known:
            yield f"{one.who}: there is no place {visit.place}."
        elif step.at == "same":
            if visit.place != one.visits[index - 1].place:
                yield f"{one.who}: {step.name} is not where {one.steps[index - 1].name} was."
        elif visit.place not in step.at:
            yield f"{one.who}: {step.name} cannot be done at {visit.place}."


def _room(problem: Problem, passes: Sequence[_Pass]) -> Iterator[str]:
    """No place holds more plates than its capacity; a place is kept through its last "same" step."""
    changes: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for one in passes:
        for name, start, end in one.stays():
            changes[name].extend([(start, 1), (end, -1)])
    for place in problem.places:
        inside = 0
        for moment, change in sorted(changes[place.name]):
            inside += change
            if inside > place.capacity:
                yield f"{place.name} holds {inside} plates at {moment} s and has room for {place.capacity}."
                break


def _closed(problem: Problem, passes: Sequence[_Pass]) -> Iterator[str]:
    for place in problem.places:
        for one in passes:
            for name, start, end in one.stays():
                for shut, opens in place.closed:
                    if name == place.name and start < opens and shut < end:
                        yield f"{one.who} is at {name} at {max(start, shut)} s, while it is closed."


def _charges(problem: Problem, passes: Sequence[_Pass]) -> Iterator[str]:
    """Each stay at a place with charges lies inside one of them, and none serves more plates than it can."""
    for place in problem.places:
        if not place.charges:
            continue
        served: list[list[tuple[int, int]]] = [[] for _ in place.charges]
        stays = [
            (one.who, start, end) for one in passes for name, start, end in one.stays() if name == place.name
        ]
        for who, start, end in stays:
            if not any(charge.from_s <= start and end <= charge.until_s for charge in place.charges):
                yield f"{who} is at {place.name} at {start} s, and no charge there serves it from then to {end} s."
            elif not _serve((start, end), place.charges, served, set()):
                yield f"{who} is at {place.name} at {start} s, when every charge there has served all its plates."


def _serve(
    stay: tuple[int, int],
    charges: Sequence[Charge],
    served: list[list[tuple[int, int]]],
    tried: set[int],
) -> bool:
    """Give a stay to a charge, moving others to charges that serve them as well; False if there is no way."""
    for number, charge in enumerate(charges):
        if number in tried or not (charge.from_s <= stay[0] and stay[1] <= charge.until_s):
            continue
        tried.add(number)
        if charge.plates is None or len(served[number]) < charge.plates:
            served[number].append(stay)
            return True
        for index, other in enumerate(served[number]):
            if _serve(other, charges, served, tried):
                served[number][index] = stay
                return True
    return False


def _zones(problem: Problem, passes: Sequence[_Pass]) -> Iterator[str]:
    dark, lit = _demands(problem, passes, "dark"), _demands(problem, passes, "lit")
    for zone, closed in dark.items():
        for (who, visit), (other, light) in _overlaps(closed, lit[zone]):
            yield f"{who} needs the dark for {visit.step} while {other} has the lights of {zone} on for {light.step}."
    for light_zone in problem.light_zones:
        for who, visit in dark[light_zone.name]:
            why = _glowing(problem, visit, lit[light_zone.name], light_zone.afterglow_s)
            if why is not None:
                yield f"{who} needs the dark for {visit.step} at {visit.start_s} s, and {light_zone.name} glows: {why}."
    moving = _demands(problem, passes, "moves")
    for zone, resting in _demands(problem, passes, "still").items():
        for (who, visit), (other, move) in _overlaps(resting, moving[zone]):
            yield f"{who} holds still for {visit.step} while {other} moves in {zone} for {move.step}."


def _demands(
    problem: Problem, passes: Sequence[_Pass], state: str
) -> defaultdict[str, list[tuple[str, Visit]]]:
    """Return by zone the visits that ask for a state of its light or its stillness."""
    places = {place.name: place for place in problem.places}
    found: defaultdict[str, list[tuple[str, Visit]]] = defaultdict(list)
    for one in passes:
        for step, visit in zip(one.steps, one.visits, strict=True):
            place = places.get(visit.place, Place(visit.place, 1))
            zone = place.light_zone if step.light == state else place.still_zone
            if zone is not None and state in {step.light, step.still}:
                found[zone].append((one.who, visit))
    return found


def _glowing(
    problem: Problem, visit: Visit, lit: Sequence[tuple[str, Visit]], afterglow_s: int
) -> str | None:
    """Return what has left the lights glowing when a dark visit starts, or None."""
    for opens, _ in problem.periods:
        if opens <= visit.start_s < opens + afterglow_s:
            return f"its lights were on until {opens} s"
    for other, light in lit:
        if light.end_s <= visit.start_s < light.end_s + afterglow_s:
            return f"{other} had them on for {light.step} until {light.end_s} s"
    return None


def _overlaps(
    ones: Sequence[tuple[str, Visit]], others: Sequence[tuple[str, Visit]]
) -> Iterator[tuple[tuple[str, Visit], tuple[str, Visit]]]:
    for one in ones:
        for other in others:
            if one[1].start_s < other[1].end_s and other[1].start_s < one[1].end_s:
                yield one, other


def _groups(problem: Problem, passes: Sequence[_Pass]) -> Iterator[str]:
    """A group's passes never share its time, and come in order unless it says otherwise."""
    for group in problem.groups:
        mine = sorted((one for one in passes if one.group == group.name), key=lambda one: one.pass_no)
        if group.any_order:
            mine.sort(key=lambda one: (one.visits[0].start_s, _released(one)))
        elif [one.pass_no for one in mine] != list(range(1, len(mine) + 1)):
            yield f"{group.name} makes a later pass without an earlier one."
        for before, after in pairwise(mine):
            if after.visits[0].start_s < _released(before):
                yield f"{after.who} begins before {group.name} is free from pass {before.pass_no}."


def _reserve(problem: Problem, passes: Sequence[_Pass]) -> Iterator[str]:
    """No pass of a reserve group starts before the others' have left their first places, unless it has begun."""
    kept_free = {group.name for group in problem.groups if group.reserve}
    begun = {(fixed.group, fixed.pass_no) for fixed in problem.fixed}
    left = [(next(one.stays())[2], one.who) for one in passes if one.group not in kept_free]
    for one in passes:
        if one.group in kept_free and (one.group, one.pass_no) not in begun and left:
            last, who = max(left)
            if one.visits[0].start_s < last:
                yield f"{one.who} is kept for repeats and begins before {who} has left its first place."


def _released(one: _Pass) -> int:
    """Return the end of the last step the group attends, or the pass's start if it attends none."""
    attended = [visit.end_s for step, visit in zip(one.steps, one.visits, strict=True) if step.attended]
    return max(attended, default=one.visits[0].start_s)


def _fixed(problem: Problem, plan: Plan) -> Iterator[str]:
    if plan.status == "impossible":
        return
    for fixed in problem.fixed:
        if not any(
            (visit.group, visit.pass_no, visit.step, visit.place, visit.start_s)
            == (fixed.group, fixed.pass_no, fixed.step, fixed.place, fixed.start_s)
            for visit in plan.visits
        ):
            yield (
                f"{fixed.group}, pass {fixed.pass_no}: {fixed.step} is fixed at {fixed.place} at {fixed.start_s} s "
                "and the plan does otherwise."
            )


def _totals(plan: Plan) -> Iterator[str]:
    finish = max((visit.end_s for visit in plan.visits), default=0)
    if plan.makespan_s != finish:
        yield f"The plan says it ends at {plan.makespan_s} s and its last visit ends at {finish} s."
    if plan.bound_s > plan.makespan_s:
        yield f"The bound of {plan.bound_s} s is later than the finish at {plan.makespan_s} s."
    full = not plan.unplaced
    if plan.status in {"optimal", "feasible"} and not full:
        yield f"The plan is called {plan.status} and leaves passes unplaced."
    if plan.status == "optimal" and plan.bound_s != plan.makespan_s:
        yield "The plan is called optimal and its bound is not its finish."
    if plan.status == "partial" and (full or not plan.visits):
        yield "The plan is called partial and does not place some passes and leave others."
    if plan.status == "impossible" and plan.visits:
        yield "The plan is called impossible and has visits."
    if plan.status in {"partial", "impossible"} and not plan.reasons:
        yield f"The plan is called {plan.status} and gives no reason."
