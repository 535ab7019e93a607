"""The chance of finishing. Exact cases are checked against the lognormal distribution of a reference library, scipy."""

from dataclasses import replace
from fractions import Fraction
from math import log, sqrt

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from scipy.stats import lognorm

from server.core.planning import (
    Charge,
    Fixed,
    Group,
    LightZone,
    Place,
    Plan,
    Problem,
    Step,
    Visit,
    plan,
    whiteboard,
)
from server.core.planning.simulation import ASSUMED_SPREAD, Chances, Spread, simulate
from tests.core.planning.labs import instance, lab, problems

NONE = Spread(lit=0.0, dark=0.0, other=0.0, pace=0.0)
EVERY = 10_000
# Four standard deviations of a share of 10 000 replays are at most 0.02.
NEAR = 0.02


def _replayed(
    problem: Problem,
    answer: Plan,
    spread: Spread = ASSUMED_SPREAD,
    *,
    replications: int = EVERY,
    seed: int = 1,
) -> Chances:
    found = simulate(
        problem, answer, replications=replications, seed=seed, failure=Fraction(1, 5), spread=spread
    )
    assert found is not None
    return found


def _one_step(*, closes_s: int = 1000, **step: object) -> tuple[Problem, Plan]:
    problem = Problem(
        "one step",
        ((0, closes_s),),
        (Place("bench", 1),),
        (Step("align", ("bench",), 600, **step),),  # type: ignore[arg-type]
        (Group("G1", 1),),
    )
    return problem, Plan("optimal", 600, 600, (Visit("G1", 1, "align", "bench", 0, 600),))


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(problems(), st.integers(0, 5))
def test_without_spread_a_replay_is_the_plan(problem: Problem, seed: int) -> None:
    answer = whiteboard(problem)
    assume(answer.visits)
    found = _replayed(problem, answer, NONE, replications=3, seed=seed)

    assert (found.tenth_s, found.half_s, found.nine_tenths_s) == (answer.makespan_s,) * 3
    assert found.by_bell == 3
    assert found.good_plates == found.plates * Fraction(4, 5)


@pytest.mark.parametrize(
    "name", ["typical-8-groups-2-stations", "three-periods-8-groups", "shop-ft06-optimum-55"]
)
def test_without_spread_a_searched_plan_is_replayed_second_by_second(name: str) -> None:
    problem = instance(name)
    answer = plan(problem, seconds=1, seed=1)
    found = _replayed(problem, answer, NONE, replications=2)

    assert found.half_s == answer.makespan_s
    assert found.by_bell == 2


@pytest.mark.parametrize(("own", "pace"), [(0.3, 0.0), (0.0, 0.2), (0.3, 0.2)])
def test_one_step_follows_the_lognormal_distribution(own: float, pace: float) -> None:
    """Reference: scipy. The product of two lognormal factors is lognormal, and the variances of their logarithms add up."""
    found = _replayed(*_one_step(), Spread(lit=0.0, dark=0.0, other=own, pace=pace))
    sigma = sqrt(log(1 + own**2) + log(1 + pace**2))
    reference = lognorm(sigma, scale=600 / sqrt((1 + own**2) * (1 + pace**2)))

    assert reference.mean() == pytest.approx(600)
    for minute_s, number in found.curve:
        assert number / EVERY == pytest.approx(reference.cdf(minute_s), abs=NEAR)
    assert found.by_bell / EVERY == pytest.approx(reference.cdf(1000), abs=NEAR)
    for share, second in ((0.1, found.tenth_s), (0.5, found.half_s), (0.9, found.nine_tenths_s)):
        assert reference.cdf(second) == pytest.approx(share, abs=NEAR)


def test_two_groups_one_after_the_other_take_the_sum_of_their_times() -> None:
    """By hand: two steps of 600 s with a standard deviation of 180 s each have one of 180 · √2 s together."""
    problem, _plan = _one_step(closes_s=3000)
    problem = replace(problem, groups=(Group("G1", 1), Group("G2", 1)))
    visits = (Visit("G1", 1, "align", "bench", 0, 600), Visit("G2", 1, "align", "bench", 600, 1200))
    found = _replayed(problem, Plan("optimal", 1200, 1200, visits), replace(NONE, other=0.3))
    middle = sum(
        (minute_s - 30) * (after - before)
        for (_second, before), (minute_s, after) in zip(found.curve, found.curve[1:], strict=False)
    )

    assert middle / EVERY == pytest.approx(1200, abs=10)
    assert found.nine_tenths_s - found.tenth_s == pytest.approx(2 * 1.2816 * 180 * sqrt(2), rel=0.05)


def test_a_group_begins_its_next_plate_when_it_is_free_from_the_last() -> None:
    """The same times follow each other whether one place ties them or one group does."""
    benches = (Place("S1", 1), Place("S2", 1))
    passes = tuple((Step("align", (bench.name,), 600),) for bench in benches)
    own = Problem("one group", ((0, 3000),), benches, (), (Group("G1", 2, pass_steps=passes),))
    visits = (Visit("G1", 1, "align", "S1", 0, 600), Visit("G1", 2, "align", "S2", 600, 1200))
    shared = replace(_one_step(closes_s=3000)[0], groups=(Group("G1", 1), Group("G2", 1)))
    in_turn = (Visit("G1", 1, "align", "bench", 0, 600), Visit("G2", 1, "align", "bench", 600, 1200))

    assert _replayed(own, Plan("optimal", 1200, 0, visits)) == _replayed(
        shared, Plan("optimal", 1200, 0, in_turn)
    )


def test_every_plate_must_keep_the_bell_and_each_counts_by_itself() -> None:
    """Two plates made apart, each in time with the chance p: all of it is with p · p, and 2 p plates are done."""
    problem, _plan = _one_step(closes_s=700)
    problem = replace(problem, places=(Place("bench", 2),), groups=(Group("G1", 1), Group("G2", 1)))
    visits = (Visit("G1", 1, "align", "bench", 0, 600), Visit("G2", 1, "align", "bench", 0, 600))
    found = _replayed(problem, Plan("optimal", 600, 0, visits), replace(NONE, other=0.3))
    in_time = lognorm(sqrt(log(1.09)), scale=600 / sqrt(1.09)).cdf(700)

    assert found.by_bell / EVERY == pytest.approx(in_time**2, abs=NEAR)
    assert float(found.good_plates) == pytest.approx(0.8 * 2 * in_time, abs=2 * NEAR)


def test_what_the_shutter_s_clock_times_never_varies() -> None:
    held = _replayed(*_one_step(still="still"))
    named = _replayed(*_one_step(), replace(ASSUMED_SPREAD, exact=frozenset({"align"})))

    assert (held.tenth_s, held.nine_tenths_s) == (600, 600)
    assert (named.tenth_s, named.nine_tenths_s) == (600, 600)


def test_lights_stay_off_until_the_last_dark_step_has_ended() -> None:
    """A group that only needs the light is as late as the dark before it, though nothing else ties the two."""
    room = (Place("S1", 1, "room"), Place("bench", 1, "room"))
    dark = (Step("load", ("S1",), 600, "dark"),)
    lit = (Step("view", ("bench",), 60, "lit"),)
    problem = Problem("two", ((0, 5000),), room, (), (Group("G1", 1, dark), Group("G2", 1, lit)))
    visits = (Visit("G1", 1, "load", "S1", 0, 600), Visit("G2", 1, "view", "bench", 600, 660))
    answer = Plan("feasible", 660, 0, visits)
    spread = replace(NONE, dark=0.3)

    together = _replayed(problem, answer, spread)
    apart = _replayed(replace(problem, places=(room[0], Place("bench", 1, "hall"))), answer, spread)

    assert together.nine_tenths_s > apart.nine_tenths_s > 660
    assert together.nine_tenths_s == pytest.approx(
        lognorm(sqrt(log(1.09)), scale=600 / sqrt(1.09)).ppf(0.9) + 60, abs=15
    )
    # Without the tie the later group's end at 660 s is never undercut: it waits for its planned time only.
    assert apart.tenth_s == 660


def test_a_late_class_still_waits_for_the_lamps_to_stop_glowing() -> None:
    """By hand: align to 600 s, lamps glow for 300 s, load 60 s; however late the alignment ends, the load begins 300 s after it."""
    places = (Place("bench", 1, light_zone="room"), Place("S1", 1, light_zone="room"))
    steps = (Step("align", ("bench",), 600, light="lit"), Step("load", ("S1",), 60, light="dark"))
    problem = Problem(
        "glow", ((0, 3000),), places, steps, (Group("G1", 1),), light_zones=(LightZone("room", 300),)
    )
    visits = (Visit("G1", 1, "align", "bench", 0, 600), Visit("G1", 1, "load", "S1", 900, 960))
    found = _replayed(problem, Plan("optimal", 960, 0, visits), replace(NONE, lit=0.3))
    alone, aligned = _one_step(closes_s=3000, light="lit")
    alignment = _replayed(alone, aligned, replace(NONE, lit=0.3))

    assert found.nine_tenths_s == alignment.nine_tenths_s + 300 + 60
    assert found.half_s == alignment.half_s + 300 + 60


def test_a_plate_that_comes_after_the_developers_life_is_lost() -> None:
    """The chance that a step of 600 s ends by 700 s is that of its lognormal distribution; the developer dies then, and not the class."""
    problem, answer = _one_step(closes_s=3000)
    problem = replace(problem, places=(Place("bench", 1, charges=(Charge(0, 700),)),))
    found = _replayed(problem, answer, replace(NONE, other=0.3))

    assert found.by_bell / EVERY == pytest.approx(
        lognorm(sqrt(log(1.09)), scale=600 / sqrt(1.09)).cdf(700), abs=NEAR
    )


def test_a_plate_too_late_for_one_charge_waits_for_the_next() -> None:
    problem, answer = _one_step(closes_s=3000)
    problem = replace(problem, places=(Place("bench", 1, charges=(Charge(0, 700), Charge(1500, 3000))),))
    found = _replayed(problem, answer, replace(NONE, other=0.3))

    assert found.half_s <= 700
    assert found.nine_tenths_s > 2000
    assert found.by_bell > 0.99 * EVERY


def test_a_place_that_is_closed_lets_nobody_in_before_it_opens() -> None:
    """By hand: a step of 600 s that would run into the closing at 650 s begins when it opens at 900 s."""
    problem, answer = _one_step(closes_s=3000)
    problem = replace(problem, places=(Place("bench", 1, closed=((650, 900),)),))
    found = _replayed(problem, answer, replace(NONE, other=0.3))

    assert found.done_by(660) / EVERY == pytest.approx(
        lognorm(sqrt(log(1.09)), scale=600 / sqrt(1.09)).cdf(650), abs=NEAR
    )
    assert found.done_by(900) == found.done_by(660)


def test_a_place_for_two_holds_two_plates_and_never_three() -> None:
    """By hand: three groups of 600 s at a bench for two; the third begins when the first of the others has ended."""
    bench = (Place("bench", 2),)
    groups = tuple(Group(f"G{number}", 1) for number in (1, 2, 3))
    problem = Problem("three", ((0, 5000),), bench, (Step("view", ("bench",), 600),), groups)
    starts = {"G1": 0, "G2": 0, "G3": 600}
    visits = tuple(Visit(name, 1, "view", "bench", start, start + 600) for name, start in starts.items())
    found = _replayed(problem, Plan("optimal", 1200, 1200, visits), replace(NONE, other=0.3))

    # The smaller of two such times has a mean of about 600 − 0.564 · 180 s, and then the third takes its own 600 s.
    assert found.half_s == pytest.approx(600 - 0.564 * 180 + 600, abs=25)


def test_work_that_runs_over_its_own_period_has_missed_the_bell() -> None:
    """Two periods of 700 s with a step of 600 s each: both must keep their own end, and independently."""
    steps = (Step("align", ("bench",), 600), Step("view", ("bench",), 600))
    problem = Problem(
        "two days", ((0, 700), (10_000, 10_700)), (Place("bench", 1),), steps, (Group("G1", 1),)
    )
    visits = (Visit("G1", 1, "align", "bench", 0, 600), Visit("G1", 1, "view", "bench", 10_000, 10_600))
    found = _replayed(problem, Plan("optimal", 10_600, 0, visits), replace(NONE, other=0.3))
    in_time = lognorm(sqrt(log(1.09)), scale=600 / sqrt(1.09)).cdf(700)

    assert found.by_bell / EVERY == pytest.approx(in_time**2, abs=NEAR)
    assert (found.periods, found.bell_s) == (2, 10_700)
    assert found.done_by(10_700) > found.by_bell
    assert found.good_plates == Fraction(4, 5) * Fraction(found.by_bell, EVERY)


def test_what_dries_by_itself_may_end_after_the_bell() -> None:
    found = _replayed(*_one_step(closes_s=600, attended=False))

    assert found.by_bell == EVERY
    assert found.done_by(600) < EVERY


def test_a_step_that_has_begun_keeps_its_moment() -> None:
    """Without the fixed step the class would run ahead of the second one's planned start as often as not."""
    problem, _plan = _one_step(closes_s=5000)
    steps = (*problem.steps, Step("view", "same", 60))
    answer = Plan(
        "optimal",
        660,
        0,
        (Visit("G1", 1, "align", "bench", 0, 600), Visit("G1", 1, "view", "bench", 600, 660)),
    )
    problem = replace(problem, steps=steps)
    begun = replace(problem, fixed=(Fixed("G1", 1, "view", "bench", 600),))
    spread = Spread(lit=0.0, dark=0.0, other=0.3, pace=0.0, exact=frozenset({"view"}))

    assert _replayed(problem, answer, spread).tenth_s < 660
    assert _replayed(begun, answer, spread).tenth_s == 660


@pytest.mark.parametrize("passes", [1, 2])
def test_more_spread_never_makes_the_slow_tenth_earlier(passes: int) -> None:
    problem = lab(groups=6, stations=2, passes=passes)
    answer = whiteboard(problem)
    late = [
        _replayed(problem, answer, Spread(lit=part, dark=part, other=part, pace=part / 2)).nine_tenths_s
        for part in (0.0, 0.05, 0.1, 0.2, 0.3, 0.5)
    ]

    assert late == sorted(late)
    assert late[0] == answer.makespan_s < late[-1]


def test_the_same_seed_gives_the_same_numbers_and_another_seed_others() -> None:
    problem = lab(groups=4, stations=2)
    answer = whiteboard(problem)
    first, again, other = (_replayed(problem, answer, seed=seed) for seed in (1, 1, 2))

    assert first == again
    assert first.curve != other.curve


def test_the_curve_rises_from_none_to_all_in_whole_minutes() -> None:
    problem = lab(groups=4, stations=2)
    found = _replayed(problem, whiteboard(problem))
    seconds, numbers = zip(*found.curve, strict=True)

    assert numbers[0] == 0
    assert numbers[-1] == EVERY
    assert list(numbers) == sorted(numbers)
    assert seconds == tuple(range(seconds[0], seconds[-1] + 60, 60))
    assert found.done_by(seconds[0] - 1) == 0
    assert found.done_by(found.half_s // 60 * 60 + 60) >= EVERY / 2


def test_nothing_is_replayed_of_a_plan_without_visits() -> None:
    problem, _plan = _one_step()

    assert (
        simulate(problem, Plan("impossible", 0, 0, ()), replications=10, seed=1, failure=Fraction(1, 5))
        is None
    )
