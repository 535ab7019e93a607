"""The screens that stand near open plates, and the coin tests of each. Both only grow; a screen may be named anew."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.core.screen_light import LEVELS, Stage
from server.data.columns import LabOwned, instant, not_negative, one_of


class Screen(LabOwned, table=True):
    """A tablet, a telephone or a wall's screen. `device` is what the device itself keeps, made by the server."""

    __tablename__ = "screen"
    __table_args__ = (UniqueConstraint("lab_id", "name"), UniqueConstraint("device"))

    id: int = Field(default=None, primary_key=True)
    name: str
    device: str
    named_at: datetime = instant()
    named_by: str


class ScreenTest(LabOwned, table=True):
    """A coin test of one screen: coins were taken away from a plate of the box every `step_s` seconds before the lit screen.

    `last_clear_s` is the longest time that left no mark, 0 where the shortest left one. `made_on` is a day on the lab's calendar.
    """

    __tablename__ = "screen_test"
    __table_args__ = (
        one_of("colour", ("green", "red")),
        one_of("stage", Stage),
        CheckConstraint(f"level BETWEEN {LEVELS[0]} AND {LEVELS[-1]}", name="level_is_known"),
        not_negative("last_clear_s"),
    )

    id: int = Field(default=None, primary_key=True)
    screen_id: int = Field(foreign_key="screen.id", index=True)
    plate_box_id: int = Field(foreign_key="plate_box.id", index=True)
    colour: str
    level: int
    stage: str
    distance_mm: int
    step_s: int
    last_clear_s: int
    made_on: date
    note: str = ""
    noted_at: datetime = instant()
    noted_by: str
