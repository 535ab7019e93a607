"""Waste: streams, containers, the ledger of pours, and pickups. The ledger only grows; a correction reverses an entry."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlmodel import Field

from server.data.columns import LabOwned, instant, not_negative, one_of


class Source(StrEnum):
    """Where a pour comes from."""

    DEVELOPER = "spent developer"
    BLEACH = "spent bleach"
    RINSE = "rinse"
    OTHER = "other"


class ContainerState(StrEnum):
    OPEN = "open"
    CLOSED = "closed"
    COLLECTED = "collected"


class WasteEntryKind(StrEnum):
    POUR = "pour"
    COLLECTED = "collected"
    CORRECTION = "correction"


class Method(StrEnum):
    """How a volume was measured; what a pickup takes is the sum of the container's entries."""

    GRADUATE = "graduate"
    SCALE = "scale"
    ESTIMATE = "estimate"
    SUM = "sum of entries"


class Stream(LabOwned, table=True):
    """One kind of waste, kept apart from the others. `takes` is the one source that may be poured into it."""

    __table_args__ = (
        UniqueConstraint("lab_id", "name"),
        one_of("takes", Source),
        # A pour of one source has one stream to go to; only “other” may have several.
        Index(
            "uq_stream_one_per_source",
            "lab_id",
            "takes",
            unique=True,
            sqlite_where=text("takes <> 'other'"),
            postgresql_where=text("takes <> 'other'"),
        ),
    )

    id: int = Field(default=None, primary_key=True)
    name: str
    takes: str
    hazards: str = ""


class WasteContainer(LabOwned, table=True):
    """A bottle or carboy of one stream. `held_ul` equals the sum of its entries and is written with them.

    `size_ul` is what it holds to the brim. `washed` was said of a container that held something else before.
    `first_pour_at` is its start date.
    """

    __tablename__ = "waste_container"
    __table_args__ = (
        UniqueConstraint("lab_id", "name"),
        one_of("state", ContainerState),
        not_negative("held_ul"),
        CheckConstraint("fill_line_ul > 0 AND fill_line_ul <= size_ul", name="fill_line_inside"),
    )

    id: int = Field(default=None, primary_key=True)
    stream_id: int = Field(foreign_key="stream.id", index=True)
    name: str
    size_ul: int
    fill_line_ul: int
    held_ul: int = 0
    state: str = ContainerState.OPEN
    previous_contents: str = ""
    washed: bool = False
    opened_at: datetime = instant()
    first_pour_at: datetime | None = instant(default=None)


class WasteEntry(LabOwned, table=True):
    """One change of a container's contents, with the quantity as it was typed.

    `tablet_id` was made where it was entered: the same id twice is one entry.
    """

    __tablename__ = "waste_entry"
    __table_args__ = (
        UniqueConstraint("lab_id", "tablet_id"),
        one_of("kind", WasteEntryKind),
        one_of("method", Method),
        one_of("source", Source),
    )

    id: int = Field(default=None, primary_key=True)
    tablet_id: str
    container_id: int = Field(foreign_key="waste_container.id", index=True)
    kind: str
    source: str
    change_ul: int
    typed: str
    method: str
    charge_id: int | None = Field(default=None, foreign_key="charge.id", index=True)
    pickup_id: int | None = Field(default=None, foreign_key="pickup.id", index=True)
    reverses_id: int | None = Field(default=None, foreign_key="waste_entry.id", unique=True)
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str


class Pickup(LabOwned, table=True):
    """A booked collection. It happens only if it is requested before `request_by`."""

    __table_args__ = (UniqueConstraint("lab_id", "on_day"),)

    id: int = Field(default=None, primary_key=True)
    on_day: date
    request_by: datetime = instant()
    requested_at: datetime | None = instant(default=None)
    done_at: datetime | None = instant(default=None)
    collected_by: str = ""
