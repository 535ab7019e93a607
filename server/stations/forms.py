"""What is typed about the room."""

from typing import Annotated, Literal

from pydantic import Field

from server.stations.models import PlaceKind
from server.web.submitted import Form, RowId

Name = Annotated[str, Field(max_length=40)]
Capacity = Annotated[int, Field(ge=1, le=60)]
SettleSeconds = Annotated[int, Field(ge=0, le=3600)]
ExposureSeconds = Annotated[int, Field(ge=1, le=3600)]


class NewZone(Form):
    name: Name
    shares: Literal["light", "stillness"]


class NewTrayLine(Form):
    name: Name
    capacity: Capacity = 1
    light_zone_id: RowId | None = None
    still_zone_id: RowId | None = None


class NewPlace(Form):
    name: Name
    kind: Literal[PlaceKind.STATION, PlaceKind.DRYER, PlaceKind.BENCH]
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
    out_of_order: bool = False
