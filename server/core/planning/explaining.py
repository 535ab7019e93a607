"""Why a plan ends when it does: the chain of visits, back to the opening, each held by one named rule.

Derived from the plan and the class alone; shares nothing with the planner.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import pairwise

from server.core.planning.answer import Plan, Visit
from server.core.planning.holds import Cause, Hold, Holds
from server.core.planning.problem import Problem

# Causes that hand the chain on to a plate's own step before or after.
WITHIN_A_PASS = frozenset({"own", "wait"})
# Causes for which the plate was at work or kept from a place, not kept waiting for the zone's state or a moment.
AT_WORK = frozenset({"own", "wait", "place", "group", "reserve"})


@dataclass(frozen=True)
class Stretch:
    """Steps of one pass that follow one another on the chain, and why they begin no earlier.

    ``held`` is the visit that the cause keeps back; where it is not the first of ``visits``, those before it follow so
    closely that they had to wait too. ``by`` is the visit behind the cause, from ``since_s`` on; None where the cause is
    a moment. ``waited_s`` is how long the plate had waited, or its group if the pass begins here. All of this could begin
    ``slack_s`` earlier in the same order. ``seconds`` is the part of the finish that passes here.
    """

    visits: tuple[Visit, ...]
    cause: Cause
    held: Visit
    by: Visit | None
    since_s: int
    waited_s: int
    slack_s: int
    seconds: int

    @property
    def places(self) -> tuple[str, ...]:
        """The places of the visits, in their order."""
        return tuple(dict.fromkeys(visit.place for visit in self.visits))


@dataclass(frozen=True)
class Part:
    """Seconds of the finish that go to one thing: work at places that are offered together, or waiting for a cause."""

    cause: Cause
    places: tuple[str, ...]
    seconds: int


@dataclass(frozen=True)
class Chain:
    """Stretches in the order of time, the last of which ends the class; the parts add up to ``finish_s``.

    ``opens_s`` is the first period's start, from which ``finish_s`` counts. ``before_s`` of the finish pass before the
    first stretch begins.
    """

    stretches: tuple[Stretch, ...]
    parts: tuple[Part, ...]
    opens_s: int
    finish_s: int
    before_s: int

    @property
    def last(self) -> Visit:
        """The visit that ends the class."""
        return self.stretches[-1].visits[-1]

    @property
    def slack_s(self) -> int:
        """Seconds that no rule explains."""
        return sum(stretch.slack_s for stretch in self.stretches)


@dataclass(frozen=True)
class _Node:
    """A visit on the chain and the hold that keeps it back."""

    visit: Visit
    hold: Hold

    @property
    def slack_s(self) -> int:
        return self.visit.start_s - self.hold.bound_s


def why_it_ends(problem: Problem, plan: Plan) -> Chain | None:
    """Return the chain that ends the plan, None for a plan without visits.

    Of all chains the one with the least slack is chosen, and of those the one that passes between plates least often.
    Only a plan that is not proven can have slack.
    """
    if not plan.visits:
        return None
    holds = Holds(problem, plan.visits)
    nodes = _walk(holds, [visit for visit in plan.visits if visit.end_s == plan.makespan_s])
    opens = problem.periods[0][0]
    parts, shares = _share(nodes, holds, opens, plan.makespan_s)
    stretches = tuple(_stretches(nodes, holds, shares))[::-1]
    return Chain(
        stretches,
        _summed(problem, parts),
        opens,
        plan.makespan_s - opens,
        plan.makespan_s - opens - sum(shares),
    )


def _walk(holds: Holds, last: Sequence[Visit]) -> list[_Node]:
    """Return the best chain from one of the last visits back to a hold that no visit is behind.

    Every visit is taken up once, in the order of what the chain to it costs: the seconds that no rule explains, then
    passing by a place like this one that had room, then passing between plates, then its length. So no chain comes
    back to where it was, though a longest wait leads forward in time.
    """
    queue: list[tuple[tuple[int, int, int, int], int, _Node | Visit, _Node | None]] = [
        ((0, 0, 0, 0), number, visit, None) for number, visit in enumerate(last)
    ]
    pushed = len(queue)
    reached: dict[Visit, _Node | None] = {}
    while True:
        (slack_s, weak, handed, links), _, visit, before = heappop(queue)
        if isinstance(visit, _Node):
            return _path(reached, visit)
        if visit in reached:
            continue
        reached[visit] = before
        for hold in holds.of(visit):
            node = _Node(visit, hold)
            if hold.by not in reached:
                passes_on = hold.cause not in WITHIN_A_PASS
                cost = (slack_s + node.slack_s, weak + hold.weak, handed + passes_on, links + 1)
                pushed += 1
                heappush(queue, (cost, pushed, node if hold.by is None else hold.by, node))


def _path(reached: dict[Visit, _Node | None], last: _Node) -> list[_Node]:
    found = [last]
    while (before := reached[found[-1].visit]) is not None:
        found.append(before)
    return found[::-1]


def _share(
    nodes: Sequence[_Node], holds: Holds, opens: int, finish: int
) -> tuple[list[tuple[Cause, Visit | None, int]], list[int]]:
    """Divide the finish among the nodes: parts by what passes, and the seconds that fall to each node.

    The moment goes back from the finish to the opening and never forward, so that no second counts twice. The time
    of a visit that another one waits for counts as that one's waiting as far as it did wait.
    """
    first = nodes[0].visit
    parts: list[tuple[Cause, Visit | None, int]] = [("own", first, finish - first.start_s)]
    shares = [finish - first.start_s]
    moment, ready = first.start_s, holds.ready(first)
    for before, node in pairwise((None, *nodes)):
        assert node is not None
        if before is None or before.hold.cause != "wait":
            ready = holds.ready(node.visit)
        by, cause = node.hold.by, node.hold.cause
        if node.slack_s:
            parts.append(("slack", None, min(node.slack_s, moment - opens)))
            moment -= parts[-1][2]
            shares[-1] += parts[-1][2]
        if by is None:
            parts.append((cause, None, moment - opens))
            continue
        begins = min(moment, by.start_s)
        waited = 0 if cause in AT_WORK else max(0, moment - max(begins, ready))
        parts += [(cause, None, waited), ("own", by, moment - begins - waited)]
        shares.append(moment - begins)
        moment = begins
    return parts, shares


def _summed(problem: Problem, parts: Sequence[tuple[Cause, Visit | None, int]]) -> tuple[Part, ...]:
    """Return the parts added up, the longest first; places that a step offers together count as one."""
    offered: dict[str, tuple[str, ...]] = {}
    for group in problem.groups:
        for number in range(1, group.passes + 1):
            for step in problem.steps_of(group, number):
                if step.at != "same":
                    for place in step.at:
                        offered[place] = max(offered.get(place, ()), step.at, key=len)
    total: dict[tuple[Cause, tuple[str, ...]], int] = defaultdict(int)
    used: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for cause, visit, seconds in parts:
        places = () if visit is None else offered[visit.place]
        total[cause, places] += seconds
        if visit is not None:
            used[places].add(visit.place)
    order = [place.name for place in problem.places]
    return tuple(
        Part(cause, tuple(sorted(used[places], key=order.index)) if places else (), seconds)
        for (cause, places), seconds in sorted(total.items(), key=lambda item: -item[1])
        if seconds
    )


def _stretches(nodes: Sequence[_Node], holds: Holds, shares: Sequence[int]) -> Iterator[Stretch]:
    """Join what stays within one pass, from the last stretch to the first."""
    first = 0
    for index, node in enumerate(nodes):
        if node.hold.cause in WITHIN_A_PASS and not node.slack_s and index + 1 < len(nodes):
            continue
        mine = nodes[first : index + 1]
        visits = tuple(sorted({one.visit for one in mine}, key=lambda visit: (visit.start_s, visit.end_s)))
        begins = visits[0]
        yield Stretch(
            visits,
            node.hold.cause,
            node.visit,
            node.hold.by,
            node.hold.since_s,
            begins.start_s - holds.ready(begins),
            node.slack_s,
            sum(shares[first : index + 1]),
        )
        first = index + 1
