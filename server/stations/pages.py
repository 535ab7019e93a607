"""What the stations pages show."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.core.units import duration_words
from server.data.session import LabSession
from server.stations.forms import (
    ChangedLightZone,
    ChangedPlace,
    ChangedTrayLine,
    NewPlace,
    NewTrayLine,
    NewZone,
)
from server.stations.models import LightZone, Place, PlaceKind, TrayLine
from server.stations.queries import (
    get_light_zone,
    get_place,
    get_tray_line,
    list_light_zones,
    list_places,
    list_still_zones,
    list_tray_lines,
    list_trays_of_line,
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
class LightZoneLine:
    id: int
    name: str
    afterglow: str


@dataclass(frozen=True)
class TrayLineLine:
    """What the trays of a line have in common, in words; where they differ it says so."""

    id: int
    name: str
    words: str


@dataclass(frozen=True)
class StationsPage:
    places: Sequence[PlaceLine]
    light_zone_lines: Sequence[LightZoneLine]
    still_zone_names: Sequence[str]
    tray_line_lines: Sequence[TrayLineLine]
    light_zones: Options
    still_zones: Options
    zone_form: Submitted[NewZone]
    line_form: Submitted[NewTrayLine]
    place_form: Submitted[NewPlace]


@dataclass(frozen=True)
class LightZonePage:
    zone: LightZone
    places: Sequence[str]
    form: Submitted[ChangedLightZone]


@dataclass(frozen=True)
class TrayLinePage:
    """`capacity` and the zones are those of the line's first tray; `differ` says that other trays have others."""

    id: int
    name: str
    capacity: int
    light_zone_id: int | None
    still_zone_id: int | None
    differ: bool
    light_zones: Options
    still_zones: Options
    form: Submitted[ChangedTrayLine]


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


def _differ(trays: Sequence[Place]) -> bool:
    return len({(tray.capacity, tray.light_zone_id, tray.still_zone_id) for tray in trays}) > 1


def _tray_line(
    line: TrayLine, trays: Sequence[Place], light: dict[int, str], still: dict[int, str]
) -> TrayLineLine:
    first = trays[0]
    words = "its trays differ"
    if not _differ(trays):
        words = (
            f"{first.capacity} at once in each tray, light {light.get(first.light_zone_id or 0, 'not shared')}, "
            f"stillness {still.get(first.still_zone_id or 0, 'not shared')}"
        )
    return TrayLineLine(line.id, line.name, words)


def stations_page(
    session: LabSession,
    zone_form: Submitted[NewZone] | None = None,
    line_form: Submitted[NewTrayLine] | None = None,
    place_form: Submitted[NewPlace] | None = None,
) -> StationsPage:
    light = {zone.id: zone.name for zone in list_light_zones(session)}
    still = {zone.id: zone.name for zone in list_still_zones(session)}
    return StationsPage(
        light_zone_lines=[
            LightZoneLine(
                zone.id, zone.name, duration_words(zone.afterglow_s) if zone.afterglow_s else "none"
            )
            for zone in list_light_zones(session)
        ],
        still_zone_names=list(still.values()),
        tray_line_lines=[
            _tray_line(line, list_trays_of_line(session, line.id), light, still)
            for line in list_tray_lines(session)
        ],
        places=[_line(place, light, still) for place in list_places(session)],
        light_zones=list(light.items()),
        still_zones=list(still.items()),
        zone_form=zone_form or Submitted(),
        line_form=line_form or Submitted(),
        place_form=place_form or Submitted(),
    )


def light_zone_page(
    session: LabSession, zone_id: int, form: Submitted[ChangedLightZone] | None = None
) -> LightZonePage:
    zone = get_light_zone(session, zone_id)
    places = [place.name for place in list_places(session) if place.light_zone_id == zone_id]
    return LightZonePage(zone, places, form or Submitted())


def tray_line_page(
    session: LabSession, line_id: int, form: Submitted[ChangedTrayLine] | None = None
) -> TrayLinePage:
    line, trays = get_tray_line(session, line_id), list_trays_of_line(session, line_id)
    return TrayLinePage(
        id=line.id,
        name=line.name,
        capacity=trays[0].capacity,
        light_zone_id=trays[0].light_zone_id,
        still_zone_id=trays[0].still_zone_id,
        differ=_differ(trays),
        light_zones=[(zone.id, zone.name) for zone in list_light_zones(session)],
        still_zones=[(zone.id, zone.name) for zone in list_still_zones(session)],
        form=form or Submitted(),
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
