"""Asking for a rotation, keeping a plan, publishing it."""

import json
from contextlib import redirect_stdout
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from io import StringIO
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.__main__ import plan_file
from server.core.planning import Group, Place, Plan, Problem, Step, check, plan, read_class_file, whiteboard
from server.data.session import LabSession
from server.people.actions import add_section, form_section_groups
from server.refusal import NotFound, Refusal
from server.rotations.actions import (
    add_period,
    add_rotation,
    class_file,
    copy_rotation,
    keep_plan,
    plan_question,
    publish,
    remove_period,
    set_plates,
    set_steps,
    withdraw,
)
from server.rotations.forms import NewStep
from server.rotations.models import Rotation, RotationState, StepPlace, StepTime
from server.rotations.queries import (
    get_plan,
    get_rotation,
    list_group_plates,
    list_periods,
    list_published,
    list_steps,
    list_visits,
)
from server.stations.actions import change_place
from server.stations.models import Bath
from server.stations.queries import list_stations, list_trays
from tests.casts import MORNING, Cast
from tests.rotations.rooms import furnish

BERLIN = "Europe/Berlin"
TUESDAY = date(2027, 2, 16)


def _added(session: LabSession, cast: Cast, **changes: object) -> Rotation:
    asked: dict[str, object] = {
        "section_id": cast.section_id,
        "name": "First plates",
        "day": TUESDAY,
        "starts": time(10),
        "ends": time(12),
        "plates_per_group": 1,
        "now": MORNING,
        "zone": BERLIN,
    }
    return add_rotation(session, **{**asked, **changes})  # type: ignore[arg-type]


def _planned(session: LabSession, cast: Cast) -> tuple[Rotation, Problem, Plan]:
    """A rotation with a plan made by hand, which is quick and valid."""
    rotation = _added(session, cast)
    problem = plan_question(session, rotation.id)
    answer = whiteboard(problem)
    keep_plan(session, rotation.id, problem, answer, seed=1, now=MORNING)
    return rotation, problem, answer


def test_a_new_rotation_asks_for_the_usual_steps_in_the_labs_room(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast)

    tray = "{}, line 1".format
    assert plan_question(session, rotation.id) == Problem(
        name="First plates",
        periods=((0, 7200),),
        places=(
            Place("S1", 1, "room", "table"),
            Place("S2", 1, "room", "table"),
            Place("developer, line 1", 1, "room"),
            Place("rinse, line 1", 1, "room"),
            Place("bleach, line 1", 1, "room"),
            Place("wash, line 1", 1, "room"),
            Place("dryer", 2),
            Place("bench", 4, "room"),
        ),
        steps=(
            Step("align", ("S1", "S2"), 300, "lit", "moves", 1200),
            Step("load", "same", 60, "dark", "moves", 0),
            Step("settle", "same", 60, "dark", "still", 0),
            Step("expose", "same", {"S1": 8, "S2": 12}, "dark", "still", 120),
            Step("carry", "same", 20, "any", "moves", 1800),
            Step("develop", (tray("developer"),), 20, "dark", "any", 0),
            Step("rinse", (tray("rinse"),), 30, "dark", "any", 0),
            Step("bleach", (tray("bleach"),), 90, "dark", "any", 0),
            Step("wash", (tray("wash"),), 60, "any", "any", 3600),
            Step("dry", ("dryer",), 240),
            Step("view", ("bench",), 300, "lit"),
        ),
        groups=(Group("G1", 1), Group("G2", 1), Group("G3", 1)),
    )


def test_a_lab_without_dryer_and_bench_plans_without_drying_and_viewing(
    session: LabSession, cast: Cast
) -> None:
    furnish(session, dryer=False, bench=False)
    rotation = _added(session, cast)

    assert [step.name for step in list_steps(session, rotation.id)][-2:] == ["bleach", "wash"]
    assert plan_question(session, rotation.id).steps[-1].name == "wash"


def test_places_out_of_order_are_left_out(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast)
    first = list_stations(session)[0]
    change_place(
        session,
        first.id,
        name="S1",
        capacity=1,
        light_zone_id=first.light_zone_id,
        still_zone_id=first.still_zone_id,
        settle_s=60,
        exposure_s=8,
        laser_warm_up_s=None,
        out_of_order=True,
    )

    problem = plan_question(session, rotation.id)

    assert "S1" not in [place.name for place in problem.places]
    assert problem.steps[0].at == ("S2",)
    assert problem.steps[3].seconds == 12


def test_what_is_missing_is_said_with_where_to_add_it(session: LabSession, cast: Cast) -> None:
    rotation = _added(session, cast)
    remove_period(session, rotation.id, list_periods(session, rotation.id)[0].id)
    set_plates(session, rotation.id, dict.fromkeys(cast.group_ids, 0))

    with pytest.raises(Refusal) as refusal:
        plan_question(session, rotation.id)

    sentence = refusal.value.sentence
    assert "There is no period." in sentence
    assert "No group makes a plate." in sentence
    assert "There is no station in order. Add one, or repair one, under Stations." in sentence
    assert "There is no bleach tray in order." in sentence


def test_a_tray_out_of_order_is_missed(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast)
    tray = list_trays(session, Bath.BLEACH)[0]
    tray.out_of_order = True

    with pytest.raises(Refusal, match="There is no bleach tray in order"):
        plan_question(session, rotation.id)


def test_a_section_without_groups_gets_no_rotation(session: LabSession, cast: Cast) -> None:
    empty = add_section(session, name="Evening")

    with pytest.raises(Refusal, match="Evening has no groups yet"):
        _added(session, cast, section_id=empty.id)


def test_groups_make_different_numbers_of_plates(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast)
    one, two, three = cast.group_ids

    set_plates(session, rotation.id, {one: 2, two: 0, three: 1})

    assert plan_question(session, rotation.id).groups == (Group("G1", 2), Group("G3", 1))


def test_a_group_of_another_section_is_refused(session: LabSession, cast: Cast) -> None:
    rotation = _added(session, cast)

    with pytest.raises(Refusal, match="not in the section any more"):
        set_plates(session, rotation.id, {cast.other_group_id: 1})


def test_periods_are_seconds_from_the_first_start_and_days_keep_their_wall_clock(
    session: LabSession, cast: Cast
) -> None:
    """On 28 March 2027 Berlin's clocks go from 02:00 to 03:00: a day of 23 hours lies between the two periods."""
    furnish(session)
    rotation = _added(session, cast, day=date(2027, 3, 27))
    add_period(session, rotation.id, day=date(2027, 3, 28), starts=time(10), ends=time(11), zone=BERLIN)

    assert [period.starts_at for period in list_periods(session, rotation.id)] == [
        datetime(2027, 3, 27, 9, 0, tzinfo=UTC),
        datetime(2027, 3, 28, 8, 0, tzinfo=UTC),
    ]
    assert plan_question(session, rotation.id).periods == ((0, 7200), (23 * 3600, 24 * 3600))


def test_a_period_across_the_spring_change_has_an_hour_less(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast, day=date(2027, 3, 28), starts=time(1, 30), ends=time(4))

    assert plan_question(session, rotation.id).periods == ((0, 90 * 60),)


def test_a_time_that_the_clocks_skip_is_refused(session: LabSession, cast: Cast) -> None:
    with pytest.raises(Refusal, match="the clocks skip 02:30"):
        _added(session, cast, day=date(2027, 3, 28), starts=time(2, 30), ends=time(4))


def test_periods_may_touch_and_not_overlap(session: LabSession, cast: Cast) -> None:
    rotation = _added(session, cast)
    add_period(session, rotation.id, day=TUESDAY, starts=time(12), ends=time(13), zone=BERLIN)

    with pytest.raises(Refusal, match="overlaps"):
        add_period(session, rotation.id, day=TUESDAY, starts=time(11, 59), ends=time(12, 30), zone=BERLIN)
    with pytest.raises(Refusal, match="must end after it starts"):
        add_period(session, rotation.id, day=TUESDAY, starts=time(15), ends=time(15), zone=BERLIN)
    with pytest.raises(Refusal, match="half a year"):
        add_period(session, rotation.id, day=date(2028, 2, 16), starts=time(10), ends=time(11), zone=BERLIN)


def test_a_settle_time_of_nothing_is_planned_as_one_second(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast)
    for station in list_stations(session):
        station.settle_s = 0

    assert plan_question(session, rotation.id).steps[2].seconds == 1


def test_a_name_the_planner_cannot_read_is_refused_by_name(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast)
    list_stations(session)[0].name = "S\u200b1"

    with pytest.raises(Refusal, match=r"The planner can't read this rotation: places\[0\].name"):
        plan_question(session, rotation.id)


def test_steps_can_be_replaced(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast)

    set_steps(
        session,
        rotation.id,
        [
            NewStep("expose", StepPlace.STATION, StepTime.EXPOSURE, light="dark"),
            NewStep("rinse", StepPlace.RINSE, seconds=40),
        ],
    )

    assert plan_question(session, rotation.id).steps == (
        Step("expose", ("S1", "S2"), {"S1": 8, "S2": 12}, "dark"),
        Step("rinse", ("rinse, line 1",), 40),
    )


@pytest.mark.parametrize(
    ("steps", "sentence"),
    [
        ([], "at least one step"),
        ([NewStep("load", StepPlace.SAME, seconds=5)], "The first step has no step before it"),
        (
            [NewStep("load", StepPlace.STATION, seconds=5), NewStep("load", StepPlace.SAME, seconds=5)],
            "Two steps are called “load”",
        ),
        ([NewStep("load", StepPlace.STATION)], "how many seconds"),
        ([NewStep("rest", StepPlace.BENCH, StepTime.SETTLE)], "Only a step at a station"),
    ],
)
def test_steps_that_cannot_be_are_refused(
    session: LabSession, cast: Cast, steps: list[NewStep], sentence: str
) -> None:
    rotation = _added(session, cast)

    with pytest.raises(Refusal, match=sentence):
        set_steps(session, rotation.id, steps)


def test_a_kept_plan_becomes_visits_at_instants(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation, problem, answer = _planned(session, cast)

    kept = get_plan(session, rotation.id)
    assert kept is not None
    visits = list_visits(session, kept.id)
    begins = datetime(2027, 2, 16, 9, 0, tzinfo=UTC)
    names = dict(zip(cast.group_ids, ("G1", "G2", "G3"), strict=True))
    assert {
        (names[visit.group_id], visit.pass_no, visit.step, visit.place, visit.starts_at, visit.ends_at)
        for visit in visits
    } == {
        (
            one.group,
            one.pass_no,
            one.step,
            one.place,
            begins + timedelta(seconds=one.start_s),
            begins + timedelta(seconds=one.end_s),
        )
        for one in answer.visits
    }
    assert [visit.starts_at for visit in visits] == sorted(visit.starts_at for visit in visits)
    assert {(visit.step, visit.light, visit.still) for visit in visits} == {
        (step.name, step.light, step.still) for step in problem.steps
    }
    assert kept.plates_planned == 3
    assert rotation.state == RotationState.PLANNED


def test_planning_again_replaces_the_plan(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation, problem, answer = _planned(session, cast)

    keep_plan(session, rotation.id, problem, answer, seed=1, now=MORNING)

    kept = get_plan(session, rotation.id)
    assert kept is not None
    assert len(list_visits(session, kept.id)) == len(answer.visits)
    assert len(list_visits(session, kept.id, cast.group_ids[1])) == 11


def test_a_plan_that_breaks_a_rule_is_not_kept(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast)
    problem = plan_question(session, rotation.id)
    answer = whiteboard(problem)
    moved = replace(
        answer.visits[0], start_s=answer.visits[0].start_s + 10, end_s=answer.visits[0].end_s + 10
    )
    wrong = replace(answer, visits=(moved, *answer.visits[1:]))
    assert check(problem, wrong)

    with pytest.raises(Refusal, match="The plan breaks a rule, so it was not kept"):
        keep_plan(session, rotation.id, problem, wrong, seed=1, now=MORNING)
    assert get_plan(session, rotation.id) is None


def test_a_plan_of_a_question_that_changed_meanwhile_is_not_kept(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast)
    problem = plan_question(session, rotation.id)
    answer = whiteboard(problem)
    list_stations(session)[0].exposure_s = 20

    with pytest.raises(Refusal, match="changed while it was planned"):
        keep_plan(session, rotation.id, problem, answer, seed=1, now=MORNING)


def test_a_change_after_planning_asks_for_a_new_plan_before_publishing(
    session: LabSession, cast: Cast
) -> None:
    furnish(session)
    rotation, _problem, _answer = _planned(session, cast)

    set_plates(session, rotation.id, {cast.group_ids[0]: 2})

    assert rotation.state == RotationState.DRAFT
    with pytest.raises(Refusal, match="Press Plan first"):
        publish(session, rotation.id, now=MORNING)


def test_a_published_rotation_is_fixed(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation, problem, answer = _planned(session, cast)
    period = list_periods(session, rotation.id)[0]
    publish(session, rotation.id, now=MORNING)

    changes = (
        lambda: plan_question(session, rotation.id),
        lambda: keep_plan(session, rotation.id, problem, answer, seed=2, now=MORNING),
        lambda: set_plates(session, rotation.id, {cast.group_ids[0]: 2}),
        lambda: set_steps(session, rotation.id, [NewStep("look", StepPlace.BENCH, seconds=60)]),
        lambda: add_period(session, rotation.id, day=TUESDAY, starts=time(15), ends=time(16), zone=BERLIN),
        lambda: remove_period(session, rotation.id, period.id),
        lambda: publish(session, rotation.id, now=MORNING),
    )
    for change in changes:
        with pytest.raises(Refusal, match="copy it and change the copy"):
            change()
    assert rotation.published_at == MORNING


def test_a_rotation_is_withdrawn_before_it_begins_and_can_be_changed_again(
    session: LabSession, cast: Cast
) -> None:
    furnish(session)
    rotation, _problem, _answer = _planned(session, cast)
    publish(session, rotation.id, now=MORNING)
    withdraw(session, rotation.id, now=MORNING)

    assert list_published(session, after=MORNING) == []
    set_plates(session, rotation.id, {cast.group_ids[0]: 2})
    with pytest.raises(Refusal, match="nothing to withdraw"):
        withdraw(session, rotation.id, now=MORNING)


def test_a_rotation_that_has_begun_stays_published(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation, _problem, _answer = _planned(session, cast)
    publish(session, rotation.id, now=MORNING)
    begins = list_periods(session, rotation.id)[0].starts_at

    with pytest.raises(Refusal, match="has begun"):
        withdraw(session, rotation.id, now=begins)


def test_two_rotations_of_one_time_are_not_both_published(session: LabSession, cast: Cast) -> None:
    furnish(session)
    first, _problem, _answer = _planned(session, cast)
    second = copy_rotation(session, first.id, now=MORNING)
    problem = plan_question(session, second.id)
    keep_plan(session, second.id, problem, plan(problem, seconds=1, seed=1), seed=1, now=MORNING)
    publish(session, first.id, now=MORNING)

    with pytest.raises(Refusal, match="is published for the same time"):
        publish(session, second.id, now=MORNING)
    withdraw(session, first.id, now=MORNING)
    publish(session, second.id, now=MORNING)


def test_a_published_plan_stays_when_the_room_changes(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation, problem, answer = _planned(session, cast)
    publish(session, rotation.id, now=MORNING)
    list_stations(session)[0].exposure_s = 20

    kept = get_plan(session, rotation.id)
    assert kept is not None
    assert read_class_file(class_file(session, rotation.id)) == problem
    assert kept.makespan_s == answer.makespan_s


def test_a_plan_for_another_room_is_not_published(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation, problem, _answer = _planned(session, cast)
    list_stations(session)[0].out_of_order = True
    with pytest.raises(Refusal, match="room or the groups were changed"):
        publish(session, rotation.id, now=MORNING)

    list_stations(session)[0].out_of_order = False
    publish(session, rotation.id, now=MORNING)
    assert read_class_file(class_file(session, rotation.id)) == problem


def test_a_plan_for_groups_out_of_use_is_not_published(session: LabSession, cast: Cast) -> None:
    """Three pairs become two groups of three, and nobody is left in G3."""
    furnish(session)
    rotation, _problem, _answer = _planned(session, cast)
    form_section_groups(session, cast.section_id, size=3)

    with pytest.raises(Refusal, match="room or the groups were changed"):
        publish(session, rotation.id, now=MORNING)


def test_a_plan_without_a_plate_cannot_be_published(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast, ends=time(10, 5))
    problem = plan_question(session, rotation.id)
    keep_plan(session, rotation.id, problem, plan(problem, seconds=1, seed=1), seed=1, now=MORNING)

    with pytest.raises(Refusal, match="no plate in it"):
        publish(session, rotation.id, now=MORNING)


def test_a_copy_asks_the_same_and_can_be_changed(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation, problem, _answer = _planned(session, cast)
    publish(session, rotation.id, now=MORNING)

    copy = copy_rotation(session, rotation.id, now=MORNING)

    assert plan_question(session, copy.id) == replace(problem, name="Copy of First plates")
    set_plates(session, copy.id, {cast.group_ids[0]: 3})
    assert [asked.plates for asked in list_group_plates(session, rotation.id)] == [1, 1, 1]
    assert get_rotation(session, rotation.id).state == RotationState.PUBLISHED


def test_a_class_file_plans_to_the_same_answer(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation = _added(session, cast, ends=time(11))
    set_plates(session, rotation.id, {cast.group_ids[1]: 0, cast.group_ids[2]: 0})
    problem = plan_question(session, rotation.id)
    answer = plan(problem, seconds=4, seed=1)
    keep_plan(session, rotation.id, problem, answer, seed=1, now=MORNING)

    again = plan(read_class_file(class_file(session, rotation.id)), seconds=4, seed=1)

    assert again == answer


@settings(max_examples=8, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(
    plates=st.tuples(st.integers(1, 2), st.integers(0, 1), st.integers(0, 1)),
    ends=st.times(time(10, 1), time(12)).map(lambda clock: clock.replace(second=0, microsecond=0)),
    align_s=st.integers(1, 900),
)
def test_the_command_plans_an_exported_rotation_visit_for_visit_as_it_is_kept(
    session: LabSession, cast: Cast, tmp_path: Path, plates: tuple[int, ...], ends: time, align_s: int
) -> None:
    """From the database to a class file, through the command, and back to the kept visits."""
    if not list_stations(session):
        furnish(session)
    rotation = _added(session, cast, ends=ends)
    set_plates(session, rotation.id, dict(zip(cast.group_ids, plates, strict=True)))
    list_steps(session, rotation.id)[0].seconds = align_s
    session.flush()
    problem = plan_question(session, rotation.id)
    kept = keep_plan(session, rotation.id, problem, plan(problem, seconds=8, seed=1), seed=1, now=MORNING)
    file, printed = tmp_path / "class.json", StringIO()
    file.write_text(class_file(session, rotation.id), encoding="utf-8")

    with redirect_stdout(printed):
        plan_file(file, seconds=8, seed=1, as_json=True)

    answer = json.loads(printed.getvalue())
    groups = {group_id: f"G{number}" for number, group_id in enumerate(cast.group_ids, start=1)}
    begins = kept.starts_at
    assert (answer["status"], answer["makespan_s"], answer["bound_s"], answer["whiteboard_s"]) == (
        kept.status,
        kept.makespan_s,
        kept.bound_s,
        kept.whiteboard_s,
    )
    assert sorted(
        (one["group"], one["pass"], one["start_s"], one["end_s"], one["step"], one["place"])
        for one in answer["visits"]
    ) == sorted(
        (
            groups[one.group_id],
            one.pass_no,
            round((one.starts_at - begins).total_seconds()),
            round((one.ends_at - begins).total_seconds()),
            one.step,
            one.place,
        )
        for one in list_visits(session, kept.id)
    )


def test_a_draft_exports_the_question_as_it_stands(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation, _problem, _answer = _planned(session, cast)
    set_plates(session, rotation.id, {cast.group_ids[0]: 4})

    assert read_class_file(class_file(session, rotation.id)).groups[0].passes == 4


def test_published_rotations_are_listed_while_visits_are_ahead(session: LabSession, cast: Cast) -> None:
    furnish(session)
    rotation, _problem, answer = _planned(session, cast)
    assert list_published(session, after=MORNING) == []
    publish(session, rotation.id, now=MORNING)
    begins = datetime(2027, 2, 16, 9, 0, tzinfo=UTC)
    ends = begins + timedelta(seconds=answer.makespan_s)

    (listed,) = list_published(session, after=MORNING, before=begins + timedelta(seconds=1))

    assert (listed.rotation_id, listed.name, listed.section_id, listed.section_name) == (
        rotation.id,
        "First plates",
        cast.section_id,
        "Tuesday",
    )
    assert (listed.starts_at, listed.ends_at, listed.plates_planned, listed.stations) == (begins, ends, 3, 2)
    assert list_published(session, after=ends) == []
    assert list_published(session, after=MORNING, before=begins) == []


def test_a_rotation_that_is_not_there_is_not_found(session: LabSession) -> None:
    with pytest.raises(NotFound):
        get_rotation(session, 4711)
