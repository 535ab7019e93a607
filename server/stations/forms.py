"""What is typed about the room."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from server.stations.models import Bath, PlaceKind
from server.web.submitted import Form, RowId
from server.web.typed import Line

LONGEST_NAME = 40
# A tray is called “developer, line 1”, and its name must still fit when the tray is changed.
LONGEST_LINE_NAME = LONGEST_NAME - max(len(f"{bath}, ") for bath in Bath)

Name = Annotated[Line, Field(min_length=1, max_length=LONGEST_NAME)]
LineName = Annotated[Line, Field(min_length=1, max_length=LONGEST_LINE_NAME)]
Capacity = Annotated[int, Field(ge=1, le=60)]
SettleSeconds = Annotated[int, Field(ge=0, le=3600)]
AfterglowSeconds = Annotated[int, Field(ge=0, le=3600)]
ExposureSeconds = Annotated[int, Field(ge=1, le=3600)]
WarmUpMinutes = Annotated[int, Field(ge=0, le=240), AfterValidator(lambda minutes: minutes * 60)]


class NewZone(Form):
    """The afterglow is of a light zone only."""

    name: Name
    shares: Literal["light", "stillness"]
    afterglow_s: AfterglowSeconds = 0


class ChangedLightZone(Form):
    name: Name
    afterglow_s: AfterglowSeconds = 0


class NewTrayLine(Form):
    """It stands on one page with the other forms, so its fields are called `line_…` there."""

    name: LineName = Field(validation_alias="line_name")
    capacity: Capacity = Field(1, validation_alias="line_capacity")
    light_zone_id: RowId | None = Field(None, validation_alias="line_light_zone_id")
    still_zone_id: RowId | None = Field(None, validation_alias="line_still_zone_id")


class ChangedTrayLine(Form):
    capacity: Capacity = 1
    light_zone_id: RowId | None = None
    still_zone_id: RowId | None = None


class NewPlace(Form):
    name: Name = Field(validation_alias="place_name")
    kind: Literal[PlaceKind.STATION, PlaceKind.DRYER, PlaceKind.BENCH, PlaceKind.RACK]
    capacity: Capacity = 1
    light_zone_id: RowId | None = None
    still_zone_id: RowId | None = None
    settle_s: SettleSeconds = 60
    exposure_s: ExposureSeconds = 10


class ChangedPlace(Form):
    name: Name
    capacity: Capacity = 1
    light_zone_id: RowId | None = None
    still_zone_id: RowId | None = None
    settle_s: SettleSeconds | None = None
    exposure_s: ExposureSeconds | None = None
    laser_warm_up_s: WarmUpMinutes | None = Field(None, validation_alias="laser_warm_up")
    out_of_order: bool = False
