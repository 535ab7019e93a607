"""Batches with their checks, and the lab's usual quantities."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.core.working_solution import plate_area_mm2
from server.data.columns import LabOwned, instant, not_negative, one_of
from server.recipes.models import Solution


class BatchEntryKind(StrEnum):
    MIXED = "mixed"
    DRAWN = "drawn"
    CHARGED = "charged"
    DISCARDED = "discarded"
    CORRECTION = "correction"


class UsualQuantities(LabOwned, table=True):
    """The lab's own figures that plans and forecasts are made with. `assumed` until the lab has set them.

    `plates_per_charge` speaks of plates of `plate_width_um` × `plate_height_um`; larger ones use a charge up sooner.
    Developer is mixed `mix_lead_s` before class, which may start `late_start_s` late, and a charge is changed in `change_s`; these are
    set with the other times of a prep sheet.
    """

    __tablename__ = "usual_quantities"
    __table_args__ = (UniqueConstraint("lab_id"),)

    id: int = Field(default=None, primary_key=True)
    developer_life_s: int = 6 * 3600
    bleach_life_s: int = 90 * 86_400
    stock_life_s: int = 60 * 86_400
    other_life_s: int = 86_400
    developer_charge_ul: int = 200_000
    bleach_charge_ul: int = 200_000
    plates_per_charge: int = 12
    plate_width_um: int = Field(default=63_500, sa_column_kwargs={"server_default": "63500"})
    plate_height_um: int = Field(default=63_500, sa_column_kwargs={"server_default": "63500"})
    rinse_ul_per_plate: int = 166_667
    test_plates_per_station: int = 1
    mix_lead_s: int = Field(default=20 * 60, sa_column_kwargs={"server_default": "1200"})
    late_start_s: int = Field(default=10 * 60, sa_column_kwargs={"server_default": "600"})
    change_s: int = Field(default=3 * 60, sa_column_kwargs={"server_default": "180"})
    assumed: bool = True

    @property
    def plate_mm2(self) -> int:
        return plate_area_mm2(width_um=self.plate_width_um, height_um=self.plate_height_um)

    def charge_ul_of(self, solution: str) -> int:
        return self.developer_charge_ul if solution == Solution.DEVELOPER else self.bleach_charge_ul


class Batch(LabOwned, table=True):
    """One mixing. Its life runs from `mixed_at`, whatever is poured from it later.

    `name` is the recipe's, `solution` the part it plays. `volume_ul` is what was drawn for it in liquids and `water_ul` beside it;
    `left_ul` is what still stands in its bottle: it equals the sum of its entries and is written with them. A failed check ends it at
    `failed_at`; `overridden_until` is the end that an instructor decided on after that, until the next check that fails. `labelled_at` is
    when a label for it was last printed.
    """

    __table_args__ = (
        UniqueConstraint("lab_id", "number"),
        one_of("solution", Solution),
        not_negative("left_ul"),
        not_negative("water_ul"),
    )

    id: int = Field(default=None, primary_key=True)
    number: int
    name: str
    solution: str
    edition_id: int | None = Field(default=None, foreign_key="recipe_edition.id", index=True)
    volume_ul: int
    water_ul: int = 0
    left_ul: int
    temperature_decicelsius: int | None = None
    mixed_at: datetime = instant()
    ready_at: datetime = instant()
    ends_at: datetime = instant()
    failed_at: datetime | None = instant(default=None)
    overridden_until: datetime | None = instant(default=None)
    mixed_by: str
    labelled_at: datetime | None = instant(default=None)


class BatchEntry(LabOwned, table=True):
    """One change of what stands in a batch's bottle.

    `charge_id` says into which charge it went, `into_batch_number` into which other batch.
    """

    __tablename__ = "batch_entry"
    __table_args__ = (
        one_of("kind", BatchEntryKind),
        CheckConstraint("(kind = 'drawn') = (into_batch_number IS NOT NULL)", name="drawn_into_a_batch"),
    )

    id: int = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", index=True)
    kind: str
    change_ul: int
    charge_id: int | None = Field(default=None, foreign_key="charge.id")
    into_batch_number: int | None = Field(default=None, index=True)
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str


class BatchCheck(LabOwned, table=True):
    """What was measured or seen of a batch, and whether it may still be used. One that failed has ended it."""

    __tablename__ = "batch_check"
    __table_args__ = (
        CheckConstraint("ph_hundredths BETWEEN 0 AND 1400", name="ph_on_the_scale"),
        CheckConstraint(
            "ph_hundredths IS NULL OR temperature_decicelsius IS NOT NULL", name="ph_has_a_temperature"
        ),
    )

    id: int = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", index=True)
    ph_hundredths: int | None = None
    temperature_decicelsius: int | None = None
    look: str = ""
    passed: bool
    note: str = ""
    checked_at: datetime = instant()
    checked_by: str


class BatchOverride(LabOwned, table=True):
    """An instructor's decision that a batch may be used until another time than its life or a check says, and why."""

    __tablename__ = "batch_override"

    id: int = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", index=True)
    until: datetime = instant()
    reason: str
    decided_at: datetime = instant()
    decided_by: str
