"""Waste: streams, areas, containers with their life, and the ledger. The ledger only grows; a correction reverses an entry."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, Index, UniqueConstraint, text
from sqlmodel import Field

from server.core.container_life import AreaKind, ContainerState
from server.core.measuring import Method
from server.data.columns import LabOwned, instant, not_negative, one_of


class Source(StrEnum):
    """Where a pour comes from."""

    DEVELOPER = "spent developer"
    BLEACH = "spent bleach"
    RINSE = "rinse"
    OTHER = "other"


class WasteEntryKind(StrEnum):
    POUR = "pour"
    TRANSFER_OUT = "transfer out"
    TRANSFER_IN = "transfer in"
    SAMPLE = "sample"
    SPILL = "spill"
    EVAPORATION = "evaporation"
    COLLECTED = "collected"
    CORRECTION = "correction"


# What puts waste into a container.
COMES_IN = (WasteEntryKind.POUR, WasteEntryKind.TRANSFER_IN)


class Stream(LabOwned, table=True):
    """One kind of waste, kept apart from the others. `takes` is the one source that may be poured into it.

    `density_ug_per_ul` turns its volumes into masses, a thousand being a gram per millilitre; `density_assumed` until it was measured.
    """

    __table_args__ = (
        UniqueConstraint("lab_id", "name"),
        one_of("takes", Source),
        CheckConstraint("density_ug_per_ul > 0", name="has_a_density"),
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
    density_ug_per_ul: int = Field(default=1000, sa_column_kwargs={"server_default": "1000"})
    density_assumed: bool = True


class StreamGroup(LabOwned, table=True):
    """One reactivity group of what a stream holds, by its number in the chart or by a word of our own rules."""

    __tablename__ = "stream_group"
    __table_args__ = (UniqueConstraint("stream_id", "reactivity"),)

    id: int = Field(default=None, primary_key=True)
    stream_id: int = Field(foreign_key="stream.id", index=True)
    reactivity: str


class WasteArea(LabOwned, table=True):
    """A place where waste containers stand, which rules count as one."""

    __tablename__ = "waste_area"
    __table_args__ = (UniqueConstraint("lab_id", "name"), one_of("kind", AreaKind))

    id: int = Field(default=None, primary_key=True)
    name: str
    kind: str


class WasteContainer(LabOwned, table=True):
    """One filling of a bottle or carboy of one stream, under a name of its own.

    `held_ul` and `held_mg` equal the sums of its entries and are written with them, and so is `estimated_ul`: how much of what came in was
    only estimated. `size_ul` is what it holds to the brim, `tare_mg` what
    it weighs empty. `reused_from_id` is the filling that the same vessel had before; `previous_contents` says it in words, or what was in a
    vessel that comes from elsewhere, and `washed` was said of it. `first_pour_at` is the start date of what is in it, `full_at` when it
    took no more, `labelled_at` when its label was put on. `carried_at` is when it came to a central area from elsewhere, None while it stands
    in none; `arrived_at` since when what is in it waits in a central area, in whichever container.
    """

    __tablename__ = "waste_container"
    __table_args__ = (
        UniqueConstraint("lab_id", "name"),
        one_of("state", ContainerState),
        not_negative("held_ul"),
        not_negative("held_mg"),
        not_negative("estimated_ul"),
        CheckConstraint("fill_line_ul > 0 AND fill_line_ul <= size_ul", name="fill_line_inside"),
        CheckConstraint("tare_mg > 0", name="tare_above_nothing"),
    )

    id: int = Field(default=None, primary_key=True)
    stream_id: int = Field(foreign_key="stream.id", index=True)
    area_id: int | None = Field(default=None, foreign_key="waste_area.id", index=True)
    carried_at: datetime | None = instant(default=None)
    arrived_at: datetime | None = instant(default=None)
    name: str
    size_ul: int
    fill_line_ul: int
    held_ul: int = 0
    held_mg: int = Field(default=0, sa_type=BigInteger, sa_column_kwargs={"server_default": "0"})
    estimated_ul: int = Field(default=0, sa_column_kwargs={"server_default": "0"})
    tare_mg: int | None = None
    state: str = ContainerState.OPEN
    previous_contents: str = ""
    washed: bool = False
    reused_from_id: int | None = Field(default=None, foreign_key="waste_container.id", unique=True)
    opened_at: datetime = instant()
    first_pour_at: datetime | None = instant(default=None)
    full_at: datetime | None = instant(default=None)
    labelled_at: datetime | None = instant(default=None)


class ContainerEvent(LabOwned, table=True):
    """What became of a container, oldest first by id. The last one's state is the container's."""

    __tablename__ = "container_event"
    __table_args__ = (
        one_of("state", ContainerState),
        Index("ix_container_event_of_container", "container_id", "id"),
    )

    id: int = Field(default=None, primary_key=True)
    container_id: int = Field(foreign_key="waste_container.id")
    state: str
    note: str = ""
    happened_at: datetime = instant()
    noted_by: str


class WasteEntry(LabOwned, table=True):
    """One change of a container's contents, with the quantity as it was typed.

    `tablet_id` was made where it was entered: the same id twice is one entry. `change_ul` has an uncertainty of `uncertainty_ul` either way;
    `change_mg` was weighed, or follows from the stream's density. `held_after_ul` and `held_after_mg` are the balance after it
    and are filled in with the container when it is entered.
    `happened_at` may lie before `entered_at`, when it was written down. A charge, the rest of a batch or of a bottle went in with it:
    `discarded_ul` is what left the batch's or the bottle's own ledger with it, which need not be what was measured. `rotation_id` is the class it comes from. Of a transfer the leg in names the leg out, and
    `began_at` since when what it brings is waste. `arrived_at` is since when what came in waits in a central area, None where it does not.
    """

    __tablename__ = "waste_entry"
    __table_args__ = (
        UniqueConstraint("lab_id", "tablet_id"),
        one_of("kind", WasteEntryKind),
        one_of("method", Method),
        one_of("source", Source),
        not_negative("held_after_ul"),
        not_negative("held_after_mg"),
        not_negative("uncertainty_ul"),
        Index("ix_waste_entry_of_container", "container_id", "id"),
        Index("ix_waste_entry_happened_at", "lab_id", "happened_at"),
        Index("ix_waste_entry_entered_at", "lab_id", "entered_at", "id"),
        # The first pour of a container, and the pours of a day.
        Index("ix_waste_entry_of_container_happened_at", "container_id", "happened_at"),
        # With the lab in it, or SQLite would read all of the lab's entries for those of a few classes.
        Index("ix_waste_entry_of_class", "rotation_id", "lab_id"),
    )

    id: int = Field(default=None, primary_key=True)
    tablet_id: str
    container_id: int = Field(default=None, foreign_key="waste_container.id")
    kind: str
    source: str
    change_ul: int
    change_mg: int = Field(sa_type=BigInteger)
    typed: str
    method: str
    uncertainty_ul: int = 0
    held_after_ul: int = Field(default=None)
    held_after_mg: int = Field(default=None, sa_type=BigInteger)
    charge_id: int | None = Field(default=None, foreign_key="charge.id", index=True)
    batch_id: int | None = Field(default=None, foreign_key="batch.id", index=True)
    bottle_id: int | None = Field(default=None, foreign_key="bottle.id", index=True)
    discarded_ul: int | None = None
    rotation_id: int | None = Field(default=None, foreign_key="rotation.id")
    reverses_id: int | None = Field(default=None, foreign_key="waste_entry.id", unique=True)
    transfer_of_id: int | None = Field(default=None, foreign_key="waste_entry.id", unique=True)
    began_at: datetime | None = instant(default=None)
    arrived_at: datetime | None = instant(default=None)
    over_line_reason: str = ""
    note: str = ""
    happened_at: datetime = instant()
    entered_at: datetime = instant()
    entered_by: str

    @property
    def came_in(self) -> bool:
        """Whether it changes what came in: it came in, or takes back what did."""
        return (self.change_ul > 0) is (self.kind != WasteEntryKind.CORRECTION)

    @property
    def estimated_ul(self) -> int:
        """By how much the entry changes what is only estimated of what came in: a reversal takes it back, what goes out does not."""
        return self.change_ul if self.came_in and self.method == Method.ESTIMATE else 0


class OtherWaste(LabOwned, table=True):
    """Waste of another course on the same shelf: it counts towards an area's total and takes room in a pickup until `gone_on`."""

    __tablename__ = "other_waste"
    __table_args__ = (
        CheckConstraint("volume_ul > 0", name="has_a_volume"),
        CheckConstraint("mass_mg > 0", name="has_a_mass"),
        CheckConstraint("gone_on IS NULL OR gone_on >= since", name="goes_after_it_came"),
    )

    id: int = Field(default=None, primary_key=True)
    area_id: int | None = Field(default=None, foreign_key="waste_area.id", index=True)
    course: str
    contents: str
    volume_ul: int = Field(sa_type=BigInteger)
    mass_mg: int = Field(sa_type=BigInteger)
    since: date
    gone_on: date | None = None
    entered_at: datetime = instant()
    entered_by: str
