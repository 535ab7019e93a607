"""What holds for every plan of every small class."""

from dataclasses import replace

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from server.core.planning import (
    Fixed,
    Problem,
    check,
    plan,
    read_class_file,
    wall_sheet,
    whiteboard,
    write_class_file,
)
from server.core.planning.changes import with_twin
from server.core.planning.rounds import constructed, plan_of
from server.core.planning.work import take_apart
from tests.core.planning.labs import missing, problems

QUICK = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@QUICK
@given(problems(), st.integers(0, 5))
def test_a_plan_breaks_no_rule_and_is_never_worse_than_the_whiteboard(problem: Problem, seed: int) -> None:
    answer, rounds = plan(problem, seconds=0.4, seed=seed), whiteboard(problem)

    assert check(problem, answer) == ()
    assert answer.bound_s <= answer.makespan_s
    assert missing(problem, answer) <= missing(problem, rounds)
    if missing(problem, answer) == missing(problem, rounds):
        assert answer.makespan_s <= rounds.makespan_s


@QUICK
@given(problems())
def test_a_plan_made_without_a_search_breaks_no_rule(problem: Problem) -> None:
    work = take_apart(problem)
    assert check(problem, plan_of(work, constructed(work), reasons=("There is no room.",))) == ()


@settings(QUICK, max_examples=25)
@given(problems(), st.data())
def test_one_more_place_never_hurts_a_plan_that_is_proven(problem: Problem, data: st.DataObject) -> None:
    place = data.draw(st.sampled_from(problem.places))
    roomier = with_twin(problem, place.name, replace(place, name="one more"))
    before, after = (plan(one, seconds=0.4, seed=1) for one in (problem, roomier))
    assume(before.status == after.status == "optimal")

    assert after.makespan_s <= before.makespan_s


@settings(QUICK, max_examples=40)
@given(problems(), st.data())
def test_what_has_begun_stays_and_the_rest_still_fits(problem: Problem, data: st.DataObject) -> None:
    """Fixing any visits of a plan leaves at least that plan."""
    before = plan(problem, seconds=0.4, seed=1)
    assume(before.visits)
    begun = data.draw(st.lists(st.sampled_from(before.visits), unique=True))
    fixed = tuple(Fixed(v.group, v.pass_no, v.step, v.place, v.start_s) for v in begun)
    after = plan(replace(problem, fixed=fixed), seconds=0.4, seed=1)

    assert check(replace(problem, fixed=fixed), after) == ()
    assert missing(problem, after) <= missing(problem, before)
    if missing(problem, after) == missing(problem, before):
        assert after.makespan_s <= before.makespan_s or before.status == "feasible"


@settings(QUICK, max_examples=15)
@given(problems(), st.integers(0, 5))
def test_the_same_seed_gives_the_same_plan(problem: Problem, seed: int) -> None:
    assert plan(problem, seconds=2.0, seed=seed) == plan(problem, seconds=2.0, seed=seed)


@QUICK
@given(problems())
def test_the_whiteboard_breaks_no_rule(problem: Problem) -> None:
    assert check(problem, whiteboard(problem)) == ()


@QUICK
@given(problems())
def test_a_class_file_reads_back_as_it_was_written(problem: Problem) -> None:
    assert read_class_file(write_class_file(problem)) == problem


@settings(QUICK, max_examples=15)
@given(problems(), st.integers(0, 5))
def test_a_class_that_was_written_and_read_gets_the_same_plan(problem: Problem, seed: int) -> None:
    read = read_class_file(write_class_file(problem))

    assert plan(read, seconds=2.0, seed=seed) == plan(problem, seconds=2.0, seed=seed)


@settings(QUICK, max_examples=20)
@given(problems())
def test_every_visit_is_on_the_wall(problem: Problem) -> None:
    rounds = whiteboard(problem)
    assume(rounds.visits)
    lines = wall_sheet(problem, rounds).splitlines()
    assert len(
        [line for line in lines if line.endswith(tuple(place.name for place in problem.places))]
    ) == 2 * len(rounds.visits)
