"""What is typed about screens near plates. A field is named as it is typed, its clean value carries the kept unit."""

from typing import Annotated, Any, Literal

from pydantic import Field

from server.core.screen_light import LEVELS, Stage
from server.web.submitted import Form, RowId
from server.web.typed import Day, Line, Name, Note

MM_OF_CM = 10
# A coin test is over in an hour, and no screen is nearer than a hand or farther than a room.
Seconds = Annotated[int, Field(ge=0, le=3600)]


class Leaving(Form):
    """Somebody says that this screen is out of the dark room, and goes on to `next`."""

    next: Line = "/"
    is_sure: Literal["", "yes"] = ""


class Brightness(Form):
    level: Annotated[int, Field(ge=LEVELS[0], le=LEVELS[-1])]


class NewScreen(Form):
    name: Annotated[Name, Field(validation_alias="screen_name")]


class ThisScreen(Form):
    """A name that the lab knows already, or a new one."""

    screen_id: RowId | None = None
    name: Annotated[Name | None, Field(validation_alias="screen_name")] = None


class NewTest(Form):
    plate_box_id: RowId
    colour: Literal["green", "red"]
    level: Annotated[int, Field(ge=LEVELS[0], le=LEVELS[-1])]
    stage: Stage
    distance_cm: Annotated[int, Field(ge=5, le=1000)]
    step_s: Annotated[Seconds, Field(ge=5)]
    last_clear_s: Seconds
    made_on: Day
    note: Note = ""

    def described(self) -> dict[str, Any]:
        """The test in kept units."""
        return {**self.model_dump(exclude={"distance_cm"}), "distance_mm": self.distance_cm * MM_OF_CM}


class Estimate(Form):
    """What a screen may do to a plate; the screen's own white setting is read in its data sheet, or measured."""

    level: Annotated[int, Field(ge=LEVELS[0], le=LEVELS[-1])]
    colour: Literal["green", "red"]
    white_cd_per_m2: Annotated[float, Field(gt=0, le=5000, allow_inf_nan=False)]
    lit_percent: Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)]
    width_cm: Annotated[float, Field(gt=0, le=500, allow_inf_nan=False)]
    height_cm: Annotated[float, Field(gt=0, le=500, allow_inf_nan=False)]
    distance_cm: Annotated[float, Field(ge=5, le=1000, allow_inf_nan=False)]
    minutes: Annotated[float, Field(gt=0, le=600, allow_inf_nan=False)]
    sensitivity_percent: Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)]
