"""Whoever watches a search is told of each better plan and bound as it comes."""

from itertools import pairwise

from server.core.planning import Progress, plan
from tests.core.planning.labs import instance, lab


def test_progress_only_ever_improves_and_ends_with_the_plan() -> None:
    told: list[Progress] = []
    answer = plan(instance("typical-8-groups-2-stations"), seconds=5.0, seed=1, watch=told.append)

    assert len(told) > 1
    for before, after in pairwise(told):
        assert (after.makespan_s, -after.bound_s) <= (before.makespan_s, -before.bound_s)
        assert after != before
    assert told[-1] == Progress(answer.makespan_s, answer.bound_s)


def test_watching_a_search_does_not_change_its_plan() -> None:
    problem = lab(groups=4, stations=2)
    told: list[Progress] = []
    assert plan(problem, seconds=3.0, seed=3, watch=told.append) == plan(problem, seconds=3.0, seed=3)


def test_nothing_is_told_of_plans_that_leave_plates_out() -> None:
    told: list[Progress] = []
    answer = plan(lab(groups=3, stations=1, period_s=1000), seconds=2.0, seed=1, watch=told.append)
    assert (answer.status, told) == ("partial", [])
