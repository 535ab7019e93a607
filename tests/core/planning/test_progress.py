"""Whoever watches a search is told of each better plan and bound as it comes."""

from functools import cache
from itertools import pairwise

import pytest

from server.core.planning import Plan, Progress, check, plan
from server.core.planning.rounds import constructed
from server.core.planning.work import take_apart
from tests.bench.classes import classroom
from tests.core.planning.labs import instance, lab

PROBLEMS = {
    "whole": (instance("typical-8-groups-2-stations"), 5.0),
    "places of different times": (lab(groups=4, stations=2), 3.0),
    "more than the planner can close": (
        classroom("6 groups", plates=[2] * 6, stations=2, trays=1, realign_s=60), 2.0,
    ),
    "not all fits": (lab(groups=3, stations=1, period_s=1000), 2.0),
}  # fmt: skip


@cache
def _told(name: str) -> tuple[list[Progress], Plan]:
    problem, seconds = PROBLEMS[name]
    told: list[Progress] = []
    return told, plan(problem, seconds=seconds, seed=1, watch=told.append)


@pytest.mark.parametrize("name", PROBLEMS)
def test_every_plan_that_is_told_keeps_every_rule(name: str) -> None:
    told, _answer = _told(name)

    assert told
    for progress in told:
        assert not check(PROBLEMS[name][0], progress.plan)
        assert progress.plan.makespan_s == progress.makespan_s == max(v.end_s for v in progress.plan.visits)
        assert progress.plan.bound_s == progress.bound_s <= progress.makespan_s


@pytest.mark.parametrize("name", PROBLEMS)
def test_progress_only_ever_improves_and_ends_with_the_plan(name: str) -> None:
    told, answer = _told(name)

    for before, after in pairwise(told):
        left_out = len(before.plan.unplaced), len(after.plan.unplaced)
        assert left_out[1] <= left_out[0]
        if left_out[0] == left_out[1]:
            assert (after.makespan_s, -after.bound_s) <= (before.makespan_s, -before.bound_s)
    assert (told[-1].makespan_s, told[-1].bound_s) == (answer.makespan_s, answer.bound_s)


def test_the_first_plan_is_told_before_any_search() -> None:
    told, answer = _told("more than the planner can close")
    work = take_apart(PROBLEMS["more than the planner can close"][0])

    assert told[0].makespan_s == work.finish(constructed(work))
    assert told[0].makespan_s > answer.makespan_s
    assert told[0].plan.whiteboard_s is not None


def test_a_proven_plan_is_told_as_proven() -> None:
    told, _answer = _told("whole")

    assert [progress.plan.status for progress in told][-1] == "optimal"
    assert told[0].plan.status == "feasible"


def test_a_plan_that_leaves_plates_out_is_told_with_what_it_leaves_out() -> None:
    told, _answer = _told("not all fits")

    assert told[-1].plan.status == "partial"
    assert len(told[-1].plan.unplaced) == 2
    assert "room for 1 of 3 plates so far" in told[-1].plan.reasons[0]


def test_nothing_is_told_where_nothing_can_be_planned() -> None:
    told: list[Progress] = []
    answer = plan(lab(groups=1, stations=1, period_s=100), seconds=1.0, seed=1, watch=told.append)
    assert (answer.status, told) == ("impossible", [])


def test_watching_a_search_does_not_change_its_plan() -> None:
    problem = lab(groups=4, stations=2)
    told: list[Progress] = []
    assert plan(problem, seconds=3.0, seed=3, watch=told.append) == plan(problem, seconds=3.0, seed=3)
