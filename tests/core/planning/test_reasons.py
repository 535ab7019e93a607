"""A plan that leaves plates out says why, and what would let them in."""

from dataclasses import replace

from server.core.planning import Charge, Fixed, Plan, Problem, check, plan
from tests.core.planning.labs import lab, open_shop, with_step


def told(problem: Problem, *, seconds: float = 3.0) -> Plan:
    answer = plan(problem, seconds=seconds, seed=1)
    assert check(problem, answer) == ()
    return answer


def with_place(problem: Problem, name: str, **changes: object) -> Problem:
    """Return the problem with one of its places changed."""
    places = tuple(replace(one, **changes) if one.name == name else one for one in problem.places)  # type: ignore[arg-type]
    return replace(problem, places=places)


def test_a_class_that_runs_over_says_how_long_it_needs_and_what_would_help() -> None:
    """Three groups, one station: three times 430 s there, 270 s after it, and 20 s that no plan can save.

    The trays need 150 s in the dark, the next exposure brings 130 s.
    """
    answer = told(lab(groups=3, stations=1, period_s=1500))
    assert answer.status == "partial"
    assert [missing.pass_no for missing in answer.unplaced] == [1]
    assert answer.reasons == (
        "Only 2 of the 3 plates fit into the period.",
        (
            "These together rule it out, and without any one of them the others would not: the period of 25 min; "
            "1 plate at a time at S1."
        ),
        "All 3 plates need 26 min 20 s, 1 min 20 s more than the period.",
        "With one more station (2 instead of 1) all of them fit and end 19 min 40 s after the start.",
    )


def test_what_the_reasons_promise_comes_true() -> None:
    short = lab(groups=3, stations=1, period_s=1500)
    assert told(replace(short, periods=((0, 26 * 60 + 20),))).unplaced == ()
    assert told(lab(groups=3, stations=2, period_s=1500)).unplaced == ()


def test_fewer_plates_for_each_group_are_offered_when_they_fit() -> None:
    answer = told(lab(groups=2, stations=1, passes=2, period_s=1600))
    assert answer.status == "partial"
    fewer = "With at most 1 plate for each group (instead of 2) all of them fit and end 18 min 50 s after the start."
    assert fewer in answer.reasons


def test_a_fuller_tray_is_offered_when_the_tray_is_what_holds_the_class_up() -> None:
    """Four stations expose together, then one bleach tray takes 90 s for each plate."""
    answer = told(lab(groups=4, stations=4, period_s=880))
    assert answer.status == "partial"
    roomier = "With room for 2 plates at once in bleach (instead of 1) all of them fit and end 14 min 40 s after the start."
    assert roomier in answer.reasons


def test_a_class_over_several_periods_is_told_about_the_last_one() -> None:
    short = replace(lab(groups=2, stations=1), periods=((0, 700), (800, 1400)))
    answer = told(short)
    assert answer.status == "partial"
    assert "All 2 plates fit if the last period ends 1 min 40 s later." in answer.reasons
    assert told(replace(short, periods=((0, 700), (800, 1500)))).unplaced == ()


def test_one_group_that_never_fits_is_named_and_the_others_are_planned() -> None:
    problem = lab(groups=2, stations=2, period_s=1200)
    slow = with_step(problem, "view", seconds=1300).steps
    answer = told(replace(problem, groups=(problem.groups[0], replace(problem.groups[1], steps=slow))))
    assert answer.status == "partial"
    assert "The step view takes G2 21 min 40 s. The period has only 20 min." in answer.reasons


def test_dark_steps_longer_than_every_period_are_impossible() -> None:
    quick = with_step(lab(groups=1, stations=1), "align", seconds=100)
    answer = told(replace(quick, periods=((0, 200), (200, 400))))
    assert answer.status == "impossible"
    assert answer.reasons[0].startswith(
        "The dark steps of G1 from load to clear take at least 4 min 40 s in one go."
    )
    assert answer.reasons[1] == "The one plate fits if the last period ends 3 min 20 s later."


def test_a_period_too_short_for_one_plate_is_impossible_and_says_what_it_would_take() -> None:
    answer = told(lab(groups=1, stations=1, period_s=600))
    assert (answer.status, answer.visits, len(answer.unplaced)) == ("impossible", (), 1)
    assert answer.reasons == (
        "One plate of G1 takes at least 11 min 40 s from first step to last. The period has only 10 min.",
        "The one plate needs 11 min 40 s, 1 min 40 s more than the period.",
    )


def test_fixed_steps_that_clash_are_named_with_what_would_free_them() -> None:
    clash = (Fixed("G1", 1, "align", "S1", 0), Fixed("G2", 1, "align", "S1", 100))
    answer = told(replace(lab(groups=2, stations=1), fixed=clash))
    assert answer.status == "impossible"
    assert answer.reasons[0] == (
        "G1's align at S1, fixed 0 s after the start, and G2's align at S1, fixed 1 min 40 s after the start, "
        "are at the same time: S1 has room for 1 plate."
    )
    assert "If G2's align of pass 1 is not fixed, a plan is possible." in answer.reasons


def test_fixed_steps_that_want_light_and_dark_at_once_are_named() -> None:
    clash = (Fixed("G1", 1, "load", "S1", 300), Fixed("G2", 1, "align", "S2", 200))
    answer = told(replace(lab(groups=2, stations=2), fixed=clash))
    assert answer.status == "impossible"
    assert answer.reasons[0].endswith("are at the same time: one needs the dark and the other the lights on.")


def test_a_step_fixed_across_the_bell_is_named() -> None:
    answer = told(
        replace(lab(groups=1, stations=1, period_s=1000), fixed=(Fixed("G1", 1, "view", "bench", 950),))
    )
    assert answer.status == "impossible"
    assert (
        answer.reasons[0]
        == "G1's view at bench, fixed 15 min 50 s after the start, does not lie in one period."
    )


def test_a_group_fixed_in_two_places_at_once_is_named() -> None:
    problem = replace(
        open_shop((5, 5)), fixed=(Fixed("J1", 1, "work", "M1", 0), Fixed("J1", 2, "work", "M2", 2))
    )
    answer = told(problem)
    assert answer.status == "impossible"
    assert answer.reasons[0].endswith("are at the same time: J1 can only be in one place.")


def test_a_charge_that_dies_too_soon_is_named_with_the_one_more_that_helps() -> None:
    """Two groups at one station: the second plate comes to the tray at 430 + 430 s, 260 s after the developer has died."""
    problem = with_place(lab(groups=2, stations=1), "developer", charges=(Charge(0, 600),))
    answer = told(problem)

    assert answer.status == "partial"
    assert answer.reasons[1].endswith(
        "the life and the plates of what is in developer; 1 plate at a time at S1."
    )
    assert any(
        reason.startswith(
            "With one more charge for developer, when the last has lived out its time, all of them fit"
        )
        for reason in answer.reasons
    )


def test_a_place_closed_for_too_long_is_named() -> None:
    """The only station is open for 300 s before the end, and aligning, loading and exposing take 430 s."""
    answer = told(with_place(lab(groups=1, stations=1, period_s=3000), "S1", closed=((0, 2700),)))

    assert answer.status == "impossible"
    assert answer.reasons[0] == (
        "Not even one plate of G1 fits with the lab to itself. These together rule it out, and without any one of them "
        "the others would not: the period of 50 min; S1 is closed for a time."
    )


def test_a_wait_that_is_too_short_is_offered_longer_as_far_as_was_solved() -> None:
    """Four plates are aligned, loaded and exposed together until 430 s; the bleach takes 90 s each, so the last waits 270 s.

    There is no time for a second round. Of 2, 4 and 8 min and then 6 min, 6 min is the shortest that was tried and is enough.
    """
    together = with_step(lab(groups=4, stations=4, period_s=1100), "align", max_wait_s=0)
    problem = with_step(together, "expose", max_wait_s=60)
    answer = told(problem)

    assert answer.status == "partial"
    assert (
        "If up to 6 min may pass after expose (instead of 1 min) all of them fit and end 16 min 10 s after the start."
        in answer.reasons
    )
    assert told(with_step(problem, "expose", max_wait_s=360)).makespan_s == 970
