"""Reads of meter readings."""

from collections.abc import Mapping

from sqlmodel import col, func, select

from server.data.session import LabSession
from server.exposures.models import MeterReading
from server.refusal import NotFound


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


def get_reading(session: LabSession, reading_id: int) -> MeterReading:
    reading = session.get(MeterReading, reading_id)
    if reading is None:
        raise NotFound("There is no such meter reading in this lab. Choose one from Exposure.")
    return reading
