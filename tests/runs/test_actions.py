"""Filing runs and rating them."""

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from server.charges.actions import empty_charge
from server.charges.queries import get_charge
from server.core.diagnosis import Darkening, Defect
from server.data.session import Database, LabSession
from server.people.actions import add_section
from server.people.queries import list_students
from server.plates.queries import get_plate_box, list_plate_entries, list_unbalanced
from server.refusal import NotFound, Refusal
from server.runs.actions import file_run, give_verdict, leave_to_dry
from server.runs.models import NOBODY, Incident, ObjectKind, ObjectTone, ReplayColour, Run
from server.runs.queries import (
    count_verdicts,
    find_slip,
    list_members,
    list_runs,
    list_slips_left,
    list_waiting,
)
from server.stations.queries import get_place
from server.students.actions import move_student
from tests.casts import MORNING, Cast
from tests.plates import shelf
from tests.runs.room import Room, add_rack, fill_room


@pytest.fixture
def room(session: LabSession) -> Room:
    return fill_room(session)


def _file(session: LabSession, cast: Cast, room: Room, **changed: Any) -> Run:
    note: dict[str, Any] = {
        "tablet_id": str(uuid4()),
        "section_id": cast.section_id,
        "group_id": cast.group_ids[0],
        "plate_box_id": room.plate_box_id,
        "place_id": room.station_id,
        "charge_id": room.charge_id,
        "rotation_id": None,
        "settle_s": 60,
        "exposure_s": 10,
        "develop_s": 120,
        "incident": Incident.NONE,
        "comment": "",
        "exposed_at": MORNING,
        "by": "G1",
        "now": MORNING,
    }
    return file_run(session, **{**note, **changed})


def test_a_run_keeps_who_was_in_its_group(session: LabSession, cast: Cast, room: Room) -> None:
    ada = next(one.id for one in list_students(session, cast.section_id) if one.name == "Ada Quist")
    run = _file(session, cast, room)
    move_student(session, cast.section_id, ada, group_id=cast.group_ids[1])

    kept = list_members(session, cast.section_id)[run.id]
    assert [(one.code, one.was_unsigned, one.was_lit_only) for one in kept] == [
        ("Tue-G1-a", False, False),
        ("Tue-G1-b", False, False),
    ]
    assert kept[0].student_id == ada


def test_a_run_takes_one_plate_and_counts_it_through_the_developer(
    session: LabSession, cast: Cast, room: Room
) -> None:
    run = _file(session, cast, room)

    assert get_plate_box(session, room.plate_box_id).plates_left == 11
    assert list_plate_entries(session, room.plate_box_id)[-1].run_id == run.id
    assert get_charge(session, room.charge_id).plates == 1
    assert list_unbalanced(session) == []


def test_runs_are_numbered_by_section_without_gaps(session: LabSession, cast: Cast, room: Room) -> None:
    other = add_section(session, name="Thursday")
    numbers = [_file(session, cast, room, group_id=group, charge_id=None).number for group in cast.group_ids]

    assert numbers == [1, 2, 3]
    assert list_runs(session, other.id) == []


def test_the_same_tablet_id_again_is_the_same_run_and_takes_nothing(
    session: LabSession, cast: Cast, room: Room
) -> None:
    run = _file(session, cast, room)
    again = _file(session, cast, room, tablet_id=run.tablet_id, now=MORNING + timedelta(minutes=5))

    assert again.id == run.id
    assert get_plate_box(session, room.plate_box_id).plates_left == 11
    assert get_charge(session, room.charge_id).plates == 1


def test_another_groups_tablet_id_is_refused(session: LabSession, cast: Cast, room: Room) -> None:
    run = _file(session, cast, room)

    with pytest.raises(Refusal, match="Another group's tablet"):
        _file(session, cast, room, tablet_id=run.tablet_id, group_id=cast.group_ids[1])


def test_times_that_are_not_given_are_the_stations_own(session: LabSession, cast: Cast, room: Room) -> None:
    run = _file(session, cast, room, place_id=room.second_station_id, settle_s=None, exposure_s=None)

    assert (run.settle_s, run.exposure_s) == (90, 12)


def test_no_settle_time_at_all_is_kept_as_none(session: LabSession, cast: Cast, room: Room) -> None:
    assert _file(session, cast, room, settle_s=0).settle_s == 0


def test_a_run_from_an_empty_box_is_refused(session: LabSession, cast: Cast, room: Room) -> None:
    get_plate_box(session, room.plate_box_id).plates_left = 0

    with pytest.raises(Refusal, match="Choose another box"):
        _file(session, cast, room)


@pytest.mark.parametrize("at", [MORNING + timedelta(hours=6), MORNING + timedelta(hours=9)])
def test_a_run_on_an_expired_batch_is_refused(
    session: LabSession, cast: Cast, room: Room, at: datetime
) -> None:
    with pytest.raises(Refusal, match="ask the technician for a fresh charge"):
        _file(session, cast, room, exposed_at=at, now=at)


def test_a_note_that_arrives_after_the_developers_end_counts_by_its_exposure(
    session: LabSession, cast: Cast, room: Room
) -> None:
    run = _file(
        session, cast, room, exposed_at=MORNING + timedelta(hours=5), now=MORNING + timedelta(hours=9)
    )

    assert run.charge_id == room.charge_id


def test_a_run_on_a_charge_that_is_used_up_is_refused(session: LabSession, cast: Cast, room: Room) -> None:
    for _plate in range(3):
        _file(session, cast, room)

    with pytest.raises(Refusal, match=r"has had 119\.1 cm²: a plate of 39\.7 cm² is too much for it"):
        _file(session, cast, room)


def test_a_run_counts_its_plate_s_area_through_the_developer(
    session: LabSession, cast: Cast, room: Room
) -> None:
    """By hand: three plates of 63.5 mm are 121 cm², and one of 4 × 5 inches is 129 cm²."""
    large = shelf.box(session, width_um=101_600, height_um=127_000)
    with pytest.raises(Refusal, match=r"a plate of 129 cm² is too much for it"):
        _file(session, cast, room, plate_box_id=large.id)
    _file(session, cast, room)

    assert get_charge(session, room.charge_id).area_mm2 == 3969


def test_a_run_on_an_emptied_charge_is_refused(session: LabSession, cast: Cast, room: Room) -> None:
    empty_charge(session, room.charge_id, now=MORNING)

    with pytest.raises(Refusal, match="emptied"):
        _file(session, cast, room)


def test_what_was_exposed_before_its_station_went_out_of_order_has_its_note(
    session: LabSession, cast: Cast, room: Room
) -> None:
    get_place(session, room.station_id).out_of_order = True

    assert _file(session, cast, room).place_id == room.station_id


def test_a_run_at_a_tray_is_refused(session: LabSession, cast: Cast, room: Room) -> None:
    with pytest.raises(Refusal, match="is not a station"):
        _file(session, cast, room, place_id=room.rinse_tray_id)


@pytest.mark.parametrize("name", ["plate_box_id", "place_id", "charge_id", "group_id", "section_id"])
def test_what_is_not_in_the_lab_is_not_found(session: LabSession, cast: Cast, room: Room, name: str) -> None:
    with pytest.raises(NotFound):
        _file(session, cast, room, **{name: 99_999})


def test_a_group_of_another_section_is_not_found(session: LabSession, cast: Cast, room: Room) -> None:
    with pytest.raises(NotFound):
        _file(session, cast, room, section_id=add_section(session, name="Thursday").id)


def test_the_other_labs_room_is_not_found(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        room = fill_room(session)
    with database.writing(cast.other_lab_id) as session, pytest.raises(NotFound):
        _file(
            session,
            Cast(cast.other_lab_id, cast.other_section_id, "", (cast.other_group_id,), 0, 0, 0),
            room,
        )


def test_the_verdict_comes_later_and_may_be_corrected(session: LabSession, cast: Cast, room: Room) -> None:
    run = _file(session, cast, room)
    later = MORNING + timedelta(hours=3)
    give_verdict(session, run.id, verdict=2, comment="dim", now=later)
    give_verdict(session, run.id, verdict=4, comment="held the lamp wrong", now=later)

    assert (run.verdict, run.verdict_comment, run.verdict_at) == (4, "held the lamp wrong", later)


def test_a_verdict_that_arrives_late_does_not_replace_a_later_one(
    session: LabSession, cast: Cast, room: Room
) -> None:
    """One of the group's two tablets was without a network when it was given."""
    run = _file(session, cast, room)
    later = MORNING + timedelta(hours=3)
    give_verdict(session, run.id, verdict=4, comment="held the lamp right", now=later)
    give_verdict(session, run.id, verdict=1, comment="dark", now=later - timedelta(minutes=5))

    assert (run.verdict, run.verdict_comment, run.verdict_at) == (4, "held the lamp right", later)


def test_a_verdict_on_a_run_of_nobody_is_not_found(session: LabSession) -> None:
    with pytest.raises(NotFound):
        give_verdict(session, 99_999, verdict=3, comment="", now=MORNING)


def test_verdicts_are_counted_as_good_rated_and_waiting(session: LabSession, cast: Cast, room: Room) -> None:
    """The story of nine plates of which six are rated, five of them good, and three wait."""
    runs = [_file(session, cast, room, charge_id=None) for _plate in range(9)]
    for run, verdict in zip(runs, (4, 3, 3, 4, 3, 1), strict=False):
        give_verdict(session, run.id, verdict=verdict, comment="", now=MORNING)
    session.flush()  # the count is read from the database

    counted = count_verdicts(session)[cast.section_id]

    assert (counted.good, counted.rated, counted.waiting) == (5, 6, 3)


def test_a_note_keeps_what_was_planned_beside_what_was_done(
    session: LabSession, cast: Cast, room: Room
) -> None:
    run = _file(session, cast, room, settle_s=40, exposure_s=13)

    assert (run.planned_settle_s, run.planned_exposure_s) == (60, 10)


def test_what_was_planned_is_what_the_tablet_showed_of_the_same_station(
    session: LabSession, cast: Cast, room: Room
) -> None:
    shown: dict[str, Any] = {"planned_settle_s": 45, "planned_exposure_s": 8, "charge_id": None}
    same = _file(session, cast, room, planned_of=room.station_id, **shown)
    other = _file(session, cast, room, planned_of=room.second_station_id, **shown)

    assert (same.planned_settle_s, same.planned_exposure_s) == (45, 8)
    assert (other.planned_settle_s, other.planned_exposure_s) == (60, 10)


def test_a_note_keeps_who_checked_the_object_and_how_long_it_took_to_clear(
    session: LabSession, cast: Cast, room: Room
) -> None:
    run = _file(
        session,
        cast,
        room,
        plate_no=2,
        emulsion_by="b",
        filed_by="a",
        object_kind=ObjectKind.KEY,
        object_tone=ObjectTone.SHINY,
        bleach_clear_s=90,
    )
    session.flush()
    session.expire(run)

    assert (run.plate_no, run.emulsion_by, run.filed_by) == (2, "b", "a")
    assert (run.object_kind, run.object_tone, run.bleach_clear_s) == ("key", "shiny", 90)


@pytest.mark.parametrize("name", ["emulsion_by", "filed_by"])
def test_a_letter_of_nobody_in_the_group_is_refused_and_one_of_a_kept_note_dropped(
    session: LabSession, cast: Cast, room: Room, name: str
) -> None:
    with pytest.raises(Refusal, match="Nobody in your group has the letter zz"):
        _file(session, cast, room, **{name: "zz"})

    kept = _file(session, cast, room, now=MORNING + timedelta(hours=1), **{name: "zz"})
    assert getattr(kept, name) is None
    assert _file(session, cast, room, emulsion_by=NOBODY).emulsion_by == NOBODY


def test_a_verdict_comes_with_what_is_seen_of_the_plate(session: LabSession, cast: Cast, room: Room) -> None:
    run = _file(session, cast, room)
    give_verdict(
        session,
        run.id,
        verdict=1,
        comment="brown",
        now=MORNING,
        defects=(Defect.STAIN, Defect.FOG_VEIL, Defect.STAIN),
        darkening=Darkening.TOO_DARK,
        replay_colour=ReplayColour.ORANGE,
    )
    session.flush()
    session.expire(run)

    assert run.seen_defects == {Defect.FOG_VEIL, Defect.STAIN}
    assert (run.darkening, run.replay_colour) == ("too dark", "orange")
    give_verdict(session, run.id, verdict=4, comment="", now=MORNING + timedelta(days=1))
    assert (run.seen_defects, run.darkening) == (frozenset(), None)


def test_a_dropped_plate_is_used_up_and_waits_for_no_verdict(
    session: LabSession, cast: Cast, room: Room
) -> None:
    run = _file(session, cast, room, incident=Incident.DROPPED, charge_id=None)

    assert get_plate_box(session, room.plate_box_id).plates_left == 11
    assert list_waiting(session) == []
    counted = count_verdicts(session)[cast.section_id]
    assert (counted.rated, counted.waiting, counted.dropped) == (0, 0, 1)

    give_verdict(session, run.id, verdict=3, comment="saved", now=MORNING)
    counted = count_verdicts(session)[cast.section_id]
    assert (counted.good, counted.rated, counted.waiting, counted.dropped) == (1, 1, 0, 0)


def test_a_plate_left_to_dry_has_a_slot_and_the_same_again_is_the_same_slip(
    session: LabSession, cast: Cast, room: Room
) -> None:
    run, rack = _file(session, cast, room), add_rack(session)
    slip = leave_to_dry(session, run.id, place_id=rack, slot=3, by="G1", now=MORNING)
    again = leave_to_dry(session, run.id, place_id=rack, slot=3, by="G1", now=MORNING)

    assert (again.id, find_slip(session, run.id)) == (slip.id, slip)


def test_a_plate_that_stands_in_another_slot_after_all_takes_that_one(
    session: LabSession, cast: Cast, room: Room
) -> None:
    first, second = (_file(session, cast, room, charge_id=None) for _plate in range(2))
    rack, later = add_rack(session), MORNING + timedelta(minutes=1)
    slip = leave_to_dry(session, first.id, place_id=rack, slot=1, by="G1", now=MORNING)
    moved = leave_to_dry(session, first.id, place_id=rack, slot=2, by="Tomas", now=later)
    assert (moved.id, moved.slot, moved.left_at, moved.left_by) == (slip.id, 2, later, "Tomas")

    leave_to_dry(session, second.id, place_id=rack, slot=1, by="G1", now=later)
    with pytest.raises(Refusal, match="Slot R1 holds another plate"):
        leave_to_dry(session, first.id, place_id=rack, slot=1, by="G1", now=later)


def test_a_slot_that_arrives_after_a_later_one_or_after_the_hand_out_changes_nothing(
    session: LabSession, cast: Cast, room: Room
) -> None:
    """The answer to it was lost, so the tablet sends it again."""
    run, rack = _file(session, cast, room), add_rack(session)
    later = MORNING + timedelta(minutes=1)
    slip = leave_to_dry(session, run.id, place_id=rack, slot=2, by="G1", now=later)
    leave_to_dry(session, run.id, place_id=rack, slot=1, by="G1", now=MORNING)
    assert (slip.slot, slip.left_at) == (2, later)

    hand_out_at = later + timedelta(hours=1)
    slip.handed_out_at, slip.handed_out_by = hand_out_at, "Tomas"
    session.flush()
    for slot in (1, 2):
        leave_to_dry(session, run.id, place_id=rack, slot=slot, by="G1", now=later)
    assert (slip.slot, slip.handed_out_by) == (2, "Tomas")


def test_a_plate_that_comes_back_after_its_hand_out_has_a_slot_again(
    session: LabSession, cast: Cast, room: Room
) -> None:
    run, rack = _file(session, cast, room), add_rack(session)
    slip = leave_to_dry(session, run.id, place_id=rack, slot=2, by="G1", now=MORNING)
    slip.handed_out_at, slip.handed_out_by = MORNING + timedelta(hours=1), "Tomas"
    leave_to_dry(session, run.id, place_id=rack, slot=4, by="G1", now=MORNING + timedelta(hours=2))

    assert [(one.run_id, one.slot) for one in list_slips_left(session)] == [(run.id, 4)]
    assert slip.handed_out_by == ""


def test_one_slot_holds_one_plate(session: LabSession, cast: Cast, room: Room) -> None:
    first, second = (_file(session, cast, room, charge_id=None) for _plate in range(2))
    rack, other_rack = add_rack(session), add_rack(session, name="rack by the door")
    leave_to_dry(session, first.id, place_id=rack, slot=1, by="G1", now=MORNING)

    with pytest.raises(Refusal, match="Slot R1 holds another plate"):
        leave_to_dry(session, second.id, place_id=rack, slot=1, by="G1", now=MORNING)
    leave_to_dry(session, second.id, place_id=other_rack, slot=1, by="G1", now=MORNING)
    assert len(list_slips_left(session)) == 2


def test_a_plate_is_left_in_a_rack_and_in_a_slot_that_it_has(
    session: LabSession, cast: Cast, room: Room
) -> None:
    run, rack = _file(session, cast, room), add_rack(session, slots=6)

    with pytest.raises(Refusal, match="is not a rack"):
        leave_to_dry(session, run.id, place_id=room.station_id, slot=1, by="G1", now=MORNING)
    with pytest.raises(Refusal, match="has 6 slots"):
        leave_to_dry(session, run.id, place_id=rack, slot=7, by="G1", now=MORNING)
