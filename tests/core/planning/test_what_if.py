"""What a change brings, against the plan without it."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.planning import (
    Outlook,
    Plan,
    Problem,
    Visit,
    changes_of,
    check,
    compare,
    outlook_of,
    plan,
    what_if,
    whiteboard,
)
from server.core.planning.changes import Change
from server.core.planning.rounds import filled_up, plan_of
from server.core.planning.work import schedule_of, take_apart
from tests.core.planning.labs import instance, lab, problems


def _change(problem: Problem, key: str, *, talk_s: int = 0) -> Change:
    return next(change for change in changes_of(problem, talk_s=talk_s) if change.key == key)


def _begins(visit: Visit) -> tuple[str, int, str, int]:
    """When a step begins; places that are alike may be exchanged."""
    return visit.group, visit.pass_no, visit.step, visit.start_s


def test_a_proven_finish_before_and_after_gives_the_very_minutes() -> None:
    found = compare(Outlook(8, 8, 2880, 2880, most=True), Outlook(8, 8, 2530, 2530, most=True))

    assert (found.plates, found.saved_s, found.most_saved_s, found.proven) == (0, 350, 350, True)


def test_a_search_that_was_cut_short_gives_at_least_and_at_most() -> None:
    found = compare(Outlook(40, 40, 6350, 5940, most=True), Outlook(40, 40, 6070, 5300, most=True))

    assert (found.saved_s, found.most_saved_s, found.proven) == (280, 1050, False)


def test_more_plates_are_not_weighed_against_a_later_finish() -> None:
    found = compare(Outlook(12, 18, 1980, 1980, most=True), Outlook(16, 18, 2160, 1900, most=False))

    assert (found.plates, found.most_plates, found.saved_s, found.most_saved_s) == (4, 6, None, None)
    assert not found.proven


def test_fewer_plates_are_told_as_fewer() -> None:
    found = compare(Outlook(8, 8, 2880, 2880, most=True), Outlook(7, 7, 2790, 2790, most=True))

    assert (found.plates, found.most_plates, found.saved_s) == (-1, -1, 90)


def test_repeat_rounds_are_not_counted_as_plates() -> None:
    problem = lab(groups=2, stations=1)
    free = replace(problem, groups=(problem.groups[0], replace(problem.groups[1], reserve=True)))
    answer = plan(lab(groups=1, stations=1), seconds=1, seed=1)

    assert outlook_of(free, answer).plates == 1


def test_a_third_station_saves_what_the_planner_proves() -> None:
    problem = instance("typical-8-groups-2-stations")
    before = plan(problem, seconds=5, seed=1)
    change = _change(problem, "station")
    after = what_if(problem, change, before, seconds=5, seed=1)

    assert check(change.problem, after.plan) == ()
    assert after.outlook == outlook_of(change.problem, plan(change.problem, seconds=5, seed=1))
    assert compare(outlook_of(problem, before), after.outlook).saved_s == 350


def test_the_talk_s_minutes_are_counted_on_the_same_clock() -> None:
    """The class that begins five minutes earlier takes as long as before, so it ends five minutes sooner."""
    problem = lab(groups=4, stations=2)
    before = plan(problem, seconds=5, seed=1)
    after = what_if(problem, _change(problem, "talk", talk_s=480), before, seconds=5, seed=1)

    assert after.plan.makespan_s == before.makespan_s
    assert after.outlook.makespan_s == before.makespan_s - 300


def test_a_class_that_begins_earlier_may_do_everything_earlier() -> None:
    """With no time to search either: as many plates of a class that is too long, five minutes sooner."""
    problem = replace(instance("large-20-groups-4-stations"), periods=((0, 5400),))
    before = plan(problem, seconds=0.001, seed=1)
    after = what_if(problem, _change(problem, "talk", talk_s=480), before, seconds=0.001, seed=1)
    gain = compare(outlook_of(problem, before), after.outlook)

    assert len(before.unplaced) == 8
    assert (gain.plates, gain.saved_s) == (0, 300)


def test_more_time_brings_nothing_to_a_class_that_has_enough() -> None:
    """And the bound of the class as it is holds, because a plan that ends sooner would need no more time."""
    problem = instance("large-20-groups-4-stations")
    before = whiteboard(problem)
    before = replace(before, bound_s=before.makespan_s - 1000)
    after = what_if(problem, _change(problem, "minutes-10"), before, seconds=0.01, seed=1)

    assert compare(outlook_of(problem, before), after.outlook).saved_s == 0
    assert after.outlook == outlook_of(problem, before)


def test_a_plan_begins_from_a_known_one() -> None:
    """With no time to search, what is known is the answer."""
    problem = instance("typical-8-groups-2-stations")
    known = plan(problem, seconds=5, seed=1)
    hurried = plan(problem, seconds=0.001, seed=1, start=known)

    assert plan(problem, seconds=0.001, seed=1).makespan_s > known.makespan_s == 2880
    assert hurried.makespan_s == known.makespan_s
    assert check(problem, hurried) == ()


def test_a_known_plan_that_breaks_a_rule_is_left_aside() -> None:
    problem = lab(groups=4, stations=2)
    known = plan(problem, seconds=5, seed=1)
    crowded = lab(groups=4, stations=1)

    assert check(crowded, plan(crowded, seconds=1, seed=1, start=known)) == ()


def test_a_known_plan_of_some_passes_is_kept_where_not_all_fit() -> None:
    problem = lab(groups=4, stations=2, period_s=1000)
    known = plan(problem, seconds=5, seed=1)
    hurried = plan(problem, seconds=0.001, seed=1, start=known)

    assert len(hurried.unplaced) <= len(known.unplaced) > 0
    assert hurried.makespan_s <= known.makespan_s


def test_more_time_is_filled_before_the_search_begins() -> None:
    """A class of 20 groups that is too long by far: with no time to search, ten more minutes make room beside what is planned."""
    problem = replace(instance("large-20-groups-4-stations"), periods=((0, 5400),))
    before = plan(problem, seconds=0.001, seed=1)
    after = what_if(problem, _change(problem, "minutes-10"), before, seconds=0.001, seed=1)

    assert check(_change(problem, "minutes-10").problem, replace(after.plan, reasons=("Cut short.",))) == ()
    assert compare(outlook_of(problem, before), after.outlook).plates == 4


@settings(max_examples=40)
@given(problems(), st.integers(0, 30))
def test_what_is_filled_up_stays_as_it_was_and_keeps_every_rule(problem: Problem, seconds: int) -> None:
    """Only what is kept for repeats may begin at other times: it comes after all others, those that are added too."""
    opens, closes = problem.periods[-1]
    longer = replace(problem, periods=(*problem.periods[:-1], (opens, closes + seconds)))
    before = whiteboard(problem).visits
    work = take_apart(longer)
    filled = plan_of(work, filled_up(work, schedule_of(work, before)).placed, reasons=("No more fit.",))
    free = {group.name for group in problem.groups if group.reserve}

    assert check(longer, filled) == ()
    assert {_begins(visit) for visit in before if visit.group not in free} <= set(map(_begins, filled.visits))


@settings(max_examples=25)
@given(problems(), st.integers(0, 3), st.sampled_from([0.001, 0.05]))
def test_a_change_that_gives_nothing_up_never_hurts(problem: Problem, seed: int, seconds: float) -> None:
    """However little time there is to plan the changed class: as many plates at least, and with as many no later a finish."""
    before = plan(problem, seconds=0.2, seed=seed)
    for change in changes_of(problem, talk_s=185):
        after = what_if(problem, change, before, seconds=seconds, seed=seed)
        gain = compare(outlook_of(problem, before), after.outlook)

        assert check(change.problem, after.plan) == ()
        assert after.outlook.bound_s <= after.outlook.makespan_s
        if not change.gives_up:
            assert gain.plates >= 0
            assert gain.plates > 0 or after.outlook.makespan_s <= before.makespan_s


def test_a_plan_that_could_not_be_carried_over_stays_as_it_was() -> None:
    """Whoever may settle a minute less may also settle as long as before: nothing found is nothing lost."""
    problem = instance("typical-8-groups-2-stations")
    long = replace(
        problem,
        steps=tuple(replace(step, seconds=180) if step.name == "settle" else step for step in problem.steps),
    )
    before = plan(long, seconds=5, seed=1)
    after = what_if(long, _change(long, "settle"), before, seconds=0.001, seed=1)

    assert after.outlook.makespan_s <= before.makespan_s
    assert isinstance(after.plan, Plan)
