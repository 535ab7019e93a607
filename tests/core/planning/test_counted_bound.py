"""Counting plates in phases never promises more than the best plan keeps, and says more than simpler bounds do."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from server.core.planning import Group, Place, Problem, Step, plan
from server.core.planning.bounds import simple_bound
from server.core.planning.counted_bound import counted_bound
from server.core.planning.problem import Light
from server.core.planning.solving import Budget
from server.core.planning.work import take_apart
from tests.core.planning.labs import instance, lab, problems

LATER = 7


def counted_s(problem: Problem, best_s: int, *, seconds: float = 5.0) -> int:
    """Return the bound of counting alone, for plans that end before ``best_s``."""
    return counted_bound(take_apart(problem), best_s=best_s, least_s=0, budget=Budget.of(seconds, 1))


@st.composite
def rooms(draw: st.DrawFn) -> Problem:
    """A few groups in one room whose light goes on and off, with stations and trays of any size."""
    places = [Place(f"S{number}", 1, "room") for number in range(draw(st.integers(1, 3)))]
    stations = tuple(place.name for place in places)
    places += [Place(name, draw(st.integers(1, 2)), "room") for name in ("tray", "sink", "bench")]
    seconds = st.integers(1, 6)
    lights: st.SearchStrategy[Light] = st.sampled_from(["lit", "dark", "any"])
    waits = st.sampled_from([0, 0, None, 20])
    steps = (
        Step("align", stations, draw(seconds), "lit", max_wait_s=draw(waits)),
        Step("load", "same", draw(seconds), "dark", max_wait_s=0),
        Step(
            "expose", draw(st.sampled_from(["same", stations])), draw(seconds), "dark", max_wait_s=draw(waits)
        ),
        Step("develop", ("tray",), draw(seconds), draw(lights), max_wait_s=draw(waits)),
        Step("clear", ("sink",), draw(seconds), draw(lights), max_wait_s=draw(waits)),
        Step("view", ("bench",), draw(seconds), draw(lights), attended=draw(st.booleans())),
    )[: draw(st.integers(2, 6))]
    again = (replace(steps[0], seconds=draw(seconds)), *steps[1:])
    groups = []
    for number in range(draw(st.integers(1, 4))):
        passes = draw(st.integers(1, 2))
        groups.append(
            Group(f"G{number}", passes, pass_steps=(steps, again)[:passes], any_order=draw(st.booleans()))
        )
    return Problem("a room", ((draw(st.integers(0, 2)), 1000),), tuple(places), steps, tuple(groups))


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rooms())
def test_no_plan_of_a_room_ends_before_its_counted_bound(problem: Problem) -> None:
    answer = plan(problem, seconds=0.5, seed=1)
    assume(answer.status == "optimal")

    assert counted_s(problem, answer.makespan_s + LATER) <= answer.makespan_s


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(problems())
def test_no_plan_of_any_class_ends_before_its_counted_bound(problem: Problem) -> None:
    answer = plan(problem, seconds=0.5, seed=1)
    assume(answer.status == "optimal")

    assert counted_s(problem, answer.makespan_s + LATER) <= answer.makespan_s


def test_three_groups_on_two_stations_are_counted_by_hand() -> None:
    """Two align 300, expose 130; the third aligns 300; then all are processed, 60 + 3 x 90; then they view, 120."""
    problem = lab(groups=3, stations=2)
    assert counted_s(problem, 2000) == 300 + 130 + 300 + (60 + 3 * 90) + 120
    assert simple_bound(take_apart(problem)) < 1000


@pytest.mark.parametrize(
    ("problem", "finish_s"),
    [(lab(groups=6, stations=2), 1810), (lab(groups=4, stations=2, passes=2), 2540)],
    ids=["one plate", "two plates"],
)
def test_counting_alone_proves_the_finish_of_a_small_class(problem: Problem, finish_s: int) -> None:
    assert counted_s(problem, finish_s + 60) == plan(problem, seconds=5.0, seed=1).makespan_s == finish_s


def test_forty_plates_in_one_room_are_bounded_to_within_a_hundredth_of_the_best_plan() -> None:
    """20 groups, 4 stations: the planner's own best plan ends at 6060."""
    problem = instance("large-20-groups-4-stations")
    assert simple_bound(take_apart(problem)) < 6060 * 0.9
    assert 6060 * 0.99 <= counted_s(problem, 6600, seconds=10.0) <= 6060


def test_nothing_is_counted_where_the_light_is_never_switched() -> None:
    """Machines have no light."""
    assert counted_s(instance("shop-ft06-optimum-55"), 55) == 0


def test_stations_in_different_rooms_leave_their_light_uncounted() -> None:
    """A step that may be in either of two rooms is certainly in neither."""
    problem = lab(groups=3, stations=2)
    apart = tuple(
        replace(place, light_zone=place.name) if place.name in {"S1", "S2"} else place
        for place in problem.places
    )
    assert counted_s(replace(problem, places=apart), 2000) < counted_s(problem, 2000)


def test_what_is_done_between_light_and_dark_counts_once() -> None:
    """One plate: 1 s lit, 1 s in any light, 1 s dark. The way to the dark is 2 s, the way on from the light is 2 s, and together they are 3 s."""
    steps = (Step("align", ("S1",), 1, "lit"), Step("wait", "same", 1), Step("expose", "same", 1, "dark"))
    problem = Problem("a room", ((0, 10),), (Place("S1", 1, "room"),), steps, (Group("G1", 1),))

    assert counted_s(problem, 10) == 3
