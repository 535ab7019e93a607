"""What is typed about plate boxes. A field is named as it is typed, its clean value carries the kept unit."""

from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field

from server.web.submitted import Form
from server.web.typed import Day, Name, Note, Reason

COLOURS = ("red", "green", "blue")


Side = Annotated[Decimal, Field(ge=1, le=1000)]


Plates = Annotated[int, Field(ge=1, le=10_000)]


class NewPlateBox(Form):
    name: Annotated[Name, Field(validation_alias="box_name")]
    plates: Plates
    width_mm: Side
    height_mm: Side
    dose_uj_per_cm2: Annotated[int, Field(ge=1, le=1_000_000)]
    sees: Literal["red blue", "green blue", "blue", "red", "red green blue"]
    warm_up_minutes: Annotated[int, Field(ge=0, le=1440)]
    arrived_on: Annotated[Day, Field(validation_alias="box_arrived_on")]
    expires_on: Annotated[Day | None, Field(validation_alias="box_expires_on")] = None

    def described(self) -> dict[str, Any]:
        """The box in kept units: micrometres and seconds, and a truth value for each colour."""
        same = self.model_dump(include={"name", "plates", "dose_uj_per_cm2", "arrived_on", "expires_on"})
        return {
            **same,
            "width_um": int(self.width_mm * 1000),
            "height_um": int(self.height_mm * 1000),
            "warm_up_s": self.warm_up_minutes * 60,
            **{f"sees_{colour}": colour in self.sees.split() for colour in COLOURS},
        }


def _said(warmed_up: bool) -> bool:
    if not warmed_up:
        message = "Let the closed box stand until it is warm, then tick this. A cold plate gathers dew."
        raise ValueError(message)
    return warmed_up


class Opening(Form):
    warmed_up: Annotated[bool, AfterValidator(_said), Field(validate_default=True)] = False


class DrawnPlates(Form):
    plates: Annotated[Plates, Field(validation_alias="test_plates")]
    note: Annotated[Note, Field(validation_alias="test_note")] = ""


class LostPlates(Form):
    plates: Annotated[Plates, Field(validation_alias="lost_plates")]
    note: Annotated[Reason, Field(validation_alias="lost_note")]


class CountedPlates(Form):
    counted: Annotated[int, Field(ge=0, le=10_000)]
    reason: Reason
