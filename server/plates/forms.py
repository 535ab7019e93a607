"""What is typed about plate boxes. A field is named as it is typed, its clean value carries the kept unit."""

from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator

from server.core.expiry import MonthCounts, Printed, last_good_day, read_printed
from server.core.plate_box import WARM_UP_S, Keeping
from server.plates.models import BoxStands, EmulsionFaces, PlateLoss, PlateTest
from server.web.submitted import Form, RowId
from server.web.typed import Day, Name, Note, WallClock

COLOURS = ("red", "green", "blue")


Side = Annotated[Decimal, Field(ge=1, le=1000)]


Plates = Annotated[int, Field(ge=1, le=10_000)]


class NewPlateBox(Form):
    """Without minutes to warm, what its keeping asks for; a month alone needs a word on which of its days counts."""

    name: Annotated[Name, Field(validation_alias="box_name")]
    lot: Annotated[Note, Field(max_length=60)] = ""
    plates: Plates
    width_mm: Side
    height_mm: Side
    dose_uj_per_cm2: Annotated[int, Field(ge=1, le=1_000_000)]
    sees: Literal["red blue", "green blue", "blue", "red", "red green blue"]
    kept: Keeping
    storage: Note = ""
    store_at_most_celsius: Annotated[int, Field(ge=-80, le=60)] | None = None
    warm_up_minutes: Annotated[int, Field(ge=0, le=1440)] | None = None
    emulsion_faces: EmulsionFaces = EmulsionFaces.NOT_SAID
    box_stands: BoxStands = BoxStands.NOT_SAID
    lead_days: Annotated[int, Field(ge=0, le=400)]
    arrived_on: Annotated[Day, Field(validation_alias="box_arrived_on")]
    month_counts: MonthCounts | None = None
    printed: Annotated[
        Printed | None, BeforeValidator(read_printed), Field(None, validation_alias="box_expires_on")
    ]

    @field_validator("printed")
    @classmethod
    def _a_month_is_decided(cls, printed: Printed | None, others: ValidationInfo) -> Printed | None:
        if printed is not None and last_good_day(printed, others.data.get("month_counts")) is None:
            message = "The pack names only a month. Choose below which of its days counts."
            raise ValueError(message)
        return printed

    def described(self) -> dict[str, Any]:
        """The box in kept units: micrometres and seconds, the last good day, and a truth value for each colour."""
        same = self.model_dump(
            include={
                "name", "lot", "plates", "dose_uj_per_cm2", "kept", "storage", "store_at_most_celsius",
                "emulsion_faces", "box_stands", "lead_days", "arrived_on",
            }
        )  # fmt: skip
        only_a_month = self.printed is not None and self.printed.day is None
        return {
            **same,
            "width_um": int(self.width_mm * 1000),
            "height_um": int(self.height_mm * 1000),
            "warm_up_s": WARM_UP_S[self.kept] if self.warm_up_minutes is None else self.warm_up_minutes * 60,
            "expires_on": None if self.printed is None else last_good_day(self.printed, self.month_counts),
            "month_counts": self.month_counts if only_a_month else None,
            **{f"sees_{colour}": colour in self.sees.split() for colour in COLOURS},
        }


class Opening(Form):
    """Without a time: now."""

    is_said_warm: Annotated[bool, Field(validation_alias="warmed_up")] = False
    clock: Annotated[WallClock | None, Field(validation_alias="opened_at")] = None
    light_zone_id: RowId | None = None


class Handling(Form):
    """Sealing a box, or moving it into or out of the cold. Without a time: now."""

    clock: Annotated[WallClock | None, Field(validation_alias="handled_at")] = None


class NewLightIncident(Form):
    """Without a light zone the whole lab was lit."""

    clock: Annotated[WallClock, Field(validation_alias="lit_at")]
    light_zone_id: RowId | None = None
    note: Annotated[Note, Field(validation_alias="light_note")] = ""


class FogTest(Form):
    plates: Annotated[Plates, Field(validation_alias="fog_plates")]
    result: Literal["clear", "fogged"]
    note: Annotated[Note, Field(validation_alias="fog_note")] = ""


class DrawnPlates(Form):
    """A fog test has a form of its own, because it has a result."""

    test: Literal[PlateTest.STRIP, PlateTest.EXPOSURE, PlateTest.OTHER]
    plates: Annotated[Plates, Field(validation_alias="test_plates")]
    note: Annotated[Note, Field(validation_alias="test_note")] = ""


class LostPlates(Form):
    plates: Annotated[Plates, Field(validation_alias="lost_plates")]
    note: Annotated[Note, Field(validation_alias="lost_note")] = ""
    loss: PlateLoss

    @field_validator("loss")
    @classmethod
    def _another_reason_is_told(cls, loss: PlateLoss, others: ValidationInfo) -> PlateLoss:
        if loss is PlateLoss.OTHER and not others.data.get("note"):
            message = "Please write below what happened."
            raise ValueError(message)
        return loss


class CountedPlates(Form):
    counted: Annotated[int, Field(ge=0, le=10_000)]
    reason: Annotated[Note, Field(min_length=1)]
