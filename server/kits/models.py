"""Kits and their bottles, with a ledger that only grows."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant, not_negative, one_of


class Substance(StrEnum):
    """What a bottle of a kit holds."""

    STOCK_A = "stock A"
    STOCK_B = "stock B"
    BLEACH = "bleach"


class BottleEntryKind(StrEnum):
    ARRIVED = "arrived"
    MIXED = "mixed"
    DISCARDED = "discarded"
    CORRECTION = "correction"


class Kit(LabOwned, table=True):
    """One delivery of stock solutions."""

    __table_args__ = (UniqueConstraint("lab_id", "name"),)

    id: int = Field(default=None, primary_key=True)
    name: str
    arrived_on: date
    expires_on: date | None = None
    storage: str = ""


class Bottle(LabOwned, table=True):
    """A bottle of a kit. `left_ul` equals the sum of its entries and is written with them."""

    __table_args__ = (one_of("substance", Substance), not_negative("left_ul"))

    id: int = Field(default=None, primary_key=True)
    kit_id: int = Field(foreign_key="kit.id", index=True)
    substance: str
    left_ul: int


class BottleEntry(LabOwned, table=True):
    """One change of a bottle's volume; `batch_number` says into which batch it went."""

    __tablename__ = "bottle_entry"
    __table_args__ = (one_of("kind", BottleEntryKind),)

    id: int = Field(default=None, primary_key=True)
    bottle_id: int = Field(foreign_key="bottle.id", index=True)
    kind: str
    change_ul: int
    batch_number: int | None = None
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str
