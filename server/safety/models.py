"""Dated safety rounds and what was found."""

from datetime import datetime
from enum import StrEnum

from sqlmodel import Field

from server.data.columns import LabOwned, instant, one_of


class SafetyCheck(StrEnum):
    EYEWASH = "eyewash"
    WASTE_SHELF = "waste shelf"
    SAFELIGHTS = "safelights"
    LASERS = "lasers"
    DARK_ROOM = "dark room"


class SafetyRound(LabOwned, table=True):
    __tablename__ = "safety_round"
    __table_args__ = (one_of("check_kind", SafetyCheck),)

    id: int = Field(default=None, primary_key=True)
    check_kind: str
    in_order: bool
    found: str = ""
    done_at: datetime = instant()
    done_by: str
