"""Recording readings and taking the computed exposure over."""

import pytest

from server.core.diagnosis import Darkening, Defect
from server.data.session import Database, LabSession
from server.exposures.actions import record_reading, take_over_exposure
from server.exposures.models import MeterReading
from server.exposures.queries import Shots, list_latest_readings, list_shots
from server.plates.queries import get_plate_box
from server.refusal import NotFound, Refusal
from server.runs.actions import give_verdict
from server.runs.models import Incident
from server.stations.queries import get_place
from tests.casts import MORNING, Cast
from tests.runs.room import Room, fill_room, make_plates


@pytest.fixture
def room(session: LabSession) -> Room:
    return fill_room(session)


def _read(session: LabSession, place_id: int, *, nanowatts: int = 48_000, tilt_deg: int = 0) -> MeterReading:
    return record_reading(
        session,
        place_id=place_id,
        irradiance_nw_per_cm2=nanowatts,
        tilt_deg=tilt_deg,
        by="Tomas",
        now=MORNING,
    )


def test_the_latest_reading_of_each_station_counts(session: LabSession, room: Room) -> None:
    _read(session, room.station_id)
    latest = _read(session, room.station_id, nanowatts=50_000)
    other = _read(session, room.second_station_id)

    found = list_latest_readings(session)

    assert {place: reading.id for place, reading in found.items()} == {
        room.station_id: latest.id,
        room.second_station_id: other.id,
    }


def test_taking_over_sets_the_stations_whole_seconds(session: LabSession, room: Room) -> None:
    """Hand calculation: 600 µJ/cm² at 48 µW/cm² are 12.5 s, kept as 13 s."""
    reading = _read(session, room.station_id)

    assert take_over_exposure(session, reading_id=reading.id, plate_box_id=room.plate_box_id) == 13
    assert get_place(session, room.station_id).exposure_s == 13


def test_an_older_reading_is_not_taken_over(session: LabSession, room: Room) -> None:
    seen = _read(session, room.station_id)
    _read(session, room.station_id, nanowatts=60_000)

    with pytest.raises(Refusal, match="S1 was measured again"):
        take_over_exposure(session, reading_id=seen.id, plate_box_id=room.plate_box_id)


def test_a_reading_that_gives_no_time_is_not_taken_over(session: LabSession, room: Room) -> None:
    reading = _read(session, room.station_id, nanowatts=90_000_000)

    with pytest.raises(Refusal, match="shorter than a hand"):
        take_over_exposure(session, reading_id=reading.id, plate_box_id=room.plate_box_id)
    assert get_place(session, room.station_id).exposure_s == 10


def test_a_tray_is_not_measured(session: LabSession, room: Room) -> None:
    with pytest.raises(Refusal, match="is not a station"):
        _read(session, room.rinse_tray_id)


def test_readings_and_boxes_of_nobody_are_not_found(session: LabSession, room: Room) -> None:
    reading = _read(session, room.station_id)

    with pytest.raises(NotFound):
        _read(session, 99_999)
    with pytest.raises(NotFound):
        take_over_exposure(session, reading_id=99_999, plate_box_id=room.plate_box_id)
    with pytest.raises(NotFound):
        take_over_exposure(session, reading_id=reading.id, plate_box_id=99_999)


def test_the_other_lab_sees_no_reading(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        room = fill_room(session)
        reading = _read(session, room.station_id)
        assert get_plate_box(session, room.plate_box_id).dose_uj_per_cm2 == 600
    with database.reading(cast.other_lab_id) as session:
        assert list_latest_readings(session) == {}
        with pytest.raises(NotFound):
            take_over_exposure(session, reading_id=reading.id, plate_box_id=room.plate_box_id)


# Only rows without an incident that did not move may teach the time (common practice of teaching labs).
@pytest.mark.parametrize(
    ("verdict", "defects", "darkening", "incident", "left_out"),
    [
        (3, [], None, Incident.NONE, ""),
        (2, [Defect.FOG_VEIL], Darkening.TOO_DARK, Incident.NONE, ""),
        (2, [Defect.OBJECT_BLACK], None, Incident.NONE, "moved"),
        (3, [Defect.DARK_BANDS, Defect.STAIN], None, Incident.NONE, "moved"),
        (0, [], Darkening.NORMAL, Incident.NONE, "moved"),
        (0, [], Darkening.CLEAR, Incident.NONE, "no_image"),
        (0, [], None, Incident.NONE, "no_image"),
        (3, [], None, Incident.DROPPED, "incidents"),
        (3, [], None, Incident.LIGHT, "incidents"),
        (3, [], None, Incident.MOVED, "incidents"),
    ],
)
def test_only_a_plate_that_kept_still_and_met_no_incident_teaches_its_time(
    session: LabSession,
    room: Room,
    cast: Cast,
    verdict: int,
    defects: list[Defect],
    darkening: Darkening | None,
    incident: Incident,
    left_out: str,
) -> None:
    run = make_plates(session, room, section_id=cast.section_id, group_id=cast.group_ids[0], verdicts=[None])[
        0
    ]
    run.incident = incident
    give_verdict(
        session, run.id, verdict=verdict, comment="", defects=defects, darkening=darkening, now=MORNING
    )
    session.flush()

    found = list_shots(session, room.plate_box_id)[room.station_id]

    assert len(found.shots) == (0 if left_out else 1)
    assert found == Shots(found.shots, **({left_out: 1} if left_out else {}))
