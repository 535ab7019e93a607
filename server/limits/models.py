"""What was measured in a container, what the rest of the site reported for a month, and what the trays under containers hold."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, Index
from sqlmodel import Field

from server.data.columns import LabOwned, instant, not_negative, one_of


class CountsAs(StrEnum):
    """What a stream's waste is to the limits. All of it is non-acute until the waste office says otherwise."""

    NON_ACUTE = "non-acute"
    ACUTE_LIQUID = "acute liquid"
    ACUTE_SOLID = "acute solid"


class StreamCounting(LabOwned, table=True):
    """What the waste office said that a stream counts as. The latest telling counts."""

    __tablename__ = "stream_counting"
    __table_args__ = (one_of("counts_as", CountsAs),)

    id: int = Field(default=None, primary_key=True)
    stream_id: int = Field(foreign_key="stream.id", index=True)
    counts_as: str
    reason: str
    entered_at: datetime = instant()
    entered_by: str


class Determination(LabOwned, table=True):
    """What was measured of a container's contents, by whom and from which sample. What was not measured is None.

    `held_ul` and `held_mg` are what it held when the sample was taken. `said` is what the waste office determined of it on `determined_on`,
    such as its codes; empty and None where these are only measurements.
    """

    __table_args__ = (
        CheckConstraint("ph_hundredths BETWEEN -200 AND 1600", name="ph_on_the_scale"),
        CheckConstraint(
            "ph_hundredths IS NULL OR temperature_decicelsius IS NOT NULL", name="ph_has_a_temperature"
        ),
        Index("ix_determination_determined_on", "lab_id", "determined_on"),
        not_negative("silver_ug_per_l"),
        not_negative("chromium_ug_per_l"),
        not_negative("held_ul"),
        not_negative("held_mg"),
    )

    id: int = Field(default=None, primary_key=True)
    container_id: int = Field(foreign_key="waste_container.id", index=True)
    ph_hundredths: int | None = None
    temperature_decicelsius: int | None = None
    silver_ug_per_l: int | None = Field(default=None, sa_type=BigInteger)
    chromium_ug_per_l: int | None = Field(default=None, sa_type=BigInteger)
    held_ul: int = Field(default=0, sa_column_kwargs={"server_default": "0"})
    held_mg: int = Field(default=0, sa_type=BigInteger, sa_column_kwargs={"server_default": "0"})
    said: str = ""
    determined_on: date | None = None
    sampled_at: datetime = instant()
    origin: str = ""
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str


class SiteMonth(LabOwned, table=True):
    """What the rest of the site counted in the month that begins on `month`, as the waste office told it. The latest telling counts.

    `on_site_mg` is what stood on the rest of the site then, `reached_on` the day on which the whole site reached the limit from which its
    clock runs; both None where nobody said.
    """

    __tablename__ = "site_month"
    __table_args__ = (
        not_negative("acute_mg"),
        not_negative("non_acute_mg"),
        not_negative("spill_mg"),
        not_negative("on_site_mg"),
    )

    id: int = Field(default=None, primary_key=True)
    month: date
    acute_mg: int = Field(sa_type=BigInteger)
    non_acute_mg: int = Field(sa_type=BigInteger)
    spill_mg: int = Field(sa_type=BigInteger)
    on_site_mg: int | None = Field(default=None, sa_type=BigInteger)
    reached_on: date | None = None
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str


class AreaTray(LabOwned, table=True):
    """What the trays under the containers of an area hold in all. The latest measuring counts."""

    __tablename__ = "area_tray"
    __table_args__ = (CheckConstraint("tray_ul > 0", name="holds_something"),)

    id: int = Field(default=None, primary_key=True)
    area_id: int = Field(foreign_key="waste_area.id", index=True)
    tray_ul: int
    entered_at: datetime = instant()
    entered_by: str
