"""The whiteboard's rounds, worked out by hand."""

from dataclasses import replace

from server.core.planning import Fixed, Group, Place, Problem, Step, check, whiteboard
from server.core.planning.rounds import made_without_search
from server.core.planning.work import take_apart
from tests.core.planning.labs import instance, lab, only_step


def test_one_round_aligns_loads_exposes_and_is_processed_in_turn() -> None:
    """Two stations: exposed at 430, developed at 430 and 520 (the bleach takes 90 s), view 120 s from 670."""
    plan = whiteboard(lab(groups=2, stations=2))
    assert [visit.start_s for visit in plan.visits if visit.step == "load"] == [300, 300]
    assert plan.makespan_s == 430 + 60 + 90 + 90 + 120


def test_the_next_round_aligns_when_the_lights_are_on_again() -> None:
    """The first round's last plate leaves the dark at 670; the second round's plates view from 1340."""
    plan = whiteboard(lab(groups=4, stations=2))
    assert sorted(visit.start_s for visit in plan.visits if visit.step == "align") == [0, 0, 670, 670]
    assert plan.makespan_s == 670 + 670 + 120


def test_all_of_a_round_load_together_even_if_one_could_load_sooner() -> None:
    problem = lab(groups=2, stations=2)
    quick = tuple(replace(step, seconds=100) if step.name == "align" else step for step in problem.steps)
    hurried = replace(problem.groups[0], steps=quick)
    plan = whiteboard(replace(problem, groups=(hurried, problem.groups[1])))
    assert [visit.start_s for visit in plan.visits if visit.step == "load"] == [300, 300]


def test_rounds_that_do_not_fit_leave_plates_out() -> None:
    problem = lab(groups=4, stations=2, period_s=1000)
    plan = whiteboard(problem)
    assert (plan.status, len(plan.unplaced), plan.reasons) == (
        "partial",
        2,
        ("The rounds do not fit into the periods.",),
    )


def test_what_a_rhythm_of_rounds_leaves_out_is_placed_where_there_is_room() -> None:
    """Eight overlapping rounds of four end at 5520 of 6000 s and the ninth would be processed too late; by itself it ends at 5820."""
    work = take_apart(replace(instance("large-20-groups-4-stations"), periods=((0, 6000),)))
    made = made_without_search(work)

    assert (len(made.best), work.finish(made.best)) == (36, 5820)
    assert len(made.rounds) == 30


def test_rounds_keep_a_step_that_has_begun() -> None:
    problem = replace(lab(groups=3, stations=1), fixed=(Fixed("G3", 1, "align", "S1", 0),))
    plan = whiteboard(problem)
    assert check(problem, plan) == ()
    assert plan.visits[0].group == "G3"


def test_rounds_that_cannot_keep_a_fixed_step_place_nothing() -> None:
    problem = replace(lab(groups=1, stations=1, period_s=1000), fixed=(Fixed("G1", 1, "align", "S1", 600),))
    plan = whiteboard(problem)
    assert (plan.status, plan.visits) == ("impossible", ())
    assert plan.reasons == ("The rounds cannot keep the steps that are fixed.",)


def test_a_shop_without_lights_is_planned_in_rounds_too() -> None:
    problem = instance("shop-ft06-optimum-55")
    assert check(problem, whiteboard(problem)) == ()


def test_every_station_is_used_however_many_ways_lead_on_from_it() -> None:
    """Three stations with times of their own and two lines of four trays are 3 × 2⁴ ways; a round takes three plates."""
    room = lab(groups=3, stations=3)
    baths = ("developer", "rinse", "bleach", "wash")
    trays = tuple(Place(f"{bath} {line}", 1, f"booth {line}") for line in (1, 2) for bath in baths)
    after = tuple(
        Step(bath, (f"{bath} 1", f"{bath} 2"), 60, "dark", max_wait_s=None if bath == "wash" else 0)
        for bath in baths
    )
    timed = replace(only_step(room, "expose"), seconds={"S1": 60, "S2": 70, "S3": 80})
    plan = whiteboard(
        replace(room, places=(*room.places, *trays), steps=(*room.steps[:2], timed, *after, room.steps[-1]))
    )

    assert {visit.place for visit in plan.visits if visit.step == "align"} == {"S1", "S2", "S3"}
    assert [visit.start_s for visit in plan.visits if visit.step == "align"] == [0, 0, 0]


def test_a_plate_that_has_begun_takes_the_room_of_one_plate() -> None:
    """Two plates are in a tray for two: that they are fixed there does not fill it twice."""
    tray = Problem(
        "tray",
        ((0, 60),),
        (Place("tray", 2),),
        (Step("rinse", ("tray",), 30),),
        (Group("A", 1), Group("B", 1)),
    )
    begun = tuple(Fixed(group.name, 1, "rinse", "tray", 0) for group in tray.groups)

    assert whiteboard(replace(tray, fixed=begun)).makespan_s == 30
