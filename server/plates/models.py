"""Plate boxes, with a ledger that only grows."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant, one_of


class PlateEntryKind(StrEnum):
    ARRIVED = "arrived"
    RUN = "run"
    TEST = "test"
    LOST = "lost"
    CORRECTION = "correction"


class PlateBox(LabOwned, table=True):
    """A box of plates. `sees_red`, `sees_green`, `sees_blue`: which light exposes them, and so which light may burn near them open.

    `left` equals the sum of its entries and is written with them. `dose_uj_per_cm2` is the exposure the plates want.
    """

    __tablename__ = "plate_box"
    __table_args__ = (
        UniqueConstraint("lab_id", "name"),
        CheckConstraint("plates_left >= 0", name="plates_left_not_negative"),
        CheckConstraint("width_um > 0 AND height_um > 0", name="has_a_size"),
    )

    id: int = Field(default=None, primary_key=True)
    name: str
    plates_left: int
    width_um: int
    height_um: int
    dose_uj_per_cm2: int
    sees_red: bool = True
    sees_green: bool = False
    sees_blue: bool = True
    arrived_on: date
    expires_on: date | None = None
    warm_up_s: int = 3600
    opened_at: datetime | None = instant(default=None)


class PlateEntry(LabOwned, table=True):
    """Plates that came into a box or left it. A run's entry carries the run's id."""

    __tablename__ = "plate_entry"
    __table_args__ = (
        one_of("kind", PlateEntryKind),
        CheckConstraint("change <> 0", name="changes_something"),
    )

    id: int = Field(default=None, primary_key=True)
    plate_box_id: int = Field(foreign_key="plate_box.id", index=True)
    kind: str
    change: int
    run_id: int | None = Field(default=None, index=True)
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str
