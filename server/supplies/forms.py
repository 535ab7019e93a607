"""What is typed about the term. Fields that other forms of the page have too carry the name of theirs."""

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator

from server.core.supply import days_of_classes
from server.web.submitted import Form, RowId
from server.web.typed import Day, Line

_MOST_DAYS = 400
_MOST_PLATES = 5_000
Name = Annotated[Line, Field(min_length=1, max_length=60)]


class NewClasses(Form):
    """Classes before there is a rotation for them."""

    name: Annotated[Name, Field(validation_alias="classes_name")]
    section_id: RowId | None = None
    first_day: Day
    last_day: Day
    every_days: Annotated[int, Field(ge=1, le=60)] = 7
    groups: Annotated[int, Field(ge=0, le=500)] = 0
    plates_per_group: Annotated[int, Field(ge=0, le=50)] = 0
    other_plates: Annotated[int, Field(ge=0, le=500, validate_default=True)] = 0

    @field_validator("last_day")
    @classmethod
    def _in_one_term(cls, last_day: date, others: ValidationInfo) -> date:
        first_day = others.data.get("first_day")
        if first_day is None:
            return last_day
        if last_day < first_day:
            message = "The last day is before the first. Please write a later one."
            raise ValueError(message)
        if (last_day - first_day).days > _MOST_DAYS:
            message = f"Please write classes of {_MOST_DAYS} days at most."
            raise ValueError(message)
        return last_day

    @field_validator("other_plates")
    @classmethod
    def _makes_a_plate(cls, other_plates: int, others: ValidationInfo) -> int:
        if not other_plates and not others.data.get("groups", 1) * others.data.get("plates_per_group", 1):
            message = "These classes make no plate. Please write groups and plates for each, or other plates."
            raise ValueError(message)
        if {"first_day", "last_day", "every_days", "groups", "plates_per_group"} <= others.data.keys():
            typed = others.data
            days = len(days_of_classes(typed["first_day"], typed["last_day"], typed["every_days"]))
            plates = days * (typed["groups"] * typed["plates_per_group"] + other_plates)
            if plates > _MOST_PLATES:
                message = (
                    f"These classes make {plates} plates on {days} days. Please write {_MOST_PLATES} at most, "
                    "and the rest of them by itself."
                )
                raise ValueError(message)
        return other_plates


class NewOrder(Form):
    """`amount` is read by what it is of: 60 plates, 250 g, 0.5 L."""

    what: Annotated[Line, Field(min_length=1, max_length=60)]
    amount: Annotated[Line, Field(min_length=1, max_length=20)]
    expected_on: Day


class NewReserveChoice(Form):
    percent: Literal["90", "95"]
