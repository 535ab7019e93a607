"""Meter readings at stations."""

from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant


class MeterReading(LabOwned, table=True):
    """One reading in the plate's plane, or square to the beam with the plate's tilt beside it.

    `irradiance_nw_per_cm2` is what the meter showed, in nW/cm²; `tilt_deg` is zero when the meter lay in the plate's plane.
    """

    __tablename__ = "meter_reading"
    __table_args__ = (
        CheckConstraint("irradiance_nw_per_cm2 > 0", name="shows_light"),
        CheckConstraint("tilt_deg >= 0 AND tilt_deg < 90", name="tilt_below_90"),
    )

    id: int = Field(default=None, primary_key=True)
    place_id: int = Field(foreign_key="place.id", index=True)
    irradiance_nw_per_cm2: int
    tilt_deg: int = 0
    read_at: datetime = instant()
    read_by: str
