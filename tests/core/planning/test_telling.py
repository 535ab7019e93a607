"""The chain and the bound in words."""

from dataclasses import replace

from server.core.planning import Fixed, Plan, Problem, Telling, plan, tell, wall_sheet
from server.core.units import clock_words
from tests.core.planning.labs import lab, open_shop


def words_of(problem: Problem, answer: Plan) -> Telling:
    told = tell(problem, answer, clock_words)
    assert told is not None
    return told


def test_three_groups_at_one_station_are_told_as_they_wait() -> None:
    """G1 at S1 to 7:10; G2 aligns to 12:10; G1 through the trays to 14:40; then G3 aligns, 11 min 40 s to the end."""
    problem = lab(groups=3, stations=1)
    told = words_of(problem, plan(problem, seconds=2, seed=1))

    assert told.sentences == (
        "It ends at 26:20 because G3's view at bench is last.",
        (
            "G3, plate 1 (align to view): Align needs the lights, and room was dark for G1's clear from 13:10 to 14:40 "
            "(1 min 30 s). G3 had been free for 14 min 40 s."
        ),
        (
            "G1, plate 1 (develop to clear): Develop needs the dark, and the lights of room were on for G2's align from "
            "7:10 to 12:10 (5 min). The plate had waited 5 min."
        ),
    )
    assert [line.why for line in told.lines][:2] == [
        "It begins with the class.",
        "S1 held G1's plate 1 from 0:00 to 7:10 (7 min 10 s). G2 had been free for 7 min 10 s.",
    ]
    assert told.whole == "26 min 20 s"
    assert told.parts[:2] == ("14 min 20 s at S1", "5 min waiting for the dark")
    assert told.bound == (
        "3 plates need S1 for 21 min 30 s together, one at a time, no sooner than 0 s after the start and with 4 min "
        "30 s to follow. That alone rules out a finish before 26:00; counting plates in lit and dark phases, and the "
        "search, rule out every one before 26:20."
    )


def test_a_bound_that_a_group_sets_names_the_group() -> None:
    problem = open_shop((40, 50), (3, 4))
    told = words_of(problem, plan(problem, seconds=1, seed=1))

    assert told.bound == (
        "J1 needs at least 1 min 30 s for its 2 plates, one after another. So nothing can end before 1:30."
    )


def test_a_bound_that_a_fixed_step_sets_names_the_step() -> None:
    problem = replace(open_shop((40, 50)), fixed=(Fixed("J1", 1, "work", "M1", 300),))
    told = words_of(problem, plan(problem, seconds=1, seed=1))

    assert told.bound.startswith(
        "From work of J1's plate 1, fixed at 5:00, to the end of that plate it takes at least 40 s."
    )


def test_a_plan_that_leaves_plates_out_says_what_its_bound_is_for() -> None:
    problem = lab(groups=3, stations=1, period_s=1500)
    told = words_of(problem, plan(problem, seconds=2, seed=1))

    assert told.bound.startswith("Not all plates fit, so the bound is for plans with as many plates")


def test_the_sheet_for_the_wall_says_why_it_ends_then() -> None:
    problem = lab(groups=1, stations=1)
    sheet = wall_sheet(problem, plan(problem, seconds=1, seed=1))

    assert "It ends at 0:11:40 because G1's view at bench is last." in sheet
    assert (
        "Of 11 min 40 s: 7 min 10 s at S1; 2 min at bench; 1 min 30 s at bleach; 1 min at developer." in sheet
    )
