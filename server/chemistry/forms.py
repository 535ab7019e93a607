"""What is typed about mixing and pouring. A field is named as it is typed, its clean value carries the kept unit."""

from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, Field

from server.core.moments import NoSuchTime, day_at, instant_of
from server.core.units import MICROLITRES
from server.plates.forms import Side
from server.web.submitted import Form, RowId, Submitted
from server.web.typed import Note, Reason, SomeVolume, Volume, WallClock


def _a_millilitre(volume: int) -> int:
    if volume < MICROLITRES["ml"]:
        message = "Please write 1 mL or more."
        raise ValueError(message)
    return volume


UsualVolume = Annotated[Volume, AfterValidator(_a_millilitre)]


class DeveloperMix(Form):
    bottle_a_id: RowId
    bottle_b_id: RowId
    volume_ul: Annotated[SomeVolume, Field(validation_alias="volume")]
    mixed_at: WallClock


class BleachMix(Form):
    bottle_id: RowId
    volume_ul: Annotated[SomeVolume, Field(validation_alias="bleach_volume")]
    mixed_at: Annotated[WallClock, Field(validation_alias="bleach_mixed_at")]


Mix = TypeVar("Mix", DeveloperMix, BleachMix)


def with_mixing_time(
    form: Submitted[Mix], field: str, now: datetime, zone: str
) -> tuple[Submitted[Mix], datetime | None]:
    """The form and the instant its clock time means today, or the form refused where the clocks skip that time."""
    if form.clean is None:
        return form, None
    instant = instant_of(day=day_at(now, zone), clock=form.clean.mixed_at, zone=zone)
    if isinstance(instant, NoSuchTime):
        return form.refused(field, instant.sentence), None
    return form, instant


class DiscardedRest(Form):
    note: Note = ""


class MeasuredRest(Form):
    measured_ul: Annotated[Volume, Field(validation_alias="measured")]
    reason: Reason


class Quantities(Form):
    """Durations are typed in hours and days, because nobody counts a life in seconds."""

    developer_life_h: Annotated[Decimal, Field(gt=0, le=72)]
    bleach_life_days: Annotated[Decimal, Field(gt=0, le=1000)]
    developer_charge_ul: Annotated[UsualVolume, Field(validation_alias="developer_charge")]
    bleach_charge_ul: Annotated[UsualVolume, Field(validation_alias="bleach_charge")]
    plates_per_charge: Annotated[int, Field(ge=1, le=1000)]
    plate_width_mm: Side
    plate_height_mm: Side
    rinse_ul_per_plate: Annotated[UsualVolume, Field(validation_alias="rinse_per_plate")]
    test_plates_per_station: Annotated[int, Field(ge=0, le=50)]

    def in_kept_units(self) -> dict[str, Any]:
        """The same with lives in whole seconds and sides in whole micrometres."""
        return {
            **self.model_dump(
                exclude={"developer_life_h", "bleach_life_days", "plate_width_mm", "plate_height_mm"}
            ),
            "plate_width_um": int(self.plate_width_mm * 1000),
            "plate_height_um": int(self.plate_height_mm * 1000),
            "developer_life_s": max(1, round(self.developer_life_h * 3600)),
            "bleach_life_s": max(1, round(self.bleach_life_days * 86_400)),
        }
