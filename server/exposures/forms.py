"""What is typed about a meter reading."""

from typing import Annotated

from pydantic import BeforeValidator, Field

from server.core.exposure import irradiance_nw_per_cm2
from server.web.submitted import Form, RowId


def _reading(typed: object) -> int:
    return irradiance_nw_per_cm2(str(typed))


class NewReading(Form):
    """`irradiance` is typed as text with or without its unit and kept as nW/cm²."""

    place_id: RowId
    irradiance_nw_per_cm2: Annotated[int, Field(validation_alias="irradiance"), BeforeValidator(_reading)]
    tilt_deg: Annotated[int, Field(ge=0, le=89)] = 0
    plate_box_id: RowId | None = None


class TakenOver(Form):
    reading_id: RowId


class LearnedTime(Form):
    """The time that was on the screen beside its button."""

    place_id: RowId
    exposure_s: int
