"""What is typed about activities."""

from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator

from server.web.submitted import Form, RowId
from server.web.typed import Line

Minutes = Annotated[int, Field(ge=1, le=480)]


class AskedActivity(Form):
    name: Annotated[Line, Field(min_length=1, max_length=40)]
    shortest_min: Minutes
    longest_min: Minutes
    repeatable: bool = False
    at_once: Annotated[int, Field(ge=1, le=60)] | None = None
    light_zone_id: RowId | None = None
    light: Literal["dark", "lit", "any"] = "lit"
    still_zone_id: RowId | None = None
    still: Literal["still", "moves", "any"] = "any"
    opens: bool = False

    @field_validator("longest_min")
    @classmethod
    def _not_below_the_shortest(cls, longest: int, info: ValidationInfo) -> int:
        if longest < info.data.get("shortest_min", 0):
            message = "The longest time must not be below the shortest. Write as much or more."
            raise ValueError(message)
        return longest


class UsualPlace(Form):
    """Where the usual activities take place; it stands on one page with the other form, so its fields are called `usual_…`."""

    light_zone_id: RowId | None = Field(None, validation_alias="usual_light_zone_id")
    still_zone_id: RowId | None = Field(None, validation_alias="usual_still_zone_id")
