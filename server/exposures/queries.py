"""Reads of meter readings, and of what past plates teach."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sqlmodel import col, func, select

from server.core.diagnosis import is_movement
from server.core.dose_learning import Shot
from server.core.exposure import cosine_of
from server.data.session import LabSession
from server.exposures.models import MeterReading
from server.refusal import NotFound
from server.runs.models import Incident, Run
from server.runs.queries import list_light_over_runs, list_rated_runs_of_box, signs_seen


def list_latest_readings(session: LabSession) -> Mapping[int, MeterReading]:
    """The latest reading of each station that has one, by the station's id."""
    latest = select(func.max(MeterReading.id)).group_by(col(MeterReading.place_id))
    readings = session.exec(select(MeterReading).where(col(MeterReading.id).in_(latest))).all()
    return {reading.place_id: reading for reading in readings}


def find_latest_reading(session: LabSession, place_id: int) -> MeterReading | None:
    return session.exec(
        select(MeterReading)
        .where(MeterReading.place_id == place_id)
        .order_by(col(MeterReading.id).desc())
        .limit(1)
    ).first()


def list_readings(session: LabSession) -> Sequence[MeterReading]:
    """Every reading of every station, oldest first."""
    return session.exec(select(MeterReading).order_by(col(MeterReading.read_at), col(MeterReading.id))).all()


def get_reading(session: LabSession, reading_id: int) -> MeterReading:
    reading = session.get(MeterReading, reading_id)
    if reading is None:
        raise NotFound("There is no such meter reading in this lab. Choose one from Exposure.")
    return reading


@dataclass
class Shots:
    """The plates of a station that may teach a time, and how many rated ones were left out and why."""

    shots: list[Shot] = field(default_factory=list)
    incidents: int = 0
    moved: int = 0
    no_image: int = 0


def list_shots(session: LabSession, plate_box_id: int) -> Mapping[int, Shots]:
    """What the rated plates of one box say, by the station's id.

    A plate with an incident, or one that a light incident may have reached, says nothing about the light. Nor does one whose look
    means that something moved, nor one without any image: most of those moved too. Where the meter has shown another light since, the time is the one that would give the same dose today.
    """
    readings: dict[int, list[MeterReading]] = defaultdict(list)
    for reading in list_readings(session):
        readings[reading.place_id].append(reading)
    found: dict[int, Shots] = defaultdict(Shots)
    runs = list_rated_runs_of_box(session, plate_box_id)
    lit = list_light_over_runs(session, runs)
    for run in runs:
        shots = found[run.place_id]
        if run.incident != Incident.NONE or run.id in lit:
            shots.incidents += 1
        elif is_movement(signs_seen(run)):
            shots.moved += 1
        elif not run.verdict:
            shots.no_image += 1
        else:
            shots.shots.append(Shot(_seconds_today(run, readings[run.place_id]), run.verdict))
    return found


def _seconds_today(run: Run, readings: Sequence[MeterReading]) -> float:
    then = _light(readings, run.exposed_at)
    return run.exposure_s if then is None else run.exposure_s * then / _in_plane(readings[-1])


def _light(readings: Sequence[MeterReading], instant: datetime) -> float | None:
    """The light in the plate's plane by the latest reading before an instant."""
    before = [reading for reading in readings if reading.read_at <= instant]
    return _in_plane(before[-1]) if before else None


def _in_plane(reading: MeterReading) -> float:
    return reading.irradiance_nw_per_cm2 * float(cosine_of(reading.tilt_deg))
