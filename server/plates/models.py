"""Plate boxes. What their plates became is a ledger, what happened to the boxes a list of events; both only grow."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.core.expiry import MonthCounts
from server.core.plate_box import BoxEventKind, Keeping
from server.data.columns import LabOwned, instant, not_negative, one_of


class PlateEntryKind(StrEnum):
    ARRIVED = "arrived"
    RUN = "run"
    TEST = "test"
    LOST = "lost"
    CORRECTION = "correction"


class PlateTest(StrEnum):
    """Which test took a plate."""

    FOG = "fog test"
    STRIP = "test strip"
    EXPOSURE = "exposure test"
    OTHER = "other test"


class PlateLoss(StrEnum):
    """Why a plate is gone."""

    DROPPED = "dropped"
    FOGGED = "fogged"
    BROKEN = "broken"
    GIVEN_AWAY = "given away"
    OTHER = "other"


class EmulsionFaces(StrEnum):
    """Which way the coated side of the plates faces in the box."""

    NOT_SAID = "not said"
    LABEL = "toward the label"
    AWAY = "away from the label"
    PAIRS = "in pairs, face to face"


class BoxStands(StrEnum):
    NOT_SAID = "not said"
    ON_EDGE = "on edge, plates upright"
    FLAT = "flat, plates lying"


class PlateBox(LabOwned, table=True):
    """A box of plates. `sees_red`, `sees_green`, `sees_blue`: which light exposes them, and so which light may burn near them open.

    `plates_left` equals the sum of its entries and is written with them. `dose_uj_per_cm2` is the exposure the plates want.
    `opened_at`, `light_at` (the last light incident that no fog test has answered) and `fogged_at` follow from its events and are
    written with them. `expires_on` is the last good day; `month_counts` says how it was decided where the pack names a month alone.
    """

    __tablename__ = "plate_box"
    __table_args__ = (
        UniqueConstraint("lab_id", "name"),
        CheckConstraint("plates_left >= 0", name="plates_left_not_negative"),
        CheckConstraint("width_um > 0 AND height_um > 0", name="has_a_size"),
        one_of("month_counts", MonthCounts),
        one_of("kept", Keeping),
        one_of("emulsion_faces", EmulsionFaces),
        one_of("box_stands", BoxStands),
        not_negative("lead_days"),
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
    month_counts: str | None = None
    lot: str = ""
    kept: str = Keeping.FRIDGE
    storage: str = ""
    store_at_most_celsius: int | None = None
    warm_up_s: int = 3600
    emulsion_faces: str = EmulsionFaces.NOT_SAID
    box_stands: str = BoxStands.NOT_SAID
    lead_days: int
    opened_at: datetime | None = instant(default=None)
    light_at: datetime | None = instant(default=None)
    fogged_at: datetime | None = instant(default=None)

    @property
    def is_flagged(self) -> bool:
        """Light may have reached it, and no fog test has said that it did not."""
        return self.light_at is not None

    @property
    def is_fogged(self) -> bool:
        """Its last fog test came out fogged: its plates are for tests only."""
        return self.fogged_at is not None


class PlateEntry(LabOwned, table=True):
    """Plates that came into a box or left it. A run's entry carries the run's id, a test says which, a loss says why."""

    __tablename__ = "plate_entry"
    __table_args__ = (
        one_of("kind", PlateEntryKind),
        CheckConstraint("change <> 0", name="changes_something"),
        one_of("test", PlateTest),
        one_of("loss", PlateLoss),
        CheckConstraint("(kind = 'test') = (test IS NOT NULL)", name="a_test_says_which"),
        CheckConstraint("(kind = 'lost') = (loss IS NOT NULL)", name="a_loss_says_why"),
    )

    id: int = Field(default=None, primary_key=True)
    plate_box_id: int = Field(foreign_key="plate_box.id", index=True)
    kind: str
    change: int
    run_id: int | None = Field(default=None, index=True)
    test: str | None = None
    loss: str | None = None
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str


class LightIncident(LabOwned, table=True):
    """White light near open boxes: `lit_at` is the beginning of its minute. Without a light zone the whole lab was lit."""

    __tablename__ = "light_incident"

    id: int = Field(default=None, primary_key=True)
    lit_at: datetime = instant()
    light_zone_id: int | None = Field(default=None, foreign_key="light_zone.id", index=True)
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str


class PlateBoxEvent(LabOwned, table=True):
    """Something that happened to a box at `happened_at`.

    `light_zone_id` says where it was opened, `light_incident_id` which light reached it, `plates` how many a fog test took or a
    count found.
    """

    __tablename__ = "plate_box_event"
    __table_args__ = (
        UniqueConstraint("plate_box_id", "light_incident_id"),
        one_of("kind", BoxEventKind),
        CheckConstraint(
            "(kind = 'light incident') = (light_incident_id IS NOT NULL)", name="light_is_of_an_incident"
        ),
    )

    id: int = Field(default=None, primary_key=True)
    plate_box_id: int = Field(foreign_key="plate_box.id", index=True)
    kind: str
    happened_at: datetime = instant()
    light_zone_id: int | None = Field(default=None, foreign_key="light_zone.id", index=True)
    light_incident_id: int | None = Field(default=None, foreign_key="light_incident.id", index=True)
    plates: int | None = None
    note: str = ""
    entered_at: datetime = instant()
    entered_by: str
