"""What goes wrong in a class, and the class with it: pure functions from a problem and its plan to the changed ones.

What has begun at ``now_s`` stays as it is. A plate that is lost keeps the steps it has had, the one that was going on
until ``now_s``, and the group makes one more in its place: a pass is added behind the others.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from server.core.planning.answer import Plan, Unplaced, Visit
from server.core.planning.problem import Group, Place, Problem, Step
from server.core.units import duration_words

PassKey = tuple[str, int]


@dataclass(frozen=True)
class LateStart:
    """A period (counted from 0) begins ``by_s`` later, and with it all that was to begin there."""

    period: int
    by_s: int


@dataclass(frozen=True)
class DeadStation:
    """Nothing can be exposed at a place from one second to another, or to the end with None."""

    place: str
    from_s: int
    until_s: int | None = None


@dataclass(frozen=True)
class FailedPlate:
    """A plate that was begun is spoilt; its group makes one more, in a round kept free for repeats if there is one."""

    group: str
    pass_no: int


@dataclass(frozen=True)
class AbsentGroup:
    """A group makes no plate it has not begun: nobody is there, or only one, who then ``joins`` another group."""

    group: str
    joins: str | None = None


@dataclass(frozen=True)
class SpilledCharge:
    """Trays stand empty until they are filled again; a plate that is in one is lost."""

    places: tuple[str, ...]
    until_s: int


@dataclass(frozen=True)
class MovedBell:
    """A period (counted from 0) ends ``by_s`` later, or sooner if that is negative."""

    period: int
    by_s: int


Mishap = LateStart | DeadStation | FailedPlate | AbsentGroup | SpilledCharge | MovedBell


@dataclass(frozen=True)
class Changed:
    """The problem with the change in it, and the old plan as it stands: shifted by a delay, without what is given up.

    ``lost`` are the plates that were begun in vain.
    """

    problem: Problem
    plan: Plan
    lost: frozenset[PassKey]


@dataclass(frozen=True)
class Unchanged:
    """There is nothing to plan anew, with the reason as a sentence for a person."""

    reason: str


def changed_by(
    problem: Problem, plan: Plan, mishap: Mishap, *, now_s: int, lost: frozenset[PassKey] = frozenset()
) -> Changed | Unchanged:
    """Return the problem with what happened in it; ``lost`` are plates that were lost before."""
    settled = Changed(problem, plan, lost)
    if isinstance(mishap, LateStart):
        return _late(settled, mishap)
    if isinstance(mishap, DeadStation):
        return _dead(settled, mishap, now_s)
    if isinstance(mishap, FailedPlate):
        return _failed(settled, mishap, now_s)
    if isinstance(mishap, AbsentGroup):
        return _absent(settled, mishap, now_s)
    if isinstance(mishap, SpilledCharge):
        return _spilled(settled, mishap, now_s)
    return _moved_bell(settled, mishap, now_s)


def lose(before: Changed, key: PassKey, *, now_s: int) -> Changed:
    """Return the class in which a plate that has begun is lost and its group makes one more."""
    name, pass_no = key
    group = _group(before.problem, name)
    whole = before.problem.steps_of(group, pass_no)
    visits = [visit for visit in before.plan.visits if (visit.group, visit.pass_no) == key]
    mine = in_order(before.problem, key, visits)
    had = [replace(visit, end_s=min(visit.end_s, now_s)) for visit in mine if visit.start_s < now_s]
    cut = tuple(
        step if visit.end_s <= now_s else replace(step, seconds=now_s - visit.start_s)
        for step, visit in zip(whole, mine, strict=True)
        if visit.start_s < now_s
    )
    each = [before.problem.steps_of(group, number) for number in range(1, group.passes + 1)]
    each[pass_no - 1] = cut
    each.append(whole)
    redone = replace(group, passes=len(each), steps=None, pass_steps=tuple(each))
    others = [visit for visit in before.plan.visits if (visit.group, visit.pass_no) != key]
    return Changed(
        _with_group(before.problem, redone),
        _with_visits(before.plan, [*others, *had]),
        before.lost | {key},
    )


def _late(before: Changed, late: LateStart) -> Changed | Unchanged:
    opens, closes = before.problem.periods[late.period]
    if opens + late.by_s >= closes:
        return Unchanged(
            "Nothing is left of the period then. Withdraw what does not happen, or plan another day."
        )

    def shifted(visit: Visit) -> Visit:
        if not opens <= visit.start_s < closes:
            return visit
        return replace(visit, start_s=visit.start_s + late.by_s, end_s=visit.end_s + late.by_s)

    return replace(
        before,
        problem=_with_period(before.problem, late.period, (opens + late.by_s, closes)),
        plan=_with_visits(before.plan, map(shifted, before.plan.visits)),
    )


def _dead(before: Changed, dead: DeadStation, now_s: int) -> Changed | Unchanged:
    """A plate whose exposure was over stays; it is taken away as planned, and only then the place is shut."""
    shut_s = max(dead.from_s, now_s)
    after = before
    for key, steps, visits in _begun(before, now_s):
        here = _stay_at(steps, visits, dead.place)
        if not here or visits[here[0]].start_s >= now_s:
            continue
        if key not in before.lost and visits[_exposure(steps, here)].end_s > dead.from_s:
            after = lose(after, key, now_s=now_s)
        else:
            shut_s = max(shut_s, visits[here[-1]].end_s)
    ends = max(closes for _opens, closes in before.problem.periods)
    until_s = ends + 1 if dead.until_s is None else dead.until_s
    if until_s <= shut_s:
        return Unchanged("The station is back before anything else was planned there. Nothing changes.")
    return replace(after, problem=_with_closed(after.problem, (dead.place,), (shut_s, until_s)))


def _failed(before: Changed, failed: FailedPlate, now_s: int) -> Changed | Unchanged:
    key = (failed.group, failed.pass_no)
    if key in before.lost:
        return Unchanged(
            f"Plate {failed.pass_no} of {failed.group} is lost already, and its group makes another."
        )
    found = [one for one, _steps, _visits in _begun(before, now_s)]
    if key not in found:
        return Unchanged(
            f"Plate {failed.pass_no} of {failed.group} has not begun, so it cannot have failed. Choose another plate."
        )
    return _with_repeat_used(lose(before, key, now_s=now_s), now_s)


def _with_repeat_used(after: Changed, now_s: int) -> Changed:
    """Give one pass that is kept free for repeats to the repeat, if there is one that has not begun."""
    begun = {(visit.group, visit.pass_no) for visit in after.plan.visits if visit.start_s < now_s}
    for group in after.problem.groups:
        if group.reserve and (group.name, group.passes) not in begun:
            return _without_passes(after, group, group.passes - 1)
    return after


def _absent(before: Changed, absent: AbsentGroup, now_s: int) -> Changed | Unchanged:
    group = _group(before.problem, absent.group)
    if absent.joins == absent.group:
        return Unchanged(f"{absent.group} can't join itself. Choose another group.")
    kept = max((visit.pass_no for visit in before.plan.visits if _is_begun(visit, group, now_s)), default=0)
    if kept == group.passes:
        return Unchanged(f"{absent.group} has begun all of its plates. Nothing is left to give up.")
    if kept == 0 and len(before.problem.groups) == 1:
        return Unchanged("No group is left then. Withdraw the rotation, or plan another day.")
    return _without_passes(before, group, kept)


def _is_begun(visit: Visit, group: Group, now_s: int) -> bool:
    return visit.group == group.name and visit.start_s < now_s


def _spilled(before: Changed, spilled: SpilledCharge, now_s: int) -> Changed | Unchanged:
    if spilled.until_s <= now_s:
        return Unchanged("The tray is filled again by then. Nothing changes.")
    after = before
    for key, steps, visits in _begun(before, now_s):
        stays = [stay for place in spilled.places if (stay := _stay_at(steps, visits, place))]
        if any(visits[stay[0]].start_s < now_s < visits[stay[-1]].end_s for stay in stays):
            after = lose(after, key, now_s=now_s)
    return replace(after, problem=_with_closed(after.problem, spilled.places, (now_s, spilled.until_s)))


def _moved_bell(before: Changed, moved: MovedBell, now_s: int) -> Changed | Unchanged:
    periods = before.problem.periods
    opens, closes = periods[moved.period]
    bell_s = closes + moved.by_s
    if bell_s <= max(opens, now_s):
        return Unchanged("That bell has rung already. Choose a later one.")
    if moved.period + 1 < len(periods) and bell_s > periods[moved.period + 1][0]:
        free = duration_words(periods[moved.period + 1][0] - closes)
        return Unchanged(f"The next period begins only {free} after this one. Choose an earlier bell.")
    return replace(before, problem=_with_period(before.problem, moved.period, (opens, bell_s)))


def _begun(before: Changed, now_s: int) -> list[tuple[PassKey, tuple[Step, ...], tuple[Visit, ...]]]:
    """Return the passes that have begun, with their steps beside their visits."""
    found: dict[PassKey, list[Visit]] = {}
    for visit in sorted(before.plan.visits, key=lambda one: one.start_s):
        found.setdefault((visit.group, visit.pass_no), []).append(visit)
    groups = {group.name: group for group in before.problem.groups}
    return [
        (key, before.problem.steps_of(groups[key[0]], key[1]), in_order(before.problem, key, visits))
        for key, visits in found.items()
        if visits[0].start_s < now_s
    ]


def in_order(problem: Problem, key: PassKey, visits: Sequence[Visit]) -> tuple[Visit, ...]:
    """Return the visits of one pass in the order of its steps."""
    by_step = {visit.step: visit for visit in visits}
    return tuple(by_step[step.name] for step in problem.steps_of(_group(problem, key[0]), key[1]))


def _stay_at(steps: Sequence[Step], visits: Sequence[Visit], place: str) -> list[int]:
    """Return the steps of the first stay at a place."""
    found: list[int] = []
    for index, (step, visit) in enumerate(zip(steps, visits, strict=True)):
        if found and step.at != "same":
            break
        if visit.place == place:
            found.append(index)
    return found


def _exposure(steps: Sequence[Step], stay: Sequence[int]) -> int:
    """Return the step after which the place has done its work: the last that holds still, or is dark, or the last of all."""
    for wanted in ("still", "dark"):
        found = [index for index in stay if wanted in {steps[index].still, steps[index].light}]
        if found:
            return found[-1]
    return stay[-1]


def _group(problem: Problem, name: str) -> Group:
    return next(group for group in problem.groups if group.name == name)


def _with_group(problem: Problem, redone: Group) -> Problem:
    return replace(
        problem, groups=tuple(redone if group.name == redone.name else group for group in problem.groups)
    )


def _without_passes(before: Changed, group: Group, kept: int) -> Changed:
    """Give up the passes of a group behind the first ``kept``, and the group itself if it keeps none."""
    each = None if group.pass_steps is None else group.pass_steps[:kept]
    problem = _with_group(before.problem, replace(group, passes=kept, pass_steps=each))
    problem = replace(problem, groups=tuple(one for one in problem.groups if one.passes))

    def stays(one: Visit | Unplaced) -> bool:
        return one.group != group.name or one.pass_no <= kept

    plan = replace(before.plan, unplaced=tuple(filter(stays, before.plan.unplaced)))
    return replace(before, problem=problem, plan=_with_visits(plan, filter(stays, plan.visits)))


def _with_visits(plan: Plan, visits: Iterable[Visit]) -> Plan:
    """Return the plan with other visits; what it said of its proof is true no more."""
    listed = tuple(visits)
    finish = max((visit.end_s for visit in listed), default=0)
    return replace(plan, visits=listed, makespan_s=finish, bound_s=0, whiteboard_s=None)


def _with_period(problem: Problem, number: int, period: tuple[int, int]) -> Problem:
    periods = list(problem.periods)
    periods[number] = period
    return replace(problem, periods=tuple(periods))


def _with_closed(problem: Problem, names: Sequence[str], shut: tuple[int, int]) -> Problem:
    def closed(place: Place) -> Place:
        return replace(place, closed=_merged([*place.closed, shut])) if place.name in names else place

    return replace(problem, places=tuple(map(closed, problem.places)))


def _merged(spans: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Return the spans in order, with those that touch made one."""
    found: list[tuple[int, int]] = []
    for begins, ends in sorted(spans):
        if found and begins <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], ends))
        else:
            found.append((begins, ends))
    return tuple(found)
