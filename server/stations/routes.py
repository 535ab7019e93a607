"""Addresses of the stations pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Instructor, Technician
from server.stations.actions import (
    add_light_zone,
    add_place,
    add_still_zone,
    add_tray_line,
    change_light_zone,
    change_place,
    change_tray_line,
)
from server.stations.forms import (
    ChangedLightZone,
    ChangedPlace,
    ChangedTrayLine,
    NewPlace,
    NewTrayLine,
    NewZone,
)
from server.stations.pages import light_zone_page, place_page, stations_page, tray_line_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/stations", name="stations.stations")
def stations(request: Request, session: Db, _person: Technician) -> Response:
    return show(request, "stations/stations.html", stations_page(session))


@router.post("/stations/zones", name="stations.add_zone")
def add_zone(
    request: Request,
    session: Db,
    _person: Instructor,
    form: Annotated[Submitted[NewZone], Depends(submitted(NewZone))],
) -> Response:
    if form.clean is None:
        return show(request, "stations/stations.html", stations_page(session, zone_form=form), status=422)
    if form.clean.shares == "light":
        add_light_zone(session, name=form.clean.name, afterglow_s=form.clean.afterglow_s)
    else:
        add_still_zone(session, name=form.clean.name)
    return seen(request, "stations.stations")


@router.get("/stations/light-zones/{zone_id}", name="stations.light_zone")
def light_zone(request: Request, session: Db, _person: Instructor, zone_id: RowId) -> Response:
    return show(request, "stations/light_zone.html", light_zone_page(session, zone_id))


@router.post("/stations/light-zones/{zone_id}", name="stations.change_light_zone")
def change_a_light_zone(
    request: Request,
    session: Db,
    _person: Instructor,
    zone_id: RowId,
    form: Annotated[Submitted[ChangedLightZone], Depends(submitted(ChangedLightZone))],
) -> Response:
    if form.clean is None:
        return show(request, "stations/light_zone.html", light_zone_page(session, zone_id, form), status=422)
    change_light_zone(session, zone_id, **form.clean.model_dump())
    return seen(request, "stations.stations")


@router.get("/stations/tray-lines/{line_id}", name="stations.tray_line")
def tray_line(request: Request, session: Db, _person: Instructor, line_id: RowId) -> Response:
    return show(request, "stations/tray_line.html", tray_line_page(session, line_id))


@router.post("/stations/tray-lines/{line_id}", name="stations.change_tray_line")
def change_a_tray_line(
    request: Request,
    session: Db,
    _person: Instructor,
    line_id: RowId,
    form: Annotated[Submitted[ChangedTrayLine], Depends(submitted(ChangedTrayLine))],
) -> Response:
    if form.clean is None:
        return show(request, "stations/tray_line.html", tray_line_page(session, line_id, form), status=422)
    change_tray_line(session, line_id, **form.clean.model_dump())
    return seen(request, "stations.stations")


@router.post("/stations/tray-lines", name="stations.add_tray_line")
def add_line(
    request: Request,
    session: Db,
    _person: Instructor,
    form: Annotated[Submitted[NewTrayLine], Depends(submitted(NewTrayLine))],
) -> Response:
    if form.clean is None:
        return show(request, "stations/stations.html", stations_page(session, line_form=form), status=422)
    add_tray_line(session, **form.clean.model_dump())
    return seen(request, "stations.stations")


@router.post("/stations/places", name="stations.add_place")
def add_the_place(
    request: Request,
    session: Db,
    _person: Instructor,
    form: Annotated[Submitted[NewPlace], Depends(submitted(NewPlace))],
) -> Response:
    if form.clean is None:
        return show(request, "stations/stations.html", stations_page(session, place_form=form), status=422)
    add_place(session, **form.clean.model_dump())
    return seen(request, "stations.stations")


@router.get("/stations/places/{place_id}", name="stations.place")
def place(request: Request, session: Db, _person: Instructor, place_id: RowId) -> Response:
    return show(request, "stations/place.html", place_page(session, place_id))


@router.post("/stations/places/{place_id}", name="stations.change_place")
def change(
    request: Request,
    session: Db,
    _person: Instructor,
    place_id: RowId,
    form: Annotated[Submitted[ChangedPlace], Depends(submitted(ChangedPlace))],
) -> Response:
    if form.clean is None:
        return show(request, "stations/place.html", place_page(session, place_id, form), status=422)
    change_place(session, place_id, **form.clean.model_dump())
    return seen(request, "stations.stations")
