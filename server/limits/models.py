"""What was measured in a container, and what the rest of the site reported for a month."""

from datetime import date, datetime

from sqlalchemy import BigInteger, CheckConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant, not_negative


class Determination(LabOwned, table=True):
    """What was measured of a container's contents, by whom and from which sample. What was not measured is None."""

    __table_args__ = (
        CheckConstraint("ph_hundredths BETWEEN -200 AND 1600", name="ph_on_the_scale"),
        CheckConstraint(
            "ph_hundredths IS NULL OR temperature_decicelsius IS NOT NULL", name="ph_has_a_temperature"
        ),
        not_negative("silver_ug_per_l"),
        not_negative("chromium_ug_per_l"),
    )

    id: int = Field(default=None, primary_key=True)
    container_id: int = Field(foreign_key="waste_container.id", index=True)
    ph_hundredths: int | None = None
    temperature_decicelsius: int | None = None
    silver_ug_per_l: int | None = Field(default=None, sa_type=BigInteger)
    chromium_ug_per_l: int | None = Field(default=None, sa_type=BigInteger)
    sampled_at: datetime = instant()
    origin: str = ""
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str


class SiteMonth(LabOwned, table=True):
    """What the rest of the site counted in the month that begins on `month`, as the waste office told it. The latest telling counts."""

    __tablename__ = "site_month"
    __table_args__ = (not_negative("acute_mg"), not_negative("non_acute_mg"), not_negative("spill_mg"))

    id: int = Field(default=None, primary_key=True)
    month: date
    acute_mg: int = Field(sa_type=BigInteger)
    non_acute_mg: int = Field(sa_type=BigInteger)
    spill_mg: int = Field(sa_type=BigInteger)
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str
