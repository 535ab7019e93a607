"""Setting up the room."""

from typing import Any

from sqlmodel import select

from server.data.session import LabSession
from server.refusal import Refusal
from server.stations.models import Bath, LightZone, Place, PlaceKind, StillZone, TrayLine
from server.stations.queries import get_light_zone, get_place, get_tray_line, list_trays_of_line


def _refuse_a_second(session: LabSession, table: Any, name: str, keep: int | None = None) -> None:
    found = session.exec(select(table.id).where(table.name == name)).first()
    if found is not None and found != keep:
        raise Refusal(f"There is already something called “{name}” here. Give this one another name.")


def add_light_zone(session: LabSession, *, name: str, afterglow_s: int = 0) -> LightZone:
    _refuse_a_second(session, LightZone, name)
    zone = LightZone(name=name, afterglow_s=afterglow_s)
    session.add(zone)
    session.flush()  # places name its id
    return zone


def change_light_zone(session: LabSession, zone_id: int, *, name: str, afterglow_s: int) -> None:
    """Name a light zone anew, and say how many seconds its lamps glow on after they are switched off."""
    zone = get_light_zone(session, zone_id)
    _refuse_a_second(session, LightZone, name, keep=zone_id)
    zone.name, zone.afterglow_s = name, afterglow_s


def add_still_zone(session: LabSession, *, name: str) -> StillZone:
    _refuse_a_second(session, StillZone, name)
    zone = StillZone(name=name)
    session.add(zone)
    session.flush()  # places name its id
    return zone


def refuse_unknown_zones(session: LabSession, light_zone_id: int | None, still_zone_id: int | None) -> None:
    if light_zone_id is not None and session.get(LightZone, light_zone_id) is None:
        raise Refusal("This light zone is not in the lab any more. Choose one of the list.")
    if still_zone_id is not None and session.get(StillZone, still_zone_id) is None:
        raise Refusal("This still zone is not in the lab any more. Choose one of the list.")


def add_tray_line(
    session: LabSession, *, name: str, capacity: int, light_zone_id: int | None, still_zone_id: int | None
) -> TrayLine:
    """A tray line with its four trays, each taking `capacity` plates at once."""
    _refuse_a_second(session, TrayLine, name)
    refuse_unknown_zones(session, light_zone_id, still_zone_id)
    line = TrayLine(name=name)
    session.add(line)
    session.flush()  # the trays name its id
    for bath in Bath:
        tray = f"{bath}, {name}"
        _refuse_a_second(session, Place, tray)
        session.add(
            Place(
                name=tray,
                kind=PlaceKind.TRAY,
                bath=bath,
                capacity=capacity,
                tray_line_id=line.id,
                light_zone_id=light_zone_id,
                still_zone_id=still_zone_id,
            )
        )
    return line


def change_tray_line(
    session: LabSession, line_id: int, *, capacity: int, light_zone_id: int | None, still_zone_id: int | None
) -> None:
    """Make all trays of a line alike: how many plates each takes at once, and whose light and stillness they share."""
    line = get_tray_line(session, line_id)
    refuse_unknown_zones(session, light_zone_id, still_zone_id)
    for tray in list_trays_of_line(session, line.id):
        tray.capacity, tray.light_zone_id, tray.still_zone_id = capacity, light_zone_id, still_zone_id


def add_place(
    session: LabSession,
    *,
    name: str,
    kind: PlaceKind,
    capacity: int,
    light_zone_id: int | None,
    still_zone_id: int | None,
    settle_s: int | None = None,
    exposure_s: int | None = None,
) -> Place:
    """A station, a dryer or a bench; trays come with their line. A station takes one plate and has its own times."""
    _refuse_a_second(session, Place, name)
    refuse_unknown_zones(session, light_zone_id, still_zone_id)
    is_station = kind is PlaceKind.STATION
    place = Place(
        name=name,
        kind=kind,
        capacity=1 if is_station else capacity,
        light_zone_id=light_zone_id,
        still_zone_id=still_zone_id,
        settle_s=settle_s if is_station else None,
        exposure_s=exposure_s if is_station else None,
    )
    session.add(place)
    session.flush()  # its id is its address
    return place


def change_place(
    session: LabSession,
    place_id: int,
    *,
    name: str,
    capacity: int,
    light_zone_id: int | None,
    still_zone_id: int | None,
    settle_s: int | None,
    exposure_s: int | None,
    laser_warm_up_s: int | None,
    out_of_order: bool,
) -> None:
    """Change a place. Rotations that are published already keep the room as it was when they were planned."""
    place = get_place(session, place_id)
    _refuse_a_second(session, Place, name, keep=place_id)
    refuse_unknown_zones(session, light_zone_id, still_zone_id)
    place.name, place.out_of_order = name, out_of_order
    place.light_zone_id, place.still_zone_id = light_zone_id, still_zone_id
    if place.kind == PlaceKind.STATION:
        place.settle_s = place.settle_s if settle_s is None else settle_s
        place.exposure_s = place.exposure_s if exposure_s is None else exposure_s
        place.laser_warm_up_s = place.laser_warm_up_s if laser_warm_up_s is None else laser_warm_up_s
    else:
        place.capacity = capacity


def set_exposure(session: LabSession, place_id: int, *, exposure_s: int) -> None:
    """Set a station's exposure time in seconds."""
    place = get_place(session, place_id)
    if place.kind != PlaceKind.STATION:
        raise Refusal(f"{place.name} is not a station. Choose a station.")
    place.exposure_s = exposure_s
