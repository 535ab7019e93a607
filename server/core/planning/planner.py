"""The planner: from a problem to a plan with its proof, or to the reasons why there is none."""

from collections.abc import Callable
from dataclasses import replace

from server.core.planning.answer import Plan, Progress
from server.core.planning.checking import check
from server.core.planning.problem import Problem
from server.core.planning.rounds import filled_up, made_without_search, plan_of
from server.core.planning.work import Schedule, Work, better, schedule_of, take_apart


def load_solver() -> None:
    """Load the solver now, which takes a third of a second, so that no plan waits for it later."""
    import server.core.planning.reasons  # noqa: F401, PLC0415


def plan(
    problem: Problem,
    *,
    seconds: float,
    seed: int,
    watch: Callable[[Progress], None] | None = None,
    start: Plan | None = None,
    explain: bool = True,
) -> Plan:
    """Return the best plan found within about ``seconds`` of wall time; the same seed gives the same plan.

    Most passes come first, then the earliest finish, the fewest light switches, the least and the fairest waiting.
    ``watch`` is told of the first plan, and whenever it places more passes or its finish or the bound improves;
    it is called in the midst of the search, so it should take next to no time.
    A plan is never worse than the whiteboard's, nor than ``start``, a plan to begin from; a start that breaks a rule of
    this problem is left aside. What does not fit is left out with reasons; unless asked to ``explain``, without time for
    remedies.
    """
    # Loading the solver takes a third of a second, so only a plan pays for it.
    from server.core.planning.reasons import impossible_plan, partial_reasons  # noqa: PLC0415
    from server.core.planning.search import search  # noqa: PLC0415
    from server.core.planning.solving import Budget  # noqa: PLC0415

    work = take_apart(problem)
    made = made_without_search(work)
    whiteboard_s = work.finish(made.rounds) if len(made.rounds) == len(work.jobs) else None
    begin = made.best
    budget = Budget.of(seconds, seed)
    budget.pay(made.tried)
    if start is not None and check(problem, start) == ():
        known = schedule_of(work, start.visits)
        fuller = filled_up(work, known)
        budget.pay(fuller.tried)
        begin = better(work, better(work, begin, known), fuller.placed)
    reserve = budget.set_aside(0.3 if explain and len(begin) < len(work.jobs) else 0.0)
    found = search(work, begin, budget, _telling(work, watch, whiteboard_s))
    if explain:
        reserve.add(budget)
    if found is None or not found.schedule:
        return replace(impossible_plan(work, reserve), most=found is not None and found.most)
    answer = plan_of(work, found.schedule, bound_s=found.bound_s)
    if answer.unplaced:
        reasons = partial_reasons(work, answer, reserve, most=found.most)
        reasons = (*answer.reasons, *reasons)
        return replace(answer, reasons=reasons, whiteboard_s=whiteboard_s, most=found.most)
    proven = answer.makespan_s == answer.bound_s
    return replace(answer, status="optimal" if proven else "feasible", whiteboard_s=whiteboard_s)


def plan_aloud(
    problem: Problem, *, seconds: float, seed: int, start: Plan | None, tell: Callable[[Progress], None]
) -> Plan:
    """Return the plan, telling of progress on the way: ``plan`` for a process of its own."""
    return plan(problem, seconds=seconds, seed=seed, watch=tell, start=start)


def _telling(
    work: Work, watch: Callable[[Progress], None] | None, whiteboard_s: int | None
) -> Callable[[Schedule, int], None] | None:
    """Return what tells of a schedule as a plan."""
    if watch is None:
        return None
    total = len(work.jobs)

    def tell(schedule: Schedule, bound_s: int) -> None:
        so_far = f"The search has found room for {len(schedule)} of {total} plates so far, and looked no further into why."
        found = plan_of(work, schedule, bound_s=bound_s, reasons=(so_far,))
        status = "optimal" if found.status == "feasible" and found.makespan_s == bound_s else found.status
        watch(Progress(found.makespan_s, bound_s, replace(found, status=status, whiteboard_s=whiteboard_s)))

    return tell
