"""What a change to a class would bring: the changed class is planned like any other and set beside the plan as it is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from server.core.planning.answer import Plan, Unplaced, Visit
from server.core.planning.changes import Change, pairs_of
from server.core.planning.checking import check
from server.core.planning.planner import plan
from server.core.planning.problem import Problem


@dataclass(frozen=True)
class Outlook:
    """What a plan comes to: plates placed of so many, its finish and a second before which no plan of as many ends.

    Seconds are counted as in the class without the change. ``most`` tells whether no plan places more.
    """

    placed: int
    plates: int
    makespan_s: int
    bound_s: int
    most: bool

    @property
    def proven(self) -> bool:
        """Whether neither more plates nor an earlier finish is possible."""
        return self.most and self.bound_s >= self.makespan_s


@dataclass(frozen=True)
class WhatIf:
    """A plan of the changed class and what it comes to. ``plan`` counts its seconds as the changed class does."""

    plan: Plan
    outlook: Outlook


@dataclass(frozen=True)
class Gain:
    """What a change brings: plates, and seconds sooner where it brings no plate; each at least and at most.

    ``saved_s`` is None where plates are gained: a class that makes more of them may well end later.
    """

    plates: int
    most_plates: int
    saved_s: int | None
    most_saved_s: int | None

    @property
    def proven(self) -> bool:
        """Whether the change can't bring anything more."""
        return self.plates == self.most_plates and self.saved_s == self.most_saved_s


def outlook_of(problem: Problem, answer: Plan, *, earlier_s: int = 0) -> Outlook:
    """Return what a plan comes to; rounds kept free for repeats are not counted as plates."""
    free = {group.name for group in problem.groups if group.reserve}
    plates = sum(group.passes for group in problem.groups if not group.reserve)
    missing = sum(one.group not in free for one in answer.unplaced)
    return Outlook(
        placed=plates - missing,
        plates=plates,
        makespan_s=answer.makespan_s - earlier_s,
        bound_s=answer.bound_s - earlier_s,
        most=answer.most,
    )


def what_if(problem: Problem, change: Change, before: Plan, *, seconds: float, seed: int) -> WhatIf:
    """Return the plan of the changed class that is found in about so many seconds, never a worse one than ``before``.

    ``before`` is a plan of the class as it is. Whoever may do something may also leave it: where the search was cut short
    and found nothing better, the class goes on as before.
    """
    carried = carried_over(change.problem, before.visits, later_s=change.earlier_s)
    if _asks_for_nothing(problem, change, before):
        kept = replace(before, reasons=())
        return WhatIf(kept, outlook_of(problem, kept))
    # A class that begins earlier may do everything earlier, unless a place or its developer isn't ready by then.
    sooner = carried_over(change.problem, before.visits)
    start = sooner if check(change.problem, sooner) == () else carried
    found = plan(change.problem, seconds=seconds, seed=seed, start=start, explain=False)
    outlook = outlook_of(change.problem, found, earlier_s=change.earlier_s)
    stays = outlook_of(change.problem, carried, earlier_s=change.earlier_s)
    if (stays.placed, -stays.makespan_s) > (outlook.placed, -outlook.makespan_s):
        return WhatIf(
            carried, replace(stays, bound_s=min(outlook.bound_s, stays.makespan_s), most=outlook.most)
        )
    return WhatIf(found, outlook)


def unchanged(problem: Problem) -> Change:
    """Return the class as it is, to be planned once more: what that brings is no change's merit."""
    return Change("again", "Planned once more, with nothing changed", (), problem, effort=0)


def pairs_to_try(
    problem: Problem, before: Outlook, found: Mapping[str, Outlook], changes: Sequence[Change], *, talk_s: int
) -> tuple[Change, ...]:
    """Return the pairs of changes that may let everybody make every plate and ask less of a lab than one change that does.

    ``found`` has what is known of each change by itself. One of a pair must bring a plate by itself, and neither all of them.
    """
    if before.placed == before.plates:
        return ()
    whole = [change for change in changes if not change.gives_up and change.key in found]
    enough = {change.key for change in whole if found[change.key].placed == before.plates}
    helping = {change.key for change in whole if found[change.key].placed > before.placed}
    least = min((change.effort for change in whole if change.key in enough), default=None)
    pairs = pairs_of(problem, [change for change in whole if change.key not in enough], talk_s=talk_s)
    return tuple(
        pair
        for pair in pairs
        if (least is None or pair.effort < least) and not helping.isdisjoint(pair.key.split("+"))
    )


def compare(before: Outlook, after: Outlook) -> Gain:
    """Return what a change brings.

    With plates p of P before and q of Q after: q − p plates, and no more than Q − p while more than q are not ruled out.
    Where no plate is gained, finish before − finish after, and no more than finish before − bound after.
    """
    plates = after.placed - before.placed
    most_plates = plates if after.most else after.plates - before.placed
    if plates > 0:
        return Gain(plates, most_plates, None, None)
    saved = max(0, before.makespan_s - after.makespan_s)
    return Gain(plates, most_plates, saved, max(saved, before.makespan_s - after.bound_s))


def carried_over(problem: Problem, visits: Sequence[Visit], *, later_s: int = 0) -> Plan:
    """Return what a plan's visits come to in another class: the passes that exist there too, every second counted later.

    Whether it keeps the other class's rules is not looked at.
    """
    passes = {(group.name, number): None for group in problem.groups for number in range(1, group.passes + 1)}
    kept = tuple(
        replace(visit, start_s=visit.start_s + later_s, end_s=visit.end_s + later_s)
        for visit in visits
        if (visit.group, visit.pass_no) in passes
    )
    placed = {(visit.group, visit.pass_no) for visit in kept}
    missing = tuple(Unplaced(*one) for one in passes if one not in placed)
    return Plan(
        "feasible" if not missing else "partial" if kept else "impossible",
        makespan_s=max((visit.end_s for visit in kept), default=0),
        bound_s=0,
        visits=kept,
        unplaced=missing,
        reasons=("These are the plates of an earlier plan.",) if missing else (),
        most=not missing,
    )


def _asks_for_nothing(problem: Problem, change: Change, before: Plan) -> bool:
    """Tell whether only time was added, at the end of a class that has enough of it.

    A plan that ends sooner would end within the period as it is, so its bound holds for the longer one, too.
    """
    opens, closes = problem.periods[-1]
    longer = (*problem.periods[:-1], (opens, change.problem.periods[-1][1]))
    only_longer = change.problem == replace(problem, periods=longer) and change.earlier_s == 0
    enough = not before.unplaced and before.makespan_s <= closes
    return only_longer and enough and check(problem, before) == ()
