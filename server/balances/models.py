"""What reconciling needs beside the ledgers: water drawn, liquid that went elsewhere, containers weighed, answers, the lab's own figures."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.core.mass_balance import LEAST_TOLERANCE_UL
from server.core.reconciling import POUR_TOLERANCE
from server.data.columns import LabOwned, instant, not_negative, one_of


class Elsewhere(StrEnum):
    """Where liquid of the trays went that never came into a waste container."""

    SPILLED = "spilled"
    SAMPLED = "taken as a sample"
    DRAINED = "let into a permitted drain"


class WaterDrawn(LabOwned, table=True):
    """Water that was filled into rinse trays, for a class or for none; a ledger that only grows, in which a negative entry takes one back.

    `tablet_id` was made where it was entered: the same id twice is one.
    """

    __tablename__ = "water_drawn"
    __table_args__ = (
        UniqueConstraint("lab_id", "tablet_id"),
        CheckConstraint("drawn_ul <> 0", name="some_water"),
        CheckConstraint("(drawn_ul < 0) = (reverses_id IS NOT NULL)", name="less_takes_back"),
    )

    id: int = Field(default=None, primary_key=True)
    tablet_id: str
    rotation_id: int | None = Field(default=None, foreign_key="rotation.id", index=True)
    drawn_ul: int
    typed: str
    note: str = ""
    reverses_id: int | None = Field(default=None, foreign_key="water_drawn.id", unique=True)
    drawn_at: datetime = instant()
    entered_at: datetime = instant()
    entered_by: str


class LiquidGone(LabOwned, table=True):
    """Liquid of the trays that went elsewhere than into a waste container; like water drawn, a ledger that only grows."""

    __tablename__ = "liquid_gone"
    __table_args__ = (
        UniqueConstraint("lab_id", "tablet_id"),
        one_of("went", Elsewhere),
        CheckConstraint("gone_ul <> 0", name="some_liquid"),
        CheckConstraint("(gone_ul < 0) = (reverses_id IS NOT NULL)", name="less_takes_back"),
    )

    id: int = Field(default=None, primary_key=True)
    tablet_id: str
    rotation_id: int | None = Field(default=None, foreign_key="rotation.id", index=True)
    went: str
    gone_ul: int
    typed: str
    note: str = ""
    reverses_id: int | None = Field(default=None, foreign_key="liquid_gone.id", unique=True)
    gone_at: datetime = instant()
    entered_at: datetime = instant()
    entered_by: str


class Weighing(LabOwned, table=True):
    """A container on a scale, and what its ledger said at that moment: the balance after its last entry, nothing before its first.

    `entries_ul` is how far its entries may have been off by then, `step_mg` what the scale is read to. `answer` is what was found out about a difference; it changes no ledger.
    """

    __table_args__ = (CheckConstraint("gross_mg > tare_mg AND tare_mg > 0", name="net_above_nothing"),)

    id: int = Field(default=None, primary_key=True)
    container_id: int = Field(foreign_key="waste_container.id", index=True)
    gross_mg: int = Field(sa_type=BigInteger)
    tare_mg: int = Field(sa_type=BigInteger)
    step_mg: int
    density_ug_per_ul: int
    density_assumed: bool
    last_entry_id: int | None = Field(default=None, foreign_key="waste_entry.id")
    ledger_ul: int
    ledger_mg: int = Field(sa_type=BigInteger)
    entries_ul: int = Field(sa_type=BigInteger)
    answer: str = ""
    weighed_at: datetime = instant()
    weighed_by: str


class BalanceAnswer(LabOwned, table=True):
    """What somebody found out about a difference between `starts_at` and `ends_at`, or of one class. It changes no ledger."""

    __tablename__ = "balance_answer"

    id: int = Field(default=None, primary_key=True)
    rotation_id: int | None = Field(default=None, foreign_key="rotation.id", index=True)
    first_day: date
    last_day: date
    difference_ul: int = Field(sa_type=BigInteger)
    answer: str
    answered_at: datetime = instant()
    answered_by: str


class BalanceFigures(LabOwned, table=True):
    """The lab's own figures for what no entry tells. `assumed` until the lab has set them.

    `carried_ul_per_m2` leaves on each square metre of plate, both faces counted; a still tray loses `evaporated_ul_per_m2_h`. A
    difference is asked about beyond the larger of `tolerance_ppm` of what came in and `tolerance_ul`. What stands in a tray is taken to be
    `tray_depth_um` deep.
    """

    __tablename__ = "balance_figures"
    __table_args__ = (
        UniqueConstraint("lab_id"),
        not_negative("carried_ul_per_m2"),
        not_negative("evaporated_ul_per_m2_h"),
        not_negative("tolerance_ppm"),
        not_negative("tolerance_ul"),
    )

    id: int = Field(default=None, primary_key=True)
    carried_ul_per_m2: int = 50_000
    evaporated_ul_per_m2_h: int = 150_000
    tray_depth_um: int = 9_000
    tolerance_ppm: int = int(POUR_TOLERANCE * 1_000_000)
    tolerance_ul: int = LEAST_TOLERANCE_UL
    assumed: bool = True
