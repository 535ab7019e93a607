"""What is typed about what is asked of the planner."""

from datetime import time
from decimal import Decimal
from typing import Annotated

from pydantic import Field, ValidationInfo, field_validator

from server.core.planning import ClassFileFault, read_class_file
from server.rotations.forms import Minutes, Name, Plates
from server.web.submitted import Form, RowId
from server.web.typed import Day, Line, WallClock

BreakName = Annotated[Line, Field(min_length=1, max_length=40)]
LifeHours = Annotated[Decimal, Field(gt=0, le=240, decimal_places=2)]
PlatesServed = Annotated[int, Field(ge=1, le=1000)]


class ClassTimes(Form):
    """Minutes that no plate is made in: at the start of the class, and at the end of each day."""

    talk_min: Minutes = 0
    clean_up_min: Minutes = 0


class NewBreak(Form):
    """It stands on one page with the period's form, so its fields are called `break_…` there."""

    period_id: RowId
    name: BreakName = Field("break", validation_alias="break_name")
    starts: WallClock = Field(validation_alias="break_starts")
    ends: WallClock = Field(validation_alias="break_ends")

    @field_validator("ends")
    @classmethod
    def _ends_after_it_starts(cls, ends: time, others: ValidationInfo) -> time:
        starts = others.data.get("starts")
        if starts is not None and ends <= starts:
            message = "The break must end after it starts."
            raise ValueError(message)
        return ends


class AskedOfGroup(Form):
    group_id: RowId
    plates: Plates
    tied_place_id: RowId | None = None


class GroupTable(Form):
    """One entry a group."""

    group_id: tuple[str, ...] = ()
    plates: tuple[str, ...] = ()
    tied_place_id: tuple[str, ...] = Field((), validate_default=True)

    @field_validator("tied_place_id")
    @classmethod
    def _any_station_where_none_is_named(
        cls, ties: tuple[str, ...], others: ValidationInfo
    ) -> tuple[str, ...]:
        return ties or ("",) * len(others.data["group_id"])


class NewMix(Form):
    """`mixed_at` is the lab's wall clock on `mixed_on`; without `serves` the mix serves as many plates as come."""

    mixed_on: Day
    mixed_at: WallClock
    life_h: LifeHours
    serves: PlatesServed | None = None

    @property
    def life_s(self) -> int:
        return int(self.life_h * 3600)


class ReserveRounds(Form):
    reserve_rounds: Annotated[int, Field(ge=0, le=10)] = 0


class NewName(Form):
    name: Name


class TakenFile(Form):
    """A class file, and when its first period starts on the lab's wall clock."""

    section_id: RowId
    day: Day
    starts: WallClock
    class_file: str

    @field_validator("class_file")
    @classmethod
    def _can_be_read(cls, text: str) -> str:
        try:
            read_class_file(text)
        except ClassFileFault as fault:
            message = f"{fault}."
            raise ValueError(message) from fault
        return text
