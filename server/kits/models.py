"""Kits and their bottles, with a ledger that only grows."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, LargeBinary, UniqueConstraint
from sqlmodel import Field

from server.core.recipe import Measure
from server.data.columns import LabOwned, instant, not_negative, one_of

# What the form of a kit proposes; a bottle holds whatever stands on it.
STOCK_A = "stock A"
STOCK_B = "stock B"
BLEACH = "bleach"
PROPOSED = (STOCK_A, STOCK_B, BLEACH)

# Assumed, until the lab knows how long its supplier takes.
LEAD_DAYS = 14


class BottleEntryKind(StrEnum):
    ARRIVED = "arrived"
    MIXED = "mixed"
    DISCARDED = "discarded"
    CORRECTION = "correction"


class Kit(LabOwned, table=True):
    """One delivery: solutions ready to mix, or powders to make them from.

    `makes_ul` is the working developer that its pack says it makes; `lead_days` the days from order to arrival.
    """

    __table_args__ = (
        UniqueConstraint("lab_id", "name"),
        not_negative("lead_days"),
        CheckConstraint("makes_ul > 0", name="makes_something"),
    )

    id: int = Field(default=None, primary_key=True)
    name: str
    arrived_on: date
    expires_on: date | None = None
    storage: str = ""
    store_from_decicelsius: int | None = None
    store_to_decicelsius: int | None = None
    makes_ul: int | None = None
    lead_days: int = LEAD_DAYS


class SafetySheet(LabOwned, table=True):
    """The SDS of one bottle or of several, as the file that came with it."""

    __tablename__ = "safety_sheet"

    id: int = Field(default=None, primary_key=True)
    name: str
    content: bytes = Field(sa_type=LargeBinary)
    added_at: datetime = instant()
    added_by: str


class Bottle(LabOwned, table=True):
    """One vessel on the shelf, of powder (measure mass) or of solution (measure volume): a jar, a packet, a bottle.

    `left` is milligrams or microlitres; it equals the sum of its entries and is written with them. `purity_ppm` is the share of
    the substance in it, a million being pure; `density_ug_per_ul` that of a liquid, a thousand being a gram per millilitre. `lot` is
    the maker's number, `hazards` are the words of its SDS.
    """

    __table_args__ = (
        one_of("measure", (Measure.MASS, Measure.VOLUME)),
        CheckConstraint('"left" >= 0', name="left_not_negative"),  # a word of SQL, so in quotes
        CheckConstraint("purity_ppm BETWEEN 1 AND 1000000", name="purity_is_a_share"),
        CheckConstraint("density_ug_per_ul > 0", name="has_a_density"),
    )

    id: int = Field(default=None, primary_key=True)
    kit_id: int = Field(foreign_key="kit.id", index=True)
    substance: str
    measure: str = Measure.VOLUME
    left: int
    formula: str = ""
    purity_ppm: int = 1_000_000
    density_ug_per_ul: int | None = None
    lot: str = ""
    hazards: str = ""
    sds_link: str = ""
    sheet_id: int | None = Field(default=None, foreign_key="safety_sheet.id", index=True)
    opened_at: datetime | None = instant(default=None)
    used_up_at: datetime | None = instant(default=None)


class BottleEntry(LabOwned, table=True):
    """One change of what a bottle holds, in milligrams or microlitres; `batch_number` says into which batch it went."""

    __tablename__ = "bottle_entry"
    __table_args__ = (one_of("kind", BottleEntryKind),)

    id: int = Field(default=None, primary_key=True)
    bottle_id: int = Field(foreign_key="bottle.id", index=True)
    kind: str
    change: int
    batch_number: int | None = None
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str
