"""Which rotation a run belongs to, which light may have reached its plate, and runs that took no plate or several."""

from datetime import datetime, time, timedelta

import pytest
from sqlmodel import col, delete, update

from server.charges.actions import allow_more_plates
from server.charges.queries import get_charge
from server.core.diagnosis import Darkening, Defect
from server.data.session import LabSession
from server.exposures.queries import list_shots
from server.plates.actions import log_light
from server.plates.models import PlateEntry, PlateEntryKind
from server.rotations.models import Period, Rotation, RotationPlan, RotationState, Visit
from server.runs.actions import file_run, give_verdict
from server.runs.models import NOBODY, Incident, Run
from server.runs.queries import (
    NextPlate,
    Verdicts,
    count_verdicts,
    count_verdicts_of,
    find_diagnosis,
    find_next_plate,
    find_rotation_at,
    list_letters,
    list_light_over_runs,
    list_unbalanced,
    list_waiting,
)
from server.stations.actions import add_light_zone
from server.stations.queries import get_place
from tests.casts import MORNING, Cast
from tests.prep.days import publish_rounds
from tests.runs.room import AT_THE_BELL, Room, fill_room, make_plates


def _rotation(
    session: LabSession, cast: Cast, starts_at: datetime, state: RotationState = RotationState.PUBLISHED
) -> int:
    """A rotation of one hour with one visit."""
    rotation = Rotation(section_id=cast.section_id, name="Week 3", state=state, made_at=MORNING)
    session.add(rotation)
    session.flush()  # its parts name its id
    session.add(Period(rotation_id=rotation.id, starts_at=starts_at, ends_at=starts_at + timedelta(hours=1)))
    plan = RotationPlan(
        rotation_id=rotation.id,
        status="optimal",
        makespan_s=3600,
        bound_s=3600,
        plates_planned=1,
        plates_unplaced=0,
        class_file="{}",
        seed=1,
        starts_at=starts_at,
        made_at=MORNING,
    )
    session.add(plan)
    session.flush()  # its visit names its id
    session.add(
        Visit(
            plan_id=plan.id,
            group_id=cast.group_ids[0],
            pass_no=1,
            step="expose",
            place="S1",
            light="dark",
            still="still",
            starts_at=starts_at,
            ends_at=starts_at + timedelta(hours=1),
        )
    )
    session.flush()  # the query reads the database
    return rotation.id


@pytest.mark.parametrize(
    ("after_start", "belongs"),
    [
        (timedelta(seconds=-1), False),
        (timedelta(0), True),
        (timedelta(minutes=59), True),
        (timedelta(hours=2, minutes=59), True),
        (timedelta(hours=3), False),
    ],
)
def test_a_run_belongs_to_the_rotation_that_is_going_on(
    session: LabSession, cast: Cast, after_start: timedelta, belongs: bool
) -> None:
    """It is planned to end after an hour, and takes notes for two more."""
    rotation_id = _rotation(session, cast, MORNING)

    found = find_rotation_at(session, cast.section_id, MORNING + after_start)

    assert found == (rotation_id if belongs else None)


def test_of_two_rotations_the_one_that_has_begun_last_takes_the_run(session: LabSession, cast: Cast) -> None:
    _rotation(session, cast, MORNING)
    second = _rotation(session, cast, MORNING + timedelta(hours=2))

    assert find_rotation_at(session, cast.section_id, MORNING + timedelta(hours=2, minutes=30)) == second


def test_a_rotation_that_is_not_published_takes_no_runs(session: LabSession, cast: Cast) -> None:
    _rotation(session, cast, MORNING, RotationState.PLANNED)

    assert find_rotation_at(session, cast.section_id, MORNING) is None


def test_another_sections_rotation_takes_no_runs(session: LabSession, cast: Cast) -> None:
    _rotation(session, cast, MORNING)

    assert find_rotation_at(session, cast.section_id + 1, MORNING) is None


NINE = MORNING + timedelta(hours=1)
TEN = MORNING + timedelta(hours=2)


def _run(session: LabSession, cast: Cast, room: Room, exposed_at: datetime = NINE) -> Run:
    """A plate of S1 with 60 s of settling, 10 s of exposure and 20 s of developing."""
    return file_run(
        session,
        tablet_id=f"at {exposed_at}",
        section_id=cast.section_id,
        group_id=cast.group_ids[0],
        plate_box_id=room.plate_box_id,
        place_id=room.station_id,
        charge_id=room.charge_id,
        rotation_id=None,
        settle_s=60,
        exposure_s=10,
        develop_s=20,
        incident=Incident.NONE,
        comment="",
        exposed_at=exposed_at,
        by="G1",
        now=exposed_at,
    )


def _log(session: LabSession, clock: time, light_zone_id: int | None = None) -> None:
    log_light(session, clock=clock, light_zone_id=light_zone_id, note="", by="Mira", now=TEN)


@pytest.mark.parametrize(
    ("lit", "reached"),
    [(time(8, 54), False), (time(8, 55), True), (time(9, 0), True), (time(9, 2), True), (time(9, 3), False)],
)
def test_light_reaches_the_plates_that_may_have_been_out_in_its_minute(
    session: LabSession, cast: Cast, lit: time, reached: bool
) -> None:
    """Noted at 09:00: out from 290 s before, at the earliest, to 170 s after, at the latest; worked by hand."""
    run = _run(session, cast, fill_room(session))
    _log(session, lit)

    assert (run.id in list_light_over_runs(session, [run])) is reached


@pytest.mark.parametrize(("lit_in", "reached"), [("station", True), ("developer", True), ("annex", False)])
def test_light_reaches_a_plate_where_it_is_exposed_and_where_it_is_developed(
    session: LabSession, cast: Cast, lit_in: str, reached: bool
) -> None:
    room = fill_room(session)
    zones = {name: add_light_zone(session, name=name).id for name in ("station", "developer", "annex")}
    get_place(session, room.station_id).light_zone_id = zones["station"]
    run = _run(session, cast, room)
    tray = get_place(session, get_charge(session, room.charge_id).place_id)
    tray.light_zone_id = zones["developer"]
    _log(session, time(9, 0), zones[lit_in])

    assert (run.id in list_light_over_runs(session, [run])) is reached


def test_a_plate_that_light_may_have_reached_teaches_no_time(session: LabSession, cast: Cast) -> None:
    room = fill_room(session)
    for minutes in (0, 30):
        run = _run(session, cast, room, NINE + timedelta(minutes=minutes))
        give_verdict(session, run.id, verdict=4, comment="", now=TEN)
    _log(session, time(9, 30))

    shots = list_shots(session, room.plate_box_id)[room.station_id]
    assert (len(shots.shots), shots.incidents) == (1, 1)


def test_a_run_whose_plate_was_never_taken_is_found(session: LabSession, cast: Cast) -> None:
    _run(session, cast, fill_room(session))
    assert list_unbalanced(session) == []
    session.execute(delete(PlateEntry).where(col(PlateEntry.kind) == PlateEntryKind.RUN))

    assert list_unbalanced(session) == ["Run 1 of “Tuesday” took 0 plates from plate box “Box 1”, not 1."]


def test_a_run_that_took_two_plates_is_found(session: LabSession, cast: Cast) -> None:
    _run(session, cast, fill_room(session))
    session.execute(update(PlateEntry).where(col(PlateEntry.kind) == PlateEntryKind.RUN).values(change=-2))

    assert list_unbalanced(session) == ["Run 1 of “Tuesday” took 2 plates from plate box “Box 1”, not 1."]


def test_a_plate_that_went_to_no_run_is_found(session: LabSession, cast: Cast) -> None:
    run = _run(session, cast, fill_room(session))
    session.execute(
        update(PlateEntry).where(col(PlateEntry.kind) == PlateEntryKind.RUN).values(run_id=run.id + 1)
    )

    assert list_unbalanced(session) == [
        "Run 1 of “Tuesday” took 0 plates from plate box “Box 1”, not 1.",
        "A plate of plate box “Box 1” went to a run that did not take it.",
    ]


def test_the_next_plate_is_the_first_of_the_plan_without_a_note(session: LabSession, cast: Cast) -> None:
    """Two rounds in which G1 is at S1: 45 s of exposure and 150 s in the developer, worked by hand."""
    room = fill_room(session)
    rotation_id = publish_rounds(session, cast.section_id, name="first", starts_at=MORNING, rounds=2)
    first = NextPlate(1, 2, "S1", 45, 150)
    assert find_next_plate(session, cast.group_ids[0], rotation_id) == first

    runs = make_plates(
        session, room, section_id=cast.section_id, group_id=cast.group_ids[0], verdicts=[None] * 3
    )
    for run in runs:
        run.rotation_id = rotation_id
    runs[0].plate_no = 2
    session.flush()
    assert find_next_plate(session, cast.group_ids[0], rotation_id) == first
    runs[1].plate_no = 1
    session.flush()
    assert find_next_plate(session, cast.group_ids[0], rotation_id) == NextPlate(3, 2)
    runs[2].plate_no = 3
    session.flush()
    assert find_next_plate(session, cast.group_ids[0], rotation_id) == NextPlate(4, 2)
    assert find_next_plate(session, cast.group_ids[1], rotation_id) == NextPlate(1, 2, "S2", 45, 150)


def test_without_a_rotation_nobody_knows_which_plate_is_next(session: LabSession, cast: Cast) -> None:
    assert find_next_plate(session, cast.group_ids[0], None) == NextPlate(None, 0)


def test_the_letters_of_a_group_stand_for_its_codes(session: LabSession, cast: Cast) -> None:
    assert list_letters(session, cast.group_ids[1]) == {"a": "Tue-G2-a", "b": "Tue-G2-b"}


def _causes(session: LabSession, run: Run) -> list[str]:
    found = find_diagnosis(session, run)
    return [] if found is None else [one.cause.name for one in found.causes]


def test_a_plate_waits_for_its_verdict_before_anything_is_said_of_it(session: LabSession, cast: Cast) -> None:
    run = _run(session, cast, fill_room(session))
    assert find_diagnosis(session, run) is None

    give_verdict(session, run.id, verdict=4, comment="", now=TEN)
    assert find_diagnosis(session, run) is None
    give_verdict(session, run.id, verdict=4, comment="", defects=[Defect.EDGE_STRIPES], now=TEN)
    assert _causes(session, run) == ["The beam entered an edge of the plate"]


def test_a_dropped_plate_is_explained_without_a_verdict(session: LabSession, cast: Cast) -> None:
    run = _run(session, cast, fill_room(session))
    run.incident = Incident.DROPPED

    assert _causes(session, run) == ["The plate was dropped"]


def test_what_is_known_of_the_room_and_the_developer_speaks_too(session: LabSession, cast: Cast) -> None:
    room = fill_room(session)
    run = _run(session, cast, room)
    give_verdict(session, run.id, verdict=2, comment="", darkening=Darkening.PALE, now=TEN)
    assert _causes(session, run)[0] == "Exposed too little"

    allow_more_plates(session, room.charge_id, plates=9, reason="a strip", by="Mira", now=MORNING)
    assert _causes(session, run)[0] == "The developer was old, used up or cold"
    _log(session, time(9, 0))
    assert "The plate was fogged" in _causes(session, run)
    run.emulsion_by = NOBODY
    assert "The plate was the wrong way round, or is looked at from its back" in _causes(session, run)


def test_a_class_is_counted_alike_from_its_runs_and_in_the_database(session: LabSession, cast: Cast) -> None:
    room, group_id = fill_room(session), cast.group_ids[0]
    runs = make_plates(session, room, section_id=cast.section_id, group_id=group_id, verdicts=AT_THE_BELL)
    runs[8].incident = Incident.DROPPED
    session.flush()

    counted = count_verdicts(session)[cast.section_id]
    assert counted == count_verdicts_of(runs) == Verdicts(good=5, rated=6, waiting=2, dropped=1)
    assert counted.runs == len(runs)
    assert [run.id for run in list_waiting(session)] == [runs[6].id, runs[7].id]
