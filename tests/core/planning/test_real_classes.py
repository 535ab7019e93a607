"""What a real class brings: places out of order, charges, afterglow and passes kept for repeats, worked out by hand."""

from dataclasses import replace

import pytest

from server.core.planning import (
    Charge,
    Fixed,
    Group,
    LightZone,
    Place,
    Plan,
    Problem,
    Step,
    Unplaced,
    check,
    plan,
    whiteboard,
)
from server.core.planning.rounds import ONLY_RESERVE_MISSES
from tests.core.planning.labs import lab


def queue(count: int, place: Place, *, period_s: int = 1000) -> Problem:
    """So many groups that each take 10 s at one place."""
    groups = tuple(Group(f"G{number}", 1) for number in range(1, count + 1))
    return Problem("queue", ((0, period_s),), (place,), (Step("dip", (place.name,), 10),), groups)


def planned(problem: Problem) -> Plan:
    answer = plan(problem, seconds=1, seed=1)
    assert check(problem, answer) == ()
    return answer


def starts(answer: Plan) -> list[int]:
    return sorted(visit.start_s for visit in answer.visits)


def test_nobody_is_at_a_place_that_is_out_of_order() -> None:
    """The second plate would be there from 10 to 20, so it waits until 30, and the third comes after it."""
    problem = queue(3, Place("tray", 1, closed=((15, 30),)))
    assert (planned(problem).status, starts(planned(problem))) == ("optimal", [0, 30, 40])
    assert starts(whiteboard(problem)) == [0, 30, 40]


def test_closed_times_may_overlap_and_come_in_any_order() -> None:
    problem = queue(1, Place("tray", 2, closed=((20, 50), (0, 30))))
    assert starts(planned(problem)) == [50]


def test_a_place_is_closed_to_a_plate_that_only_waits_there() -> None:
    """It looks for 10 s, waits for the period after the break and looks again at the same place, closed from 12 to 14.

    Waiting there is being there, so both looks come after the break.
    """
    problem = Problem(
        "break",
        ((0, 15), (20, 60)),
        (Place("bench", 1, closed=((12, 14),)),),
        (Step("look", ("bench",), 10), Step("look again", "same", 10)),
        (Group("G1", 1),),
    )
    assert starts(planned(problem)) == [20, 30]


def test_plates_wait_for_the_next_charge() -> None:
    """Two plates fit into the first charge's 25 s; the third waits for the next mix at 40."""
    problem = queue(3, Place("tray", 1, charges=(Charge(0, 25), Charge(40, 100))))
    assert starts(planned(problem)) == [0, 10, 40]
    assert starts(whiteboard(problem)) == [0, 10, 40]


def test_a_charge_that_has_served_its_plates_serves_no_more() -> None:
    """Two plates for the first charge; the third has to wait for the second at 60 though the first still lives."""
    problem = queue(3, Place("tray", 1, charges=(Charge(0, 1000, 2), Charge(60, 1000))))
    assert starts(planned(problem)) == [0, 10, 60]


def test_the_charge_that_dies_first_is_used_first() -> None:
    """One plate each: the one that lives on serves the second plate, the one that is dead at 15 the first."""
    problem = queue(2, Place("tray", 1, charges=(Charge(0, 1000, 1), Charge(0, 15, 1))))
    assert starts(planned(problem)) == [0, 10]


def test_each_tray_has_charges_of_its_own() -> None:
    """Two trays with a charge for one plate each serve two plates at once, and a third one never."""
    trays = tuple(Place(name, 1, charges=(Charge(0, 100, 1),)) for name in ("tray 1", "tray 2"))
    problem = Problem(
        "two trays",
        ((0, 200),),
        trays,
        (Step("dip", ("tray 1", "tray 2"), 10),),
        tuple(Group(f"G{number}", 1) for number in range(1, 4)),
    )
    answer = planned(problem)
    assert (answer.status, starts(answer), len(answer.unplaced)) == ("partial", [0, 0], 1)


def test_the_first_dark_step_waits_until_the_lights_have_stopped_glowing() -> None:
    """Align to 300, glow to 400, load to 460, expose to 530, develop to 590, clear to 680, view to 800."""
    problem = replace(lab(groups=1, stations=1), light_zones=(LightZone("room", 100),))
    answer = planned(problem)
    assert (answer.status, answer.makespan_s) == ("optimal", 800)
    assert whiteboard(problem).makespan_s == 800


def test_the_whiteboards_rounds_wait_for_the_afterglow_together() -> None:
    """Both load at 400; developed at 530 and 620 (the bleach takes 90 s), the last plate is viewed from 770 to 890."""
    problem = replace(lab(groups=2, stations=2), light_zones=(LightZone("room", 100),))
    rounds = whiteboard(problem)
    assert check(problem, rounds) == ()
    assert [visit.start_s for visit in rounds.visits if visit.step == "load"] == [400, 400]
    assert rounds.makespan_s == 890


def test_the_lights_glow_on_after_every_opening() -> None:
    """Dark steps of 30 s, 20 s of afterglow: one fits into 60 s from the opening, the other into the next period."""
    problem = Problem(
        "two openings",
        ((0, 60), (100, 200)),
        (Place("table", 1, "room"),),
        (Step("load", ("table",), 30, "dark"),),
        (Group("G1", 1), Group("G2", 1)),
        light_zones=(LightZone("room", 20),),
    )
    assert starts(planned(problem)) == [20, 120]


def test_an_afterglow_that_outlasts_the_wait_allowed_leaves_no_plan() -> None:
    steps = (Step("align", ("table",), 10, "lit", max_wait_s=19), Step("load", "same", 10, "dark"))
    problem = Problem(
        "glow",
        ((0, 90),),
        (Place("table", 1, "room"),),
        steps,
        (Group("G1", 1),),
        light_zones=(LightZone("room", 20),),
    )
    assert planned(problem).status == "impossible"
    patient = replace(problem, steps=(replace(steps[0], max_wait_s=20), steps[1]))
    assert starts(planned(patient)) == [0, 30]


TWO_PLACES = Problem(
    "repeats",
    ((0, 1000),),
    (Place("table", 2), Place("tray", 2)),
    (Step("expose", ("table",), 10), Step("develop", ("tray",), 30)),
    (Group("R1", 1, reserve=True), Group("G1", 1)),
)


def test_a_repeat_begins_when_all_others_have_left_their_first_place() -> None:
    """G1 leaves the table at 10; R1 begins then, though there was room from 0 on and G1 is in the tray until 40.

    On the whiteboard repeats are a round of their own, which begins when the round before has left the tray.
    """
    for answer, repeat_s in ((planned(TWO_PLACES), 10), (whiteboard(TWO_PLACES), 40)):
        begins = {visit.group: visit.start_s for visit in answer.visits if visit.step == "expose"}
        assert check(TWO_PLACES, answer) == ()
        assert begins == {"G1": 0, "R1": repeat_s}
        assert answer.makespan_s == repeat_s + 40


def test_a_repeat_that_has_begun_stays_where_it_is() -> None:
    problem = replace(TWO_PLACES, fixed=(Fixed("R1", 1, "expose", "table", 0),))
    assert planned(problem).makespan_s == 40


def test_repeats_are_left_out_before_any_other_plate() -> None:
    """20 s have room for two plates; the repeat is left out although it is named first, and the plan says so."""
    problem = queue(2, Place("tray", 1), period_s=20)
    problem = replace(problem, groups=(Group("R1", 1, reserve=True), *problem.groups))
    for answer in (planned(problem), whiteboard(problem)):
        assert (answer.status, answer.unplaced) == ("partial", (Unplaced("R1", 1),))
        assert answer.reasons[0] == ONLY_RESERVE_MISSES


def test_one_plate_counts_more_than_any_number_of_repeats() -> None:
    """Until 50 there is room for G1's long pass or for five repeats, which may only come after it."""
    problem = queue(5, Place("tray", 1), period_s=50)
    repeats = tuple(replace(group, reserve=True) for group in problem.groups)
    long = Group("long", 1, (Step("soak", ("tray",), 45),))
    answer = planned(replace(problem, groups=(*repeats, long)))
    assert {visit.group for visit in answer.visits} == {"long"}
    assert answer.reasons[0] == ONLY_RESERVE_MISSES


def test_a_plan_that_leaves_out_more_than_repeats_does_not_say_otherwise() -> None:
    problem = queue(2, Place("tray", 1), period_s=10)
    problem = replace(problem, groups=(Group("R1", 1, reserve=True), *problem.groups))
    assert ONLY_RESERVE_MISSES not in planned(problem).reasons


def four_sections(*charges: Charge) -> Problem:
    """Sections of 110 min at 8:00, 10:00, 13:00 and 15:00, which have time for 12 plates each: one station, 9 min a plate."""
    opens = (0, 7200, 18_000, 25_200)
    return Problem(
        "four sections",
        tuple((start, start + 6600) for start in opens),
        (Place("station", 1), Place("developer", 1, charges=charges)),
        (Step("expose", ("station",), 540, max_wait_s=0), Step("develop", ("developer",), 60, "dark")),
        tuple(Group(f"G{number}", 1) for number in range(1, 49)),
    )


MORNING = Charge(0, 20_700, 24)


@pytest.mark.parametrize(
    ("charges", "left_out"),
    [
        pytest.param((MORNING, Charge(17_100, 38_700, 24)), 0, id="mixed at 7:45 and 12:45"),
        # The third section's first plate comes out of the station at 13:15 at the soonest: 11 plates are left.
        pytest.param((MORNING, Charge(18_900, 38_700, 24)), 1, id="mixed at 7:45 and 13:15"),
        # Dead at 15:45: of the fourth section four plates are developed by then, at 15:09, 15:18, 15:27 and 15:36.
        pytest.param((Charge(0, 27_900),), 8, id="mixed once, with a life of eight hours"),
        pytest.param((MORNING,), 24, id="mixed once, for 24 plates"),
    ],
)
def test_a_day_of_four_sections_with_its_mixes(charges: tuple[Charge, ...], left_out: int) -> None:
    """The third story of the practice facts: 12 plates a section, 24 plates and six hours a mix."""
    problem = four_sections(*charges)
    answer = plan(problem, seconds=1, seed=1, explain=False)
    assert check(problem, answer) == ()
    assert len(answer.unplaced) == left_out
