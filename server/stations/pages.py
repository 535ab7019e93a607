"""What the stations pages show."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.core.units import duration_words
from server.data.session import LabSession
from server.stations.forms import ChangedPlace, NewPlace, NewTrayLine, NewZone
from server.stations.models import Place, PlaceKind
from server.stations.queries import (
    get_place,
    list_light_zones,
    list_places,
    list_still_zones,
    list_tray_lines,
)
from server.web.submitted import Submitted

Options = Sequence[tuple[int, str]]


@dataclass(frozen=True)
class PlaceLine:
    id: int
    name: str
    kind: str
    capacity: int
    light_zone: str
    still_zone: str
    times: str
    out_of_order: bool


@dataclass(frozen=True)
class StationsPage:
    places: Sequence[PlaceLine]
    light_zones: Options
    still_zones: Options
    tray_lines: Sequence[str]
    zone_form: Submitted[NewZone]
    line_form: Submitted[NewTrayLine]
    place_form: Submitted[NewPlace]


@dataclass(frozen=True)
class PlacePage:
    id: int
    place: Place
    is_station: bool
    light_zones: Options
    still_zones: Options
    form: Submitted[ChangedPlace]


def _line(place: Place, light: dict[int, str], still: dict[int, str]) -> PlaceLine:
    times = ""
    if place.kind == PlaceKind.STATION:
        times = (
            f"settle {duration_words(place.settle_s or 0)}, expose {duration_words(place.exposure_s or 0)}"
        )
    return PlaceLine(
        place.id,
        place.name,
        place.kind,
        place.capacity,
        light.get(place.light_zone_id or 0, "none"),
        still.get(place.still_zone_id or 0, "none"),
        times,
        place.out_of_order,
    )


def stations_page(
    session: LabSession,
    zone_form: Submitted[NewZone] | None = None,
    line_form: Submitted[NewTrayLine] | None = None,
    place_form: Submitted[NewPlace] | None = None,
) -> StationsPage:
    light = {zone.id: zone.name for zone in list_light_zones(session)}
    still = {zone.id: zone.name for zone in list_still_zones(session)}
    return StationsPage(
        places=[_line(place, light, still) for place in list_places(session)],
        light_zones=list(light.items()),
        still_zones=list(still.items()),
        tray_lines=[line.name for line in list_tray_lines(session)],
        zone_form=zone_form or Submitted(),
        line_form=line_form or Submitted(),
        place_form=place_form or Submitted(),
    )


def place_page(session: LabSession, place_id: int, form: Submitted[ChangedPlace] | None = None) -> PlacePage:
    place = get_place(session, place_id)
    return PlacePage(
        id=place.id,
        place=place,
        is_station=place.kind == PlaceKind.STATION,
        light_zones=[(zone.id, zone.name) for zone in list_light_zones(session)],
        still_zones=[(zone.id, zone.name) for zone in list_still_zones(session)],
        form=form or Submitted(),
    )
