"""Reads of zones and places."""

from collections.abc import Sequence

from sqlmodel import col, select

from server.data.session import LabSession
from server.refusal import NotFound
from server.stations.models import Bath, LightZone, Place, PlaceKind, StillZone, TrayLine


def list_light_zones(session: LabSession) -> Sequence[LightZone]:
    return session.exec(select(LightZone).order_by(LightZone.name)).all()


def list_still_zones(session: LabSession) -> Sequence[StillZone]:
    return session.exec(select(StillZone).order_by(StillZone.name)).all()


def list_tray_lines(session: LabSession) -> Sequence[TrayLine]:
    return session.exec(select(TrayLine).order_by(TrayLine.name)).all()


def list_places(session: LabSession) -> Sequence[Place]:
    """Every place: stations first, then trays in the order of their entry, dryers and benches."""
    order = list(PlaceKind)
    places = session.exec(select(Place).order_by(col(Place.id))).all()
    return sorted(places, key=lambda place: (order.index(PlaceKind(place.kind)), place.id))


def list_stations(session: LabSession) -> Sequence[Place]:
    return session.exec(select(Place).where(Place.kind == PlaceKind.STATION).order_by(Place.name)).all()


def list_trays(session: LabSession, bath: Bath) -> Sequence[Place]:
    return session.exec(select(Place).where(Place.bath == bath).order_by(Place.name)).all()


def list_trays_of_line(session: LabSession, line_id: int) -> Sequence[Place]:
    """The trays of a line in their order, from developer to wash."""
    return session.exec(select(Place).where(Place.tray_line_id == line_id).order_by(col(Place.id))).all()


def get_light_zone(session: LabSession, zone_id: int) -> LightZone:
    zone = session.get(LightZone, zone_id)
    if zone is None:
        raise NotFound("There is no such light zone in this lab. Choose one from Stations.")
    return zone


def get_tray_line(session: LabSession, line_id: int) -> TrayLine:
    line = session.get(TrayLine, line_id)
    if line is None:
        raise NotFound("There is no such tray line in this lab. Choose one from Stations.")
    return line


def get_place(session: LabSession, place_id: int) -> Place:
    place = session.get(Place, place_id)
    if place is None:
        raise NotFound("There is no such place in this lab. Choose one from Stations.")
    return place
