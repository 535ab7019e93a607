"""Pickups: booked collections of waste containers, their schedules, what was asked of them and what became of each container."""

from datetime import date, datetime, time
from enum import StrEnum

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlmodel import Field

from server.data.columns import LabOwned, instant, one_of


class PickupSchedule(LabOwned, table=True):
    """A pickup that comes every week or every other one, from `first_day` until `until_day`; its days are booked, each as a pickup of its own.

    It is requested `cut_off_days_before` days ahead, until `cut_off_clock` on the lab's wall clock. `ended_at` is when the rest was called off.
    """

    __tablename__ = "pickup_schedule"
    __table_args__ = (
        CheckConstraint("every_weeks IN (1, 2)", name="weekly_or_every_other"),
        CheckConstraint("cut_off_days_before BETWEEN 0 AND 7", name="cut_off_in_the_week_before"),
        CheckConstraint("until_day >= first_day", name="has_a_day"),
    )

    id: int = Field(default=None, primary_key=True)
    first_day: date
    every_weeks: int
    until_day: date
    cut_off_days_before: int
    cut_off_clock: time
    made_at: datetime = instant()
    made_by: str
    ended_at: datetime | None = instant(default=None)


class Pickup(LabOwned, table=True):
    """A booked collection. It happens only if it is requested before `request_by`.

    `most_ul` and `most_containers` are the most that the collector takes, None where nobody said. It is over when it was handed over to
    (`done_at`), did not come (`missed_at`, with what the waste office `said`) or was called off. `note` is for the waste office.
    """

    __table_args__ = (
        # A day that was called off may be booked anew.
        Index(
            "uq_pickup_one_a_day",
            "lab_id",
            "on_day",
            unique=True,
            sqlite_where=text("called_off_at IS NULL"),
            postgresql_where=text("called_off_at IS NULL"),
        ),
        CheckConstraint("most_ul > 0", name="takes_some_volume"),
        CheckConstraint("most_containers > 0", name="takes_some_containers"),
        CheckConstraint(
            "(done_at IS NULL OR missed_at IS NULL) AND (done_at IS NULL OR called_off_at IS NULL) "
            "AND (missed_at IS NULL OR called_off_at IS NULL)",
            name="ends_in_one_way",
        ),
    )

    id: int = Field(default=None, primary_key=True)
    schedule_id: int | None = Field(default=None, foreign_key="pickup_schedule.id", index=True)
    on_day: date
    request_by: datetime = instant()
    requested_at: datetime | None = instant(default=None)
    requested_by: str = ""
    most_ul: int | None = None
    most_containers: int | None = None
    done_at: datetime | None = instant(default=None)
    missed_at: datetime | None = instant(default=None)
    called_off_at: datetime | None = instant(default=None)
    collected_by: str = ""
    receipt: str = ""
    said: str = ""
    note: str = ""

    @property
    def is_over(self) -> bool:
        return not (self.done_at is None and self.missed_at is None and self.called_off_at is None)


class PickupEventKind(StrEnum):
    BOOKED = "booked"
    CHANGED = "changed"
    LISTED = "sheet changed"
    REQUESTED = "requested"
    WITHDRAWN = "request withdrawn"
    HANDED_OVER = "handed over"
    TAKEN_BACK = "hand-over taken back"
    MISSED = "missed"
    CALLED_OFF = "called off"


class PickupEvent(LabOwned, table=True):
    """What was done about a pickup, when and by whom; oldest first by id."""

    __tablename__ = "pickup_event"
    __table_args__ = (one_of("kind", PickupEventKind),)

    id: int = Field(default=None, primary_key=True)
    pickup_id: int = Field(foreign_key="pickup.id", index=True)
    kind: str
    note: str = ""
    happened_at: datetime = instant()
    noted_by: str


class Vessel(StrEnum):
    """What kind of container it is, as papers of carriage tell them apart."""

    PLASTIC_CAN = "plastic can or carboy"
    PLASTIC_BOTTLE = "plastic bottle"
    GLASS_BOTTLE = "glass bottle"
    PLASTIC_DRUM = "plastic drum"
    METAL_CAN = "metal can"
    METAL_DRUM = "metal drum"
    BOX = "box"


class PhysicalState(StrEnum):
    LIQUID = "liquid"
    WITH_SOLIDS = "liquid with solids in it"
    SLUDGE = "sludge"
    SOLID = "solid"


class PickupLine(LabOwned, table=True):
    """A container on a pickup's sheet.

    What is in it is told by a person: `composition` has one constituent a line and adds up to 100 %. `read_ul`, `gross_mg` and `tare_mg` are
    what was measured for the sheet; without them the ledger's sum counts. `entry_id` is the ledger's entry of its collection, and `sheet_ul`
    and `sheet_mg` are what the paper said then; one that was left behind says why.
    """

    __tablename__ = "pickup_line"
    __table_args__ = (
        UniqueConstraint("pickup_id", "container_id"),
        one_of("vessel", ("", *Vessel)),
        one_of("physical_state", PhysicalState),
        CheckConstraint("ph_hundredths BETWEEN 0 AND 1400", name="ph_on_the_scale"),
        CheckConstraint(
            "ph_hundredths IS NULL OR temperature_decicelsius IS NOT NULL", name="ph_has_a_temperature"
        ),
        CheckConstraint("read_ul > 0", name="something_read"),
        CheckConstraint("gross_mg > tare_mg", name="gross_above_tare"),
        CheckConstraint("entry_id IS NULL OR left_reason = ''", name="taken_or_left"),
    )

    id: int = Field(default=None, primary_key=True)
    pickup_id: int = Field(foreign_key="pickup.id", index=True)
    container_id: int = Field(foreign_key="waste_container.id", index=True)
    listed_at: datetime | None = instant(default=None)
    listed_by: str = ""
    vessel: str = ""
    contents: str = ""
    composition: str = ""
    physical_state: str = PhysicalState.LIQUID
    ph_hundredths: int | None = None
    temperature_decicelsius: int | None = None
    handling: str = ""
    read_ul: int | None = None
    gross_mg: int | None = None
    tare_mg: int | None = None
    described_at: datetime | None = instant(default=None)
    described_by: str = ""
    entry_id: int | None = Field(default=None, foreign_key="waste_entry.id", unique=True)
    sheet_ul: int | None = None
    sheet_mg: int | None = None
    receipt: str = ""
    left_reason: str = ""
