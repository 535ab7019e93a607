"""Batches, and the lab's usual quantities."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from server.core.working_solution import plate_area_mm2
from server.data.columns import LabOwned, instant, not_negative, one_of
from server.recipes.models import Solution


class BatchEntryKind(StrEnum):
    MIXED = "mixed"
    CHARGED = "charged"
    DISCARDED = "discarded"
    CORRECTION = "correction"


class UsualQuantities(LabOwned, table=True):
    """The lab's own figures that plans and forecasts are made with. `assumed` until the lab has set them.

    `plates_per_charge` speaks of plates of `plate_width_um` × `plate_height_um`; larger ones use a charge up sooner.
    """

    __tablename__ = "usual_quantities"
    __table_args__ = (UniqueConstraint("lab_id"),)

    id: int = Field(default=None, primary_key=True)
    developer_life_s: int = 6 * 3600
    bleach_life_s: int = 90 * 86_400
    developer_charge_ul: int = 200_000
    bleach_charge_ul: int = 200_000
    plates_per_charge: int = 12
    plate_width_um: int = Field(default=63_500, sa_column_kwargs={"server_default": "63500"})
    plate_height_um: int = Field(default=63_500, sa_column_kwargs={"server_default": "63500"})
    rinse_ul_per_plate: int = 166_667
    test_plates_per_station: int = 1
    assumed: bool = True

    @property
    def plate_mm2(self) -> int:
        return plate_area_mm2(width_um=self.plate_width_um, height_um=self.plate_height_um)

    def charge_ul_of(self, solution: str) -> int:
        return self.developer_charge_ul if solution == Solution.DEVELOPER else self.bleach_charge_ul


class Batch(LabOwned, table=True):
    """One mixing. Its life runs from `mixed_at`, whatever is poured from it later.

    `left_ul` is what still stands in its bottle; it equals the sum of its entries and is written with them.
    """

    __table_args__ = (
        UniqueConstraint("lab_id", "number"),
        one_of("solution", Solution),
        not_negative("left_ul"),
    )

    id: int = Field(default=None, primary_key=True)
    number: int
    solution: str
    volume_ul: int
    left_ul: int
    mixed_at: datetime = instant()
    ends_at: datetime = instant()
    mixed_by: str


class BatchEntry(LabOwned, table=True):
    """One change of what stands in a batch's bottle; `charge_id` says into which charge it went."""

    __tablename__ = "batch_entry"
    __table_args__ = (one_of("kind", BatchEntryKind),)

    id: int = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", index=True)
    kind: str
    change_ul: int
    charge_id: int | None = Field(default=None, foreign_key="charge.id")
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str
