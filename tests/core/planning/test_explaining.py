"""Why a plan ends when it does, on classes small enough to see the chain, and on random ones."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from hypothesis import HealthCheck, assume, given, settings

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
    check,
    plan,
    whiteboard,
)
from server.core.planning.explaining import Chain, Stretch, why_it_ends
from server.core.planning.holds import Cause, Holds
from tests.core.planning.labs import lab, problems

# What the checker says when a visit begins a second earlier than its hold lets it.
BREAKS: dict[Cause, tuple[str, ...]] = {
    "own": ("begins before",),
    "wait": ("the wait of",),
    "place": ("has room for",),
    "dark": ("needs the dark",),
    "lit": ("needs the dark",),
    "afterglow": ("glows", "needs the dark"),
    "still": ("holds still",),
    "moves": ("holds still",),
    "group": ("is free from pass",),
    "reserve": ("kept for repeats",),
    "opens": ("does not lie in one period", "the dark steps do not lie"),
    "closed": ("while it is closed",),
    "charge": ("charge there",),
    "fixed": ("is fixed",),
}


def chain_of(problem: Problem, answer: Plan) -> Chain:
    assert check(problem, answer) == ()
    chain = why_it_ends(problem, answer)
    assert chain is not None
    return chain


def told(chain: Chain) -> list[tuple[str, list[str], Cause]]:
    """Return for each stretch the group, the steps and the cause."""
    return [(one.visits[0].group, [visit.step for visit in one.visits], one.cause) for one in chain.stretches]


def sums(chain: Chain) -> dict[tuple[Cause, tuple[str, ...]], int]:
    return {(part.cause, part.places): part.seconds for part in chain.parts}


def visits(*rows: tuple[str, str, str, int, int]) -> tuple[Visit, ...]:
    """Return visits of first passes from group, step, place, start and end."""
    return tuple(Visit(group, 1, step, place, start, end) for group, step, place, start, end in rows)


def planned(problem: Problem, *rows: tuple[str, str, str, int, int]) -> Chain:
    """Return the chain of a plan that is written down here."""
    there = visits(*rows)
    finish = max(visit.end_s for visit in there)
    return chain_of(problem, Plan("feasible", finish, 0, there))


def class_of(
    places: Sequence[Place],
    steps: Sequence[Step],
    *groups: str,
    periods: Sequence[tuple[int, int]] = ((0, 1000),),
) -> Problem:
    return Problem(
        "a class", tuple(periods), tuple(places), tuple(steps), tuple(Group(name, 1) for name in groups)
    )


def test_a_class_that_waits_for_its_station_ends_when_the_station_is_done() -> None:
    """Two groups at one station, 100 s each, then 10 s each at a bench: 100 + 100 + 10."""
    problem = class_of(
        [Place("S1", 1), Place("bench", 2)],
        [Step("expose", ("S1",), 100), Step("view", ("bench",), 10)],
        "G1",
        "G2",
    )
    chain = chain_of(problem, plan(problem, seconds=1, seed=1))

    assert told(chain) == [("G1", ["expose"], "opens"), ("G2", ["expose", "view"], "place")]
    assert sums(chain) == {("own", ("S1",)): 200, ("own", ("bench",)): 10}
    held = chain.stretches[1]
    assert (held.by, held.since_s, held.waited_s) == (Visit("G1", 1, "expose", "S1", 0, 100), 0, 100)


def test_a_class_that_waits_for_its_tray_ends_when_the_tray_is_done() -> None:
    """Three stations, one tray: 10 + 3 × 60. The tray held two others before the last plate."""
    stations = ("S1", "S2", "S3")
    problem = class_of(
        [*(Place(name, 1) for name in stations), Place("bleach", 1)],
        [Step("expose", stations, 10), Step("clear", ("bleach",), 60)],
        *("G1", "G2", "G3"),
    )
    chain = planned(
        problem,
        *((f"G{number}", "expose", f"S{number}", 0, 10) for number in (1, 2, 3)),
        *(
            (f"G{number}", "clear", "bleach", start, start + 60)
            for number, start in ((1, 10), (2, 70), (3, 130))
        ),
    )

    assert [cause for _, _, cause in told(chain)] == ["opens", "place", "place"]
    assert sums(chain) == {("own", ("bleach",)): 180, ("own", ("S1",)): 10}
    assert [one.waited_s for one in chain.stretches] == [0, 60, 120]


def test_a_class_that_waits_for_the_dark_says_whose_light_was_on() -> None:
    """G1 loads in the dark for 20 s after G2 has aligned for 100 s in the same room; G2's next room is elsewhere."""
    problem = Problem(
        "a class",
        ((0, 1000),),
        (Place("S1", 1, "room"), Place("S2", 1, "room")),
        (),
        (
            Group("G1", 1, (Step("load", ("S1",), 20, "dark"),)),
            Group("G2", 1, (Step("align", ("S2",), 100, "lit"),)),
        ),
    )
    chain = planned(problem, ("G2", "align", "S2", 0, 100), ("G1", "load", "S1", 100, 120))

    assert told(chain) == [("G2", ["align"], "opens"), ("G1", ["load"], "dark")]
    assert sums(chain) == {("dark", ()): 100, ("own", ("S1",)): 20}


def test_a_class_that_waits_for_the_lights_counts_only_the_time_that_was_waited() -> None:
    """G1 is ready to view at 50 and waits until 80 for G2, who is in the dark from 30 on: 30 s of waiting, not 50."""
    problem = Problem(
        "a class",
        ((0, 1000),),
        (Place("S1", 1), Place("dryer", 1), Place("bench", 1, "room"), Place("tray", 1, "room")),
        (),
        (
            Group("G1", 1, (Step("dry", ("dryer",), 50), Step("view", ("bench",), 20, "lit"))),
            Group("G2", 1, (Step("expose", ("S1",), 30), Step("develop", ("tray",), 50, "dark"))),
        ),
    )
    chain = planned(
        problem,
        ("G1", "dry", "dryer", 0, 50),
        ("G2", "expose", "S1", 0, 30),
        ("G2", "develop", "tray", 30, 80),
        ("G1", "view", "bench", 80, 100),
    )

    assert told(chain) == [("G2", ["expose", "develop"], "opens"), ("G1", ["view"], "lit")]
    assert sums(chain) == {
        ("lit", ()): 30,
        ("own", ("tray",)): 20,
        ("own", ("S1",)): 30,
        ("own", ("bench",)): 20,
    }
    assert chain.stretches[1].waited_s == 30


def test_a_class_that_waits_for_stillness_says_who_moved() -> None:
    """G2 moves the table for 40 s before G1 may hold still for 10 s, and then moves it again for 5 s."""
    table = [Place("S1", 1, None, "table"), Place("S2", 1, None, "table")]
    problem = Problem(
        "a class",
        ((0, 1000),),
        tuple(table),
        (),
        (
            Group("G1", 1, (Step("expose", ("S1",), 10, still="still"),)),
            Group(
                "G2", 1, (Step("align", ("S2",), 40, still="moves"), Step("clear", ("S2",), 5, still="moves"))
            ),
        ),
    )
    chain = planned(
        problem,
        ("G2", "align", "S2", 0, 40),
        ("G1", "expose", "S1", 40, 50),
        ("G2", "clear", "S2", 50, 55),
    )

    assert told(chain) == [
        ("G2", ["align"], "opens"),
        ("G1", ["expose"], "still"),
        ("G2", ["clear"], "moves"),
    ]
    assert sums(chain) == {("still", ()): 40, ("moves", ()): 10, ("own", ("S2",)): 5}


def test_a_class_that_waits_for_a_busy_group_names_its_earlier_plate() -> None:
    """One group makes two plates of 30 s at two stations: 60 s, one after the other."""
    problem = replace(
        class_of([Place("S1", 1), Place("S2", 1)], [Step("expose", ("S1", "S2"), 30)]),
        groups=(Group("G1", 2),),
    )
    chain = chain_of(problem, plan(problem, seconds=1, seed=1))

    assert [one.cause for one in chain.stretches][1:] in (["group"], ["place"])
    assert [one.visits[0].pass_no for one in chain.stretches] == [1, 2]
    assert sum(sums(chain).values()) == 60


def test_a_class_over_two_periods_says_that_the_second_opened_only_then() -> None:
    """Two plates of 60 s, periods of 100 s: the second is made from 500 s on, whose time before counts as that."""
    problem = class_of(
        [Place("S1", 1)], [Step("expose", ("S1",), 60)], "G1", "G2", periods=((0, 100), (500, 600))
    )
    chain = chain_of(problem, plan(problem, seconds=1, seed=1))

    assert [cause for _, _, cause in told(chain)] == ["opens"]
    assert sums(chain) == {("opens", ()): 500, ("own", ("S1",)): 60}
    assert chain.before_s == 500


def test_a_step_that_what_follows_may_not_wait_for_is_held_by_what_holds_that() -> None:
    """G1 aligns for 20 s and loads at once, in the dark that G2's 50 s of light keep away; so it moves the table from 30 to 50.

    G3 holds still on it from 50 to 65: 15 s of its own, 20 s of waiting for stillness, 30 s for G1's dark.
    """
    at_once = (Step("align", ("S1",), 20, still="moves", max_wait_s=0), Step("load", "same", 10, "dark"))
    problem = Problem(
        "a class",
        ((0, 1000),),
        (Place("S1", 1, "room", "table"), Place("S2", 1, "room"), Place("S3", 1, None, "table")),
        (),
        (
            Group("G1", 1, at_once),
            Group("G2", 1, (Step("align", ("S2",), 50, "lit"),)),
            Group("G3", 1, (Step("expose", ("S3",), 15, still="still"),)),
        ),
    )
    chain = planned(
        problem,
        ("G1", "align", "S1", 30, 50),
        ("G1", "load", "S1", 50, 60),
        ("G2", "align", "S2", 0, 50),
        ("G3", "expose", "S3", 50, 65),
    )

    assert told(chain) == [
        ("G2", ["align"], "opens"),
        ("G1", ["align", "load"], "dark"),
        ("G3", ["expose"], "still"),
    ]
    assert chain.stretches[1].held.step == "load"
    assert sums(chain) == {("own", ("S3",)): 15, ("still", ()): 20, ("dark", ()): 30}


def test_lights_that_glow_on_are_a_cause_of_their_own() -> None:
    """50 s of light and 30 s of glowing before 10 s in the dark."""
    problem = Problem(
        "a class",
        ((0, 1000),),
        (Place("S1", 1, "room"), Place("S2", 1, "room")),
        (),
        (
            Group("G1", 1, (Step("load", ("S1",), 10, "dark"),)),
            Group("G2", 1, (Step("align", ("S2",), 50, "lit"),)),
        ),
        light_zones=(LightZone("room", 30),),
    )
    chain = planned(problem, ("G2", "align", "S2", 0, 50), ("G1", "load", "S1", 80, 90))

    assert told(chain) == [("G2", ["align"], "opens"), ("G1", ["load"], "afterglow")]
    assert sums(chain) == {("afterglow", ()): 80, ("own", ("S1",)): 10}


def test_moments_are_causes_that_end_the_chain() -> None:
    """A place closed until 40, a charge from 60 on and a start fixed at 80 each hold the only visit."""
    for place, fixed, cause, start in (
        (Place("S1", 1, closed=((0, 40),)), (), "closed", 40),
        (Place("S1", 1, charges=(Charge(60, 200),)), (), "charge", 60),
        (Place("S1", 1), (Fixed("G1", 1, "expose", "S1", 80),), "fixed", 80),
    ):
        problem = replace(class_of([place], [Step("expose", ("S1",), 10)], "G1"), fixed=fixed)
        chain = planned(problem, ("G1", "expose", "S1", start, start + 10))

        assert told(chain) == [("G1", ["expose"], cause)]
        assert chain.before_s == start


def test_a_plate_for_a_repeat_waits_for_the_ordinary_ones() -> None:
    """It begins when G1 has left the station, though another one is free."""
    problem = class_of([Place("S1", 1), Place("S2", 1)], [Step("expose", ("S1", "S2"), 30)], "G1")
    problem = replace(problem, groups=(*problem.groups, Group("repeat", 1, reserve=True)))
    chain = planned(problem, ("G1", "expose", "S1", 0, 30), ("repeat", "expose", "S2", 30, 60))

    assert told(chain) == [("G1", ["expose"], "opens"), ("repeat", ["expose"], "reserve")]


def test_a_plan_that_is_not_packed_says_how_much_earlier_it_could_be() -> None:
    """G2 begins 40 s after the station is free; no rule asks for that."""
    problem = class_of([Place("S1", 1)], [Step("expose", ("S1",), 60)], "G1", "G2")
    chain = planned(problem, ("G1", "expose", "S1", 0, 60), ("G2", "expose", "S1", 100, 160))

    assert chain.slack_s == 40
    assert sums(chain) == {("own", ("S1",)): 120, ("slack", ()): 40}


def test_a_longest_wait_that_is_not_used_up_leads_the_chain_in_no_circle() -> None:
    """Both steps could begin 40 s earlier; the first one no more than 5 s earlier alone, because of the second one."""
    steps = [Step("develop", ("tray",), 20, max_wait_s=10), Step("view", ("bench",), 10)]
    problem = class_of([Place("tray", 1), Place("bench", 1)], steps, "G1")
    chain = planned(problem, ("G1", "develop", "tray", 40, 60), ("G1", "view", "bench", 65, 75))

    assert told(chain) == [("G1", ["develop"], "opens"), ("G1", ["view"], "own")]
    assert chain.slack_s == 40 + 5
    assert sums(chain) == {("slack", ()): 45, ("own", ("tray",)): 20, ("own", ("bench",)): 10}


def test_a_plan_without_visits_has_no_chain() -> None:
    problem = class_of([Place("S1", 1)], [Step("expose", ("S1",), 2000)], "G1")

    assert why_it_ends(problem, plan(problem, seconds=1, seed=1)) is None


def moved(answer: Plan, visit: Visit, seconds: int) -> Plan:
    """Return the plan with one visit that much earlier."""
    earlier = replace(visit, start_s=visit.start_s - seconds, end_s=visit.end_s - seconds)
    rows = tuple(earlier if one == visit else one for one in answer.visits)
    return replace(answer, visits=rows, makespan_s=max(one.end_s for one in rows))


def is_real(problem: Problem, answer: Plan, stretch: Stretch) -> bool:
    """Tell whether the checker finds the rule broken when what is held begins a second before its hold."""
    faults = check(problem, moved(answer, stretch.held, stretch.slack_s + 1))
    return any(part in fault for part in BREAKS[stretch.cause] for fault in faults)


QUICK = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def assert_explained(problem: Problem, answer: Plan) -> None:
    chain = chain_of(problem, answer)
    opens = problem.periods[0][0]

    assert sum(part.seconds for part in chain.parts) == answer.makespan_s - opens == chain.finish_s
    assert chain.before_s + sum(one.seconds for one in chain.stretches) == chain.finish_s
    assert min(part.seconds for part in chain.parts) > 0
    assert chain.last.end_s == answer.makespan_s
    told_of = [visit for stretch in chain.stretches for visit in stretch.visits]
    assert len(told_of) == len(set(told_of))
    assert all(is_real(problem, answer, stretch) for stretch in chain.stretches)
    assert answer.status != "optimal" or chain.slack_s == 0


@QUICK
@given(problems())
def test_the_parts_add_up_to_the_finish_and_every_cause_is_real(problem: Problem) -> None:
    answer = plan(problem, seconds=0.2, seed=1)
    assume(answer.visits)

    assert_explained(problem, answer)


@QUICK
@given(problems())
def test_rounds_on_a_whiteboard_are_explained_as_well(problem: Problem) -> None:
    """They are seldom packed, so they have slack to explain."""
    rounds = whiteboard(problem)
    assume(rounds.visits)

    assert_explained(problem, replace(rounds, status="feasible" if not rounds.unplaced else "partial"))


def test_every_visit_of_a_plan_is_held_only_by_rules_that_the_checker_knows() -> None:
    """Not only on the chain: each tight hold of each visit, moved a second, breaks its own rule."""
    problem = lab(groups=4, stations=2, passes=2)
    answer = plan(problem, seconds=1, seed=1)
    holds = Holds(problem, answer.visits)
    tight: dict[Cause, int] = defaultdict(int)
    for visit in answer.visits:
        faults = check(problem, moved(answer, visit, 1))
        for hold in holds.of(visit):
            if hold.bound_s == visit.start_s:
                tight[hold.cause] += 1
                assert any(part in fault for part in BREAKS[hold.cause] for fault in faults)
    assert {"own", "wait", "place", "dark", "lit", "group", "opens"} <= set(tight)
