"""The smallest set of limits that rules out a plan of all plates."""

from dataclasses import replace

from hypothesis import HealthCheck, assume, given, settings

from server.core.planning import Fixed, Problem, plan
from server.core.planning.conflict import Conflict, conflict_of, limits_of
from server.core.planning.solving import Budget
from tests.core.planning.labs import lab, problems


def found(problem: Problem) -> Conflict | None:
    return conflict_of(problem, Budget.of(3.0, 1))


def all_fit(problem: Problem) -> bool:
    return plan(problem, seconds=1.0, seed=1, explain=False).unplaced == ()


def test_three_plates_at_one_station_are_ruled_out_by_the_period_and_the_station() -> None:
    """3 × 430 s at the station and 270 s after it are more than 1500 s; neither light nor stillness is needed for that."""
    conflict = found(lab(groups=3, stations=1, period_s=1500))

    assert conflict is not None
    assert conflict.smallest
    assert [(limit.kind, limit.about) for limit in conflict.limits] == [("periods", ""), ("room", "S1")]


def test_a_pass_longer_than_the_period_is_ruled_out_by_that_alone() -> None:
    """One plate takes 700 s from the first step to the last."""
    conflict = found(lab(groups=1, stations=1, period_s=600))

    assert conflict is not None
    assert [limit.kind for limit in conflict.limits] == ["periods"]


def test_fixed_steps_that_want_light_and_dark_are_ruled_out_by_both_and_the_light_of_the_room() -> None:
    clash = (Fixed("G1", 1, "load", "S1", 300), Fixed("G2", 1, "align", "S2", 200))
    conflict = found(replace(lab(groups=2, stations=2), fixed=clash))

    assert conflict is not None
    assert sorted(limit.kind for limit in conflict.limits) == ["fixed", "fixed", "light"]


def test_a_class_that_fits_has_no_conflict() -> None:
    assert found(lab(groups=2, stations=1)) is None


def test_a_set_that_was_not_searched_through_is_not_called_smallest() -> None:
    """That the station alone takes longer than the period needs no search; for the rest there is no time."""
    conflict = conflict_of(lab(groups=3, stations=1, period_s=1400), Budget(0.0201, 0.0051, 1))

    assert conflict is not None
    assert not conflict.smallest


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(problems())
def test_without_any_one_of_the_limits_the_others_let_all_plates_in(problem: Problem) -> None:
    """The set is asked again with the whole planner: no plan with all of them, one without each of them."""
    conflict = found(problem)
    assume(conflict is not None and conflict.smallest)
    assert conflict is not None
    names = [(limit.kind, limit.about, limit.words) for limit in conflict.limits]
    for limit in limits_of(problem):
        if (limit.kind, limit.about, limit.words) not in names:
            problem = limit.lift(problem)

    assert not all_fit(problem)
    assert conflict.limits
    assert all(all_fit(limit.lift(problem)) for limit in conflict.limits)
