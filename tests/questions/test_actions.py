"""Asking everything real, and the question the planner is given for it."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from server.core.planning import Group, Problem, Step, read_class_file, write_class_file
from server.core.planning.problem import Charge, LightZone
from server.data.session import LabSession
from server.people.actions import enter_students, form_section_groups
from server.people.queries import list_groups
from server.questions.actions import (
    add_break,
    add_mix,
    ask_groups,
    delete_rotation,
    remove_break,
    remove_mix,
    rename_rotation,
    set_class_times,
    set_reserve_rounds,
    take_in_class_file,
)
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
    visits_file,
    withdraw,
)
from server.rotations.models import Rotation, RotationState
from server.rotations.queries import (
    get_plan,
    get_rotation,
    list_breaks,
    list_every_visit,
    list_group_plates,
    list_mixes,
    list_out_of_plates,
    list_periods,
    list_published,
    list_visits,
)
from server.runs.actions import file_run
from server.runs.models import Incident
from server.stations.models import Bath
from server.stations.queries import list_light_zones, list_stations, list_trays
from tests.casts import MORNING, Cast
from tests.rotations.rooms import furnish, with_repeats_after
from tests.runs.room import fill_room

BERLIN = "Europe/Berlin"
TUESDAY = date(2027, 2, 16)
TEN = datetime(2027, 2, 16, 9, 0, tzinfo=UTC)


@pytest.fixture
def rotation(session: LabSession, cast: Cast) -> Rotation:
    """From 10:00 to 12:00, a plate for each of the three groups."""
    furnish(session)
    return add_rotation(
        session, section_id=cast.section_id, name="First plates", day=TUESDAY, starts=time(10), ends=time(12),
        plates_per_group=1, now=MORNING, zone=BERLIN,
    )  # fmt: skip


def _planned(session: LabSession, rotation: Rotation) -> Problem:
    problem = plan_question(session, rotation.id)
    answer = with_repeats_after(problem)
    keep_plan(session, rotation.id, problem, answer, seed=1, now=MORNING)
    return problem


def _lunch(session: LabSession, rotation: Rotation, starts: time, ends: time) -> None:
    period = list_periods(session, rotation.id)[0]
    add_break(session, rotation.id, period_id=period.id, name="lunch", starts=starts, ends=ends, zone=BERLIN)


def test_the_planner_gets_the_periods_without_talk_and_clean_up(
    session: LabSession, rotation: Rotation
) -> None:
    """Second zero is when the talk is over; the clean-up ends each day."""
    add_period(session, rotation.id, day=date(2027, 2, 17), starts=time(10), ends=time(11), zone=BERLIN)
    set_class_times(session, rotation.id, talk_s=480, clean_up_s=300)

    day = 24 * 3600 - 480
    assert plan_question(session, rotation.id).periods == ((0, 6420), (day, day + 3300))
    assert [(one.what, one.starts_at) for one in list_out_of_plates(session, rotation)] == [
        ("talk", TEN),
        ("clean-up", TEN + timedelta(minutes=115)),
        ("clean-up", TEN + timedelta(days=1, minutes=55)),
    ]


def test_visits_are_at_instants_after_the_talk(session: LabSession, rotation: Rotation) -> None:
    set_class_times(session, rotation.id, talk_s=480, clean_up_s=0)
    _planned(session, rotation)

    kept = get_plan(session, rotation.id)
    assert kept is not None
    assert kept.starts_at == TEN + timedelta(minutes=8)
    assert list_visits(session, kept.id)[0].starts_at == kept.starts_at


def test_a_published_class_begins_with_its_talk(session: LabSession, rotation: Rotation) -> None:
    """It can't be withdrawn once the talk has begun."""
    set_class_times(session, rotation.id, talk_s=480, clean_up_s=0)
    _planned(session, rotation)
    publish(session, rotation.id, now=MORNING)

    assert list_published(session, after=MORNING)[0].starts_at == TEN
    with pytest.raises(Refusal, match="has begun"):
        withdraw(session, rotation.id, now=TEN)


def test_a_talk_and_clean_up_that_take_it_all_are_named(session: LabSession, rotation: Rotation) -> None:
    set_class_times(session, rotation.id, talk_s=3600, clean_up_s=3600)

    with pytest.raises(Refusal, match="leave no time for plates"):
        plan_question(session, rotation.id)


def test_a_break_splits_a_period_and_taking_it_out_joins_it(session: LabSession, rotation: Rotation) -> None:
    _lunch(session, rotation, time(10, 45), time(11, 15))
    assert plan_question(session, rotation.id).periods == ((0, 2700), (4500, 7200))

    remove_break(session, rotation.id, list_breaks(session, rotation.id)[0].id)

    assert plan_question(session, rotation.id).periods == ((0, 7200),)


@pytest.mark.parametrize(
    ("starts", "ends", "sentence"),
    [
        (time(9), time(9, 30), "lies inside its period"),
        (time(10), time(10, 30), "lies inside its period"),
        (time(11, 30), time(12), "lies inside its period"),
        (time(11), time(11), "must end after it starts"),
        (time(10, 50), time(11, 10), "a break then already: lunch"),
    ],
)
def test_a_break_outside_its_period_or_on_another_is_refused(
    session: LabSession, rotation: Rotation, starts: time, ends: time, sentence: str
) -> None:
    _lunch(session, rotation, time(11), time(11, 20))

    with pytest.raises(Refusal, match=sentence):
        _lunch(session, rotation, starts, ends)


def test_a_period_goes_with_its_breaks(session: LabSession, rotation: Rotation) -> None:
    _lunch(session, rotation, time(11), time(11, 20))

    remove_period(session, rotation.id, list_periods(session, rotation.id)[0].id)

    assert list_breaks(session, rotation.id) == []


def test_a_break_of_another_rotation_is_not_found(session: LabSession, rotation: Rotation) -> None:
    copy = copy_rotation(session, rotation.id, now=MORNING)
    period = list_periods(session, copy.id)[0]

    with pytest.raises(NotFound):
        add_break(
            session,
            rotation.id,
            period_id=period.id,
            name="lunch",
            starts=time(11),
            ends=time(11, 20),
            zone=BERLIN,
        )


def test_a_tied_group_has_one_station_in_its_own_steps(
    session: LabSession, rotation: Rotation, cast: Cast
) -> None:
    low = list_stations(session)[1]

    ask_groups(session, rotation.id, {cast.group_ids[2]: 2}, {cast.group_ids[2]: low.id})

    problem = plan_question(session, rotation.id)
    first, _second, tied = problem.groups
    assert first == Group("G1", 1)
    assert (tied.name, tied.passes) == ("G3", 2)
    assert tied.steps is not None
    assert tied.steps[0].at == ("S2",)
    assert tied.steps[3] == Step("expose", "same", 12, "dark", "still", 120)
    assert [step for step in tied.steps if step.at != ("S2",)] == [
        replace(step, seconds=12) if step.name == "expose" else step
        for step in problem.steps
        if step.name != "align"
    ]


def test_a_tied_group_is_planned_at_its_station_only(
    session: LabSession, rotation: Rotation, cast: Cast
) -> None:
    low = list_stations(session)[1]
    ask_groups(session, rotation.id, {}, {cast.group_ids[0]: low.id})
    _planned(session, rotation)

    kept = get_plan(session, rotation.id)
    assert kept is not None
    places = {visit.place for visit in list_visits(session, kept.id, cast.group_ids[0])}
    assert "S1" not in places
    assert "S2" in places


def test_a_tie_is_to_a_station_of_the_lab(session: LabSession, rotation: Rotation, cast: Cast) -> None:
    tray = list_trays(session, Bath.RINSE)[0]

    with pytest.raises(Refusal, match="tied to a station only"):
        ask_groups(session, rotation.id, {}, {cast.group_ids[0]: tray.id})
    with pytest.raises(NotFound):
        ask_groups(session, rotation.id, {}, {cast.group_ids[0]: 4711})


def test_a_tie_to_a_station_out_of_order_is_named(
    session: LabSession, rotation: Rotation, cast: Cast
) -> None:
    low = list_stations(session)[1]
    ask_groups(session, rotation.id, {}, {cast.group_ids[0]: low.id})
    low.out_of_order = True

    with pytest.raises(Refusal, match="G1 is tied to S2, which is out of order"):
        plan_question(session, rotation.id)

    ask_groups(session, rotation.id, {}, {cast.group_ids[0]: None})
    assert plan_question(session, rotation.id).groups[0] == Group("G1", 1)


def test_a_group_formed_later_makes_the_usual_number(
    session: LabSession, rotation: Rotation, cast: Cast
) -> None:
    rotation.plates_per_group = 2
    enter_students(session, cast.section_id, ("Gil Aro", "Hana Poe"))
    session.flush()
    form_section_groups(session, cast.section_id, size=2)

    assert plan_question(session, rotation.id).groups[-1] == Group("G4", 2)
    new = list_groups(session, cast.section_id)[-1]
    ask_groups(session, rotation.id, {new.id: 1}, {new.id: None})
    assert plan_question(session, rotation.id).groups[-1] == Group("G4", 1)


def test_mixes_become_charges_of_every_developer_tray(session: LabSession, rotation: Rotation) -> None:
    """Mixed at 09:40 for six hours, then at 11:00 without a number of plates; second zero is 10:08."""
    set_class_times(session, rotation.id, talk_s=480, clean_up_s=0)
    early, late = TEN - timedelta(minutes=20), TEN + timedelta(hours=1)
    add_mix(session, rotation.id, mixed_at=late, life_s=8 * 3600, plates=None)
    add_mix(session, rotation.id, mixed_at=early, life_s=6 * 3600, plates=12)

    places = {place.name: place.charges for place in plan_question(session, rotation.id).places}

    assert places.pop("developer, line 1") == (
        Charge(0, 6 * 3600 - 28 * 60, 12),
        Charge(52 * 60, 52 * 60 + 8 * 3600),
    )
    assert set(places.values()) == {()}


def test_a_mix_that_is_dead_before_the_plates_is_no_charge(session: LabSession, rotation: Rotation) -> None:
    add_mix(session, rotation.id, mixed_at=TEN - timedelta(hours=6), life_s=6 * 3600 + 300, plates=12)
    assert plan_question(session, rotation.id).places[2].charges == (Charge(0, 300, 12),)

    set_class_times(session, rotation.id, talk_s=480, clean_up_s=0)

    with pytest.raises(Refusal, match="Every mix of developer is dead"):
        plan_question(session, rotation.id)


def test_a_mix_for_another_time_is_refused(session: LabSession, rotation: Rotation) -> None:
    with pytest.raises(Refusal, match="dead before the class begins"):
        add_mix(session, rotation.id, mixed_at=TEN - timedelta(hours=6), life_s=6 * 3600, plates=12)
    with pytest.raises(Refusal, match="after the class has ended"):
        add_mix(session, rotation.id, mixed_at=TEN + timedelta(hours=2), life_s=6 * 3600, plates=12)


def test_a_mix_is_taken_out_again(session: LabSession, rotation: Rotation) -> None:
    add_mix(session, rotation.id, mixed_at=TEN, life_s=6 * 3600, plates=12)

    remove_mix(session, rotation.id, list_mixes(session, rotation.id)[0].id)

    assert plan_question(session, rotation.id).places[2].charges == ()


def test_a_rotation_has_at_most_twelve_mixes(session: LabSession, rotation: Rotation) -> None:
    for _ in range(12):
        add_mix(session, rotation.id, mixed_at=TEN, life_s=6 * 3600, plates=1)

    with pytest.raises(Refusal, match="at most 12 mixes"):
        add_mix(session, rotation.id, mixed_at=TEN, life_s=6 * 3600, plates=1)


def test_lamps_that_glow_on_are_told(session: LabSession, rotation: Rotation) -> None:
    assert plan_question(session, rotation.id).light_zones == ()
    list_light_zones(session)[0].afterglow_s = 300

    assert plan_question(session, rotation.id).light_zones == (LightZone("room", 300),)


def test_a_round_for_repeats_is_a_plate_at_each_station_in_order(
    session: LabSession, rotation: Rotation
) -> None:
    set_reserve_rounds(session, rotation.id, reserve_rounds=2)

    repeats = plan_question(session, rotation.id).groups[3:]

    assert repeats == tuple(Group(f"Repeat {number}", 1, reserve=True) for number in (1, 2, 3, 4))
    list_stations(session)[0].out_of_order = True
    assert len(plan_question(session, rotation.id).groups) == 5


def test_repeats_have_visits_of_their_own_and_no_group_of_the_section(
    session: LabSession, rotation: Rotation
) -> None:
    set_reserve_rounds(session, rotation.id, reserve_rounds=1)
    problem = plan_question(session, rotation.id)
    answer = with_repeats_after(problem)
    keep_plan(session, rotation.id, problem, answer, seed=1, now=MORNING)

    kept = get_plan(session, rotation.id)
    assert kept is not None
    assert (kept.plates_planned, kept.plates_unplaced) == (3, 0)
    assert len(list_visits(session, kept.id)) == 3 * 11
    assert {
        (one.group, one.step, one.place, round((one.starts_at - kept.starts_at).total_seconds()))
        for one in list_every_visit(session, kept.id)
    } == {(one.group, one.step, one.place, one.start_s) for one in answer.visits}
    assert visits_file(session, rotation.id, zone=BERLIN).count("Repeat 1,") == 11


def test_a_copy_asks_everything_again(session: LabSession, rotation: Rotation, cast: Cast) -> None:
    set_class_times(session, rotation.id, talk_s=480, clean_up_s=300)
    _lunch(session, rotation, time(11), time(11, 20))
    add_mix(session, rotation.id, mixed_at=TEN, life_s=6 * 3600, plates=12)
    set_reserve_rounds(session, rotation.id, reserve_rounds=1)
    ask_groups(session, rotation.id, {}, {cast.group_ids[0]: list_stations(session)[0].id})

    copy = copy_rotation(session, rotation.id, now=MORNING)

    assert plan_question(session, copy.id) == replace(
        plan_question(session, rotation.id), name="Copy of First plates"
    )


def test_every_change_asks_for_a_new_plan(session: LabSession, rotation: Rotation, cast: Cast) -> None:
    changes: tuple[Callable[[], None], ...] = (
        lambda: set_class_times(session, rotation.id, talk_s=60, clean_up_s=0),
        lambda: _lunch(session, rotation, time(11), time(11, 20)),
        lambda: remove_break(session, rotation.id, list_breaks(session, rotation.id)[0].id),
        lambda: ask_groups(session, rotation.id, {}, {cast.group_ids[0]: None}),
        lambda: add_mix(session, rotation.id, mixed_at=TEN, life_s=6 * 3600, plates=None),
        lambda: remove_mix(session, rotation.id, list_mixes(session, rotation.id)[0].id),
        lambda: set_reserve_rounds(session, rotation.id, reserve_rounds=0),
    )
    for change in changes:
        rotation.state = RotationState.PLANNED
        change()
        assert rotation.state == RotationState.DRAFT
    _planned(session, rotation)
    publish(session, rotation.id, now=MORNING)
    for change in changes:
        with pytest.raises((Refusal, IndexError)):  # nothing is left to take out of an empty list
            change()
    assert rotation.state == RotationState.PUBLISHED


def test_a_new_name_keeps_the_plan(session: LabSession, rotation: Rotation) -> None:
    _planned(session, rotation)

    rename_rotation(session, rotation.id, name="Plates for two")

    assert read_class_file(class_file(session, rotation.id)).name == "Plates for two"
    publish(session, rotation.id, now=MORNING)
    assert get_rotation(session, rotation.id).name == "Plates for two"


def test_a_draft_is_deleted_with_all_its_parts(session: LabSession, rotation: Rotation, cast: Cast) -> None:
    other = copy_rotation(session, rotation.id, now=MORNING)
    _lunch(session, rotation, time(11, 45), time(11, 50))
    add_mix(session, rotation.id, mixed_at=TEN, life_s=6 * 3600, plates=12)
    set_reserve_rounds(session, rotation.id, reserve_rounds=1)
    _planned(session, rotation)
    asked = plan_question(session, other.id)

    delete_rotation(session, rotation.id)

    with pytest.raises(NotFound):
        get_rotation(session, rotation.id)
    assert list_group_plates(session, rotation.id) == []
    assert plan_question(session, other.id) == asked


def test_a_published_rotation_is_not_deleted(session: LabSession, rotation: Rotation) -> None:
    _planned(session, rotation)
    publish(session, rotation.id, now=MORNING)

    with pytest.raises(Refusal, match="Withdraw it before it begins, then delete it"):
        delete_rotation(session, rotation.id)


def test_a_rotation_that_a_run_was_filed_under_is_not_deleted(session: LabSession, cast: Cast) -> None:
    """And nothing of it is lost by trying."""
    room = fill_room(session)
    rotation = add_rotation(
        session, section_id=cast.section_id, name="First plates", day=TUESDAY, starts=time(10), ends=time(12),
        plates_per_group=1, now=MORNING, zone=BERLIN,
    )  # fmt: skip
    file_run(
        session, tablet_id="a-run-of-the-test", section_id=cast.section_id, group_id=cast.group_ids[0],
        plate_box_id=room.plate_box_id, place_id=room.station_id, charge_id=room.charge_id, rotation_id=rotation.id,
        settle_s=60, exposure_s=10, develop_s=20, incident=Incident.NONE, comment="", exposed_at=MORNING, by="G1", now=MORNING,
    )  # fmt: skip
    session.flush()
    asked = plan_question(session, rotation.id)

    with pytest.raises(Refusal, match="Something was filed under this rotation"):
        delete_rotation(session, rotation.id)

    session.expire_all()
    assert plan_question(session, rotation.id) == asked


SMALL = """{"name": "Two boxes", "periods": [[600, 3000]],
 "places": [{"name": "A", "capacity": 1}, {"name": "B", "capacity": 2, "light_zone": "hall"}],
 "light_zones": [{"name": "hall", "afterglow_s": 60}],
 "steps": [{"name": "look", "at": ["A"], "seconds": 60}, {"name": "load", "at": ["B"], "seconds": {"B": 30}, "light": "dark"}],
 "groups": [{"name": "Early", "passes": 2}, {"name": "G1", "passes": 1, "any_order": true}, {"name": "Spare", "passes": 1, "reserve": true}]}"""


def _taken_in(session: LabSession, cast: Cast, text: str = SMALL) -> Rotation:
    return take_in_class_file(
        session,
        section_id=cast.section_id,
        day=TUESDAY,
        starts=time(10),
        class_file=text,
        now=MORNING,
        zone=BERLIN,
    )


def test_a_class_file_asks_exactly_what_it_says(session: LabSession, cast: Cast) -> None:
    rotation = _taken_in(session, cast)

    assert rotation.name == "Two boxes"
    assert plan_question(session, rotation.id) == read_class_file(SMALL)
    period = list_periods(session, rotation.id)[0]
    assert (period.starts_at, period.ends_at) == (TEN, TEN + timedelta(minutes=40))


def test_what_is_exported_and_taken_in_is_given_back_letter_by_letter(
    session: LabSession, rotation: Rotation, cast: Cast
) -> None:
    set_reserve_rounds(session, rotation.id, reserve_rounds=1)
    add_mix(session, rotation.id, mixed_at=TEN, life_s=6 * 3600, plates=12)
    ask_groups(session, rotation.id, {}, {cast.group_ids[0]: list_stations(session)[0].id})
    text = class_file(session, rotation.id)

    again = _taken_in(session, cast, text.replace("\n", "\r\n").strip())

    assert class_file(session, again.id) == text
    assert class_file(session, copy_rotation(session, again.id, now=MORNING).id) == text


def test_a_class_file_is_planned_with_groups_that_are_only_names(session: LabSession, cast: Cast) -> None:
    rotation = _taken_in(session, cast)
    problem = plan_question(session, rotation.id)
    answer = with_repeats_after(problem)
    keep_plan(session, rotation.id, problem, answer, seed=1, now=MORNING)

    kept = get_plan(session, rotation.id)
    assert kept is not None
    assert list_visits(session, kept.id) == []
    every = list_every_visit(session, kept.id)
    assert {(one.group, one.pass_no) for one in every} == {
        ("Early", 1),
        ("Early", 2),
        ("G1", 1),
        ("Spare", 1),
    }
    assert every[0].starts_at >= TEN
    assert kept.plates_planned == 3
    assert write_class_file(problem) == kept.class_file


def test_what_came_as_a_file_is_neither_changed_nor_published(session: LabSession, cast: Cast) -> None:
    rotation = _taken_in(session, cast)
    _planned(session, rotation)

    with pytest.raises(Refusal, match="compared and printed, and not published"):
        publish(session, rotation.id, now=MORNING)
    with pytest.raises(Refusal, match="Change the file and take it in again"):
        set_class_times(session, rotation.id, talk_s=60, clean_up_s=0)
    rename_rotation(session, rotation.id, name="Mine")
    assert read_class_file(class_file(session, rotation.id)).name == "Two boxes"
    delete_rotation(session, rotation.id)
