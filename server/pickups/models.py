"""Pickups: booked collections of waste containers, and what became of each."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant


class Pickup(LabOwned, table=True):
    """A booked collection. It happens only if it is requested before `request_by`.

    `most_ul` and `most_containers` are the most that the collector takes, None where nobody said. One that did not come has `missed_at`.
    """

    __table_args__ = (
        UniqueConstraint("lab_id", "on_day"),
        CheckConstraint("most_ul > 0", name="takes_some_volume"),
        CheckConstraint("most_containers > 0", name="takes_some_containers"),
    )

    id: int = Field(default=None, primary_key=True)
    on_day: date
    request_by: datetime = instant()
    requested_at: datetime | None = instant(default=None)
    requested_by: str = ""
    most_ul: int | None = None
    most_containers: int | None = None
    done_at: datetime | None = instant(default=None)
    missed_at: datetime | None = instant(default=None)
    collected_by: str = ""
    receipt: str = ""
    note: str = ""


class PickupLine(LabOwned, table=True):
    """A container on a pickup's request. `entry_id` is the ledger's entry of its collection; one that was left behind says why."""

    __tablename__ = "pickup_line"
    __table_args__ = (UniqueConstraint("pickup_id", "container_id"),)

    id: int = Field(default=None, primary_key=True)
    pickup_id: int = Field(foreign_key="pickup.id", index=True)
    container_id: int = Field(foreign_key="waste_container.id", index=True)
    entry_id: int | None = Field(default=None, foreign_key="waste_entry.id", unique=True)
    receipt: str = ""
    left_reason: str = ""
