"""Dated safety rounds and what was found."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant, one_of


class SafetyCheck(StrEnum):
    EYEWASH = "eyewash"
    WASTE_SHELF = "waste shelf"
    SAFELIGHTS = "safelights"
    LASERS = "lasers"
    DARK_ROOM = "dark room"


class WaterFelt(StrEnum):
    """How warm the eyewash's water was, in words."""

    TEPID = "tepid"
    COLD = "cold"
    HOT = "hot"


class ShelfPoint(StrEnum):
    """What is looked at on every waste container."""

    CLOSED = "closed"
    LABEL = "label"
    LEAK = "leak"
    UPRIGHT = "upright"
    LINE = "fill line"
    APART = "apart"


class SafetyRound(LabOwned, table=True):
    """One look at one thing. `ran_s` and `water_felt` are told of an eyewash only; `found` says what no single container tells.

    `tablet_id` was made where it was entered: the same id twice is one round.
    """

    __tablename__ = "safety_round"
    __table_args__ = (
        UniqueConstraint("lab_id", "tablet_id"),
        one_of("check_kind", SafetyCheck),
        one_of("water_felt", WaterFelt),
        CheckConstraint("ran_s > 0", name="ran_for_a_while"),
    )

    id: int = Field(default=None, primary_key=True)
    tablet_id: str | None = None
    check_kind: str
    in_order: bool
    found: str = ""
    ran_s: int | None = None
    water_felt: str | None = None
    done_at: datetime = instant()
    done_by: str


class ShelfFinding(LabOwned, table=True):
    """What a round of the waste shelf found of one container at one point; nothing found is in order.

    What was found stays open until somebody says what was done about it, `put_right_at`.
    """

    __tablename__ = "shelf_finding"
    __table_args__ = (
        UniqueConstraint("safety_round_id", "container_id", "point"),
        one_of("point", ShelfPoint),
        CheckConstraint("put_right_at IS NULL OR found <> ''", name="only_what_was_found_is_put_right"),
    )

    id: int = Field(default=None, primary_key=True)
    safety_round_id: int = Field(foreign_key="safety_round.id")
    container_id: int = Field(foreign_key="waste_container.id", index=True)
    point: str
    found: str = ""
    put_right_at: datetime | None = instant(default=None)
    put_right_by: str = ""
    put_right_how: str = ""
