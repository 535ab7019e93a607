"""The checker finds every fault that is planted into a valid plan."""

from collections.abc import Callable
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
    Visit,
    check,
    whiteboard,
)
from tests.core.planning.labs import lab, with_step

LAB = lab(groups=3, stations=2, passes=2)


def by_hand(problem: Problem, *rows: tuple[str, int, str, str, int, int]) -> Plan:
    """Return a full plan made of (group, pass, step, place, start, end)."""
    visits = tuple(Visit(*row) for row in rows)
    return Plan("feasible", max(visit.end_s for visit in visits), 0, visits)


def changed(plan: Plan, index: int, **changes: object) -> Plan:
    visits = list(plan.visits)
    visits[index] = replace(visits[index], **changes)  # type: ignore[arg-type]
    finish = max(visit.end_s for visit in visits)
    return replace(plan, visits=tuple(visits), makespan_s=finish)


def index_of(plan: Plan, group: str, pass_no: int, step: str) -> int:
    return next(
        index
        for index, visit in enumerate(plan.visits)
        if (visit.group, visit.pass_no, visit.step) == (group, pass_no, step)
    )


def test_a_plan_by_hand_that_keeps_every_rule_has_no_fault() -> None:
    problem = lab(groups=1, stations=1)
    plan = by_hand(
        problem,
        ("G1", 1, "align", "S1", 0, 300),
        ("G1", 1, "load", "S1", 400, 460),
        ("G1", 1, "expose", "S1", 460, 530),
        ("G1", 1, "develop", "developer", 600, 660),
        ("G1", 1, "clear", "bleach", 660, 750),
        ("G1", 1, "view", "bench", 750, 870),
    )
    assert check(problem, plan) == ()


@pytest.mark.parametrize("index", range(36))
def test_a_dropped_visit_is_found(index: int) -> None:
    plan = whiteboard(LAB)
    gone = plan.visits[index]
    left = replace(plan, visits=plan.visits[:index] + plan.visits[index + 1 :])
    assert f"{gone.group}, pass {gone.pass_no} never does {gone.step}." in check(LAB, left)


@pytest.mark.parametrize("index", range(36))
def test_a_doubled_visit_is_found(index: int) -> None:
    plan = whiteboard(LAB)
    twice = plan.visits[index]
    found = check(LAB, replace(plan, visits=(*plan.visits, twice)))
    assert f"{twice.group}, pass {twice.pass_no} does {twice.step} more than once." in found


@pytest.mark.parametrize("index", range(36))
def test_a_visit_that_is_too_short_is_found(index: int) -> None:
    plan = whiteboard(LAB)
    visit = plan.visits[index]
    found = check(LAB, changed(plan, index, end_s=visit.end_s - 1))
    taken = visit.end_s - visit.start_s
    assert any(
        f"{visit.step} takes {taken - 1} s at {visit.place} instead of {taken} s" in fault for fault in found
    )


@pytest.mark.parametrize("index", range(36))
def test_a_visit_at_a_wrong_place_is_found(index: int) -> None:
    plan = whiteboard(LAB)
    visit = plan.visits[index]
    wrong = next(place.name for place in LAB.places if place.name not in {visit.place, "S1", "S2"})
    assert check(LAB, changed(plan, index, place=wrong))


@pytest.mark.parametrize("step", ["load", "expose"])
def test_leaving_a_place_that_must_be_kept_is_found(step: str) -> None:
    plan = whiteboard(LAB)
    index = index_of(plan, "G1", 1, step)
    other = "S2" if plan.visits[index].place == "S1" else "S1"
    found = check(LAB, changed(plan, index, place=other))
    assert any("is not where" in fault for fault in found)


def one_pass(
    group: str, start: int, station: str, *, develop: int
) -> tuple[tuple[str, int, str, str, int, int], ...]:
    """One pass of the lab from ``start``, developed from ``develop``."""
    return (
        (group, 1, "align", station, start, start + 300),
        (group, 1, "load", station, start + 300, start + 360),
        (group, 1, "expose", station, start + 360, start + 430),
        (group, 1, "develop", "developer", develop, develop + 60),
        (group, 1, "clear", "bleach", develop + 60, develop + 150),
        (group, 1, "view", "bench", develop + 150, develop + 270),
    )


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (
            lambda rows: rows[1] | {"start": 299, "end": 359},
            "G1, pass 1: load begins before align has ended.",
        ),
        (
            lambda rows: rows[4] | {"start": 501, "end": 591},
            "the wait of 11 s after develop is longer than 0 s",
        ),
    ],
)
def test_a_step_too_early_or_too_late_is_found(
    change: Callable[[list[dict[str, int]]], dict[str, int]], fault: str
) -> None:
    problem = lab(groups=1, stations=1)
    rows = [list(row) for row in one_pass("G1", 0, "S1", develop=430)]
    moments = [{"index": index, "start": 0, "end": 0} for index in range(len(rows))]
    moved = change(moments)
    rows[moved["index"]][4:] = [moved["start"], moved["end"]]
    found = check(problem, by_hand(problem, *(tuple(row) for row in rows)))  # type: ignore[arg-type]
    assert any(fault in one for one in found)


def test_lights_on_during_a_dark_step_are_found() -> None:
    problem = lab(groups=2, stations=2)
    plan = by_hand(problem, *one_pass("G1", 0, "S1", develop=1000), *one_pass("G2", 200, "S2", develop=2000))
    found = check(problem, plan)
    assert "G1, pass 1 needs the dark for load while G2, pass 1 has the lights of room on for align." in found


def test_a_step_in_another_room_may_have_its_lights_on() -> None:
    problem = lab(groups=2, stations=2)
    next_door = replace(
        problem,
        places=tuple(
            replace(p, light_zone="next", still_zone="next") if p.name == "S2" else p for p in problem.places
        ),
    )
    plan = by_hand(
        next_door, *one_pass("G1", 0, "S1", develop=1000), *one_pass("G2", 200, "S2", develop=2000)
    )
    assert check(next_door, plan) == ()


def test_moving_while_another_group_holds_still_is_found() -> None:
    problem = with_step(lab(groups=2, stations=2), "align", light="any")
    plan = by_hand(problem, *one_pass("G1", 0, "S1", develop=1000), *one_pass("G2", 60, "S2", develop=2000))
    found = check(problem, plan)
    assert "G1, pass 1 holds still for expose while G2, pass 1 moves in table for load." in found


def test_more_plates_than_a_tray_takes_are_found() -> None:
    problem = lab(groups=2, stations=2)
    plan = by_hand(problem, *one_pass("G1", 0, "S1", develop=430), *one_pass("G2", 0, "S2", develop=460))
    found = check(problem, plan)
    assert "developer holds 2 plates at 460 s and has room for 1." in found
    roomy = lab(groups=2, stations=2, tray_capacity=2)
    views_later = [
        row if row[2] != "view" else (*row[:4], 900, 1020)
        for row in (*one_pass("G1", 0, "S1", develop=430), *one_pass("G2", 0, "S2", develop=460))
    ]
    assert check(roomy, by_hand(roomy, *views_later)) == ()


def test_a_station_is_kept_while_its_group_waits_there() -> None:
    """G1 waits between align and load; G2 cannot use the station meanwhile."""
    problem = replace(
        lab(groups=2, stations=1),
        places=tuple(
            replace(place, light_zone=None, still_zone=None) for place in lab(groups=2, stations=1).places
        ),
    )
    late = [
        row if row[2] not in {"load", "expose"} else (*row[:4], row[4] + 500, row[5] + 500)
        for row in one_pass("G1", 0, "S1", develop=1000)
    ]
    plan = by_hand(problem, *late, *one_pass("G2", 310, "S1", develop=2000))
    assert any("S1 holds 2 plates at 310 s" in fault for fault in check(problem, plan))


@pytest.mark.parametrize(
    ("periods", "fault"),
    [
        (((0, 380), (380, 2000)), "G1, pass 1: expose does not lie in one period."),
        (((0, 360), (360, 2000)), "G1, pass 1: the dark steps do not lie in one period."),
        (((0, 699),), "G1, pass 1: view does not lie in one period."),
        (((10, 2000),), "G1, pass 1: align does not lie in one period."),
    ],
)
def test_steps_outside_the_periods_are_found(periods: tuple[tuple[int, int], ...], fault: str) -> None:
    problem = replace(lab(groups=1, stations=1), periods=periods)
    assert fault in check(problem, by_hand(problem, *one_pass("G1", 0, "S1", develop=430)))


def test_only_an_unattended_step_that_is_not_dark_may_run_on_after_the_bell() -> None:
    problem = replace(lab(groups=1, stations=1), periods=((0, 650),))
    plan = by_hand(problem, *one_pass("G1", 0, "S1", develop=430))
    assert check(with_step(problem, "view", attended=False), plan) == ()
    dark = with_step(problem, "view", attended=False, light="dark")
    assert "G1, pass 1: view does not lie in one period." in check(dark, plan)


def with_place(problem: Problem, name: str, **changes: object) -> Problem:
    """Return the problem with one of its places changed."""
    places = tuple(replace(place, **changes) if place.name == name else place for place in problem.places)  # type: ignore[arg-type]
    return replace(problem, places=places)


def test_a_plate_at_a_closed_place_is_found() -> None:
    """G1 is at S1 from 0 to 430, its waits included; S1 may close at 430 and open again at 0."""
    problem = lab(groups=1, stations=1)
    plan = by_hand(problem, *one_pass("G1", 0, "S1", develop=430))
    assert check(with_place(problem, "S1", closed=((430, 900),)), plan) == ()
    assert check(with_place(problem, "S1", closed=((429, 900),)), plan) == (
        "G1, pass 1 is at S1 at 429 s, while it is closed.",
    )
    assert check(with_place(problem, "S1", closed=((310, 311),)), plan) == (
        "G1, pass 1 is at S1 at 310 s, while it is closed.",
    )


def test_a_plate_outside_every_charge_is_found() -> None:
    """G1 is in the developer from 430 to 490: two charges that meet at 450 do not serve it between them."""
    problem = lab(groups=1, stations=1)
    plan = by_hand(problem, *one_pass("G1", 0, "S1", develop=430))
    assert check(with_place(problem, "developer", charges=(Charge(430, 490),)), plan) == ()
    for charges in ((Charge(0, 489),), (Charge(431, 900),), (Charge(0, 450), Charge(450, 900))):
        assert check(with_place(problem, "developer", charges=charges), plan) == (
            "G1, pass 1 is at developer at 430 s, and no charge there serves it from then to 490 s.",
        )


def test_a_charge_that_serves_too_many_plates_is_found() -> None:
    """Developed from 430 and from 1030: a charge for one plate serves either, and a second charge only the later."""
    problem = lab(groups=2, stations=1)
    plan = by_hand(problem, *one_pass("G1", 0, "S1", develop=430), *one_pass("G2", 600, "S1", develop=1030))
    charge = Charge(0, 2000, 1)
    assert check(with_place(problem, "developer", charges=(charge, Charge(0, 490))), plan) == ()
    assert check(with_place(problem, "developer", charges=(charge, Charge(0, 490, 1))), plan) == ()
    assert check(with_place(problem, "developer", charges=(charge,)), plan) == (
        "G2, pass 1 is at developer at 1030 s, when every charge there has served all its plates.",
    )
    assert check(with_place(problem, "developer", charges=(replace(charge, plates=2),)), plan) == ()


def test_a_dark_step_in_the_afterglow_of_the_lights_is_found() -> None:
    """G1 aligns until 300 and loads at once; 400 would have done for 100 s of afterglow."""
    problem = replace(lab(groups=1, stations=1), light_zones=(LightZone("room", 100),))
    plan = by_hand(problem, *one_pass("G1", 0, "S1", develop=430))
    found = check(problem, plan)
    assert (
        "G1, pass 1 needs the dark for load at 300 s, and room glows: G1, pass 1 had them on for align until 300 s."
        in found
    )
    assert check(replace(problem, light_zones=(LightZone("room", 0),)), plan) == ()
    assert check(replace(problem, light_zones=(LightZone("next room", 100),)), plan) == ()


def test_a_dark_step_in_the_afterglow_of_the_opening_is_found() -> None:
    """The lights are on until the period opens at 100, so the first dark step may start at 160, not at 159."""
    steps = (Step("load", ("table",), 10, "dark"),)
    problem = Problem(
        "dark from the start",
        ((100, 300),),
        (Place("table", 1, "room"),),
        steps,
        (Group("G1", 1),),
        light_zones=(LightZone("room", 60),),
    )
    assert check(problem, by_hand(problem, ("G1", 1, "load", "table", 160, 170))) == ()
    assert check(problem, by_hand(problem, ("G1", 1, "load", "table", 159, 169))) == (
        "G1, pass 1 needs the dark for load at 159 s, and room glows: its lights were on until 100 s.",
    )


def test_a_reserve_pass_that_begins_too_soon_is_found() -> None:
    """G1 leaves its station at 430; a pass kept for repeats may begin then, or sooner if it has begun already."""
    problem = lab(groups=2, stations=2)
    reserve = replace(problem, groups=(problem.groups[0], replace(problem.groups[1], reserve=True)))

    def plan(start: int) -> Plan:
        return by_hand(
            problem, *one_pass("G1", 0, "S1", develop=430), *one_pass("G2", start, "S2", develop=start + 430)
        )

    fault = "G2, pass 1 is kept for repeats and begins before G1, pass 1 has left its first place."
    assert fault in check(reserve, plan(400))
    assert fault not in check(problem, plan(400))
    assert fault not in check(reserve, plan(430))
    assert fault not in check(replace(reserve, fixed=(Fixed("G2", 1, "align", "S2", 400),)), plan(400))


TWICE = Problem(
    "twice", ((0, 100),), (Place("bench", 2),), (Step("look", ("bench",), 10),), (Group("G1", 2),)
)


def test_passes_of_a_group_out_of_turn_are_found() -> None:
    rows = ("G1", 1, "look", "bench", 20, 30), ("G1", 2, "look", "bench", 0, 10)
    assert "G1, pass 2 begins before G1 is free from pass 1." in check(TWICE, by_hand(TWICE, *rows))
    any_order = replace(TWICE, groups=(Group("G1", 2, any_order=True),))
    assert check(any_order, by_hand(any_order, *rows)) == ()


def test_passes_of_a_group_at_the_same_time_are_found_even_in_any_order() -> None:
    any_order = replace(TWICE, groups=(Group("G1", 2, any_order=True),))
    rows = ("G1", 1, "look", "bench", 5, 15), ("G1", 2, "look", "bench", 0, 10)
    assert "G1, pass 1 begins before G1 is free from pass 2." in check(any_order, by_hand(any_order, *rows))


def test_a_later_pass_without_an_earlier_one_is_found() -> None:
    plan = Plan(
        "partial",
        10,
        0,
        (Visit("G1", 2, "look", "bench", 0, 10),),
        (Unplaced("G1", 1),),
        ("There is no room.",),
    )
    assert check(TWICE, plan) == ("G1 makes a later pass without an earlier one.",)


def test_a_fixed_step_elsewhere_is_found() -> None:
    problem = replace(TWICE, fixed=(Fixed("G1", 1, "look", "bench", 3),))
    plan = by_hand(problem, ("G1", 1, "look", "bench", 0, 10), ("G1", 2, "look", "bench", 10, 20))
    assert check(problem, plan) == ("G1, pass 1: look is fixed at bench at 3 s and the plan does otherwise.",)


GOOD = Plan(
    "feasible", 20, 20, (Visit("G1", 1, "look", "bench", 0, 10), Visit("G1", 2, "look", "bench", 10, 20))
)


@pytest.mark.parametrize(
    ("plan", "fault"),
    [
        (replace(GOOD, makespan_s=21), "The plan says it ends at 21 s and its last visit ends at 20 s."),
        (replace(GOOD, bound_s=21), "The bound of 21 s is later than the finish at 20 s."),
        (
            replace(GOOD, status="optimal", bound_s=19),
            "The plan is called optimal and its bound is not its finish.",
        ),
        (replace(GOOD, unplaced=(Unplaced("G1", 2),)), "G1, pass 2 is listed as unplaced and has visits."),
        (replace(GOOD, unplaced=(Unplaced("G2", 1),)), "There is no pass 1 of G2."),
        (
            replace(GOOD, status="impossible", reasons=("no",)),
            "The plan is called impossible and has visits.",
        ),
        (
            replace(GOOD, status="partial", reasons=("no",)),
            "The plan is called partial and does not place some passes and leave others.",
        ),
        (replace(GOOD, status="partial"), "The plan is called partial and gives no reason."),
        (
            replace(GOOD, visits=(*GOOD.visits, Visit("G1", 1, "dry", "bench", 0, 1))),
            "G1, pass 1 has no step dry.",
        ),
        (
            Plan("feasible", 10, 0, GOOD.visits[:1], (Unplaced("G1", 2), Unplaced("G1", 2))),
            "G1, pass 2 is listed as unplaced more than once.",
        ),
        (
            Plan("optimal", 10, 10, GOOD.visits[:1], (Unplaced("G1", 2),)),
            "The plan is called optimal and leaves passes unplaced.",
        ),
        (changed(GOOD, 0, place="nowhere"), "G1, pass 1: there is no place nowhere."),
    ],
)
def test_a_plan_that_says_something_false_about_itself_is_found(plan: Plan, fault: str) -> None:
    assert check(TWICE, GOOD) == ()
    assert fault in check(TWICE, plan)
