"""Addresses of the pages of containers' lives, of waste areas and of the waste shelf."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.containers.actions import fill_anew, set_out_container
from server.people.access import Db, Now, Technician
from server.shelves.actions import (
    add_area,
    carry_container,
    change_container,
    log_other_waste,
    move_fill_line,
    note_other_waste_gone,
    write_down_tare,
)
from server.shelves.forms import (
    CarriedTo,
    GoneOn,
    MovedLine,
    NewArea,
    NewContainer,
    NewOtherWaste,
    NewState,
    NextFilling,
    Tare,
)
from server.shelves.pages import areas_page, life_page, setting_out_page, shelf_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/waste/containers/new", name="shelves.setting_out")
def setting_out(request: Request, session: Db, now: Now, _signed: Technician) -> Response:
    return show(request, "shelves/new.html", setting_out_page(session, now))


@router.post("/waste/containers", name="shelves.set_out")
def set_out(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewContainer], Depends(submitted(NewContainer))],
) -> Response:
    if form.clean is None:
        return show(request, "shelves/new.html", setting_out_page(session, now, form), status=422)
    container = set_out_container(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "containers.container", container_id=container.id)


@router.get("/waste/containers/{container_id}/life", name="shelves.life")
def life(
    request: Request, session: Db, signed: Technician, container_id: RowId, before: RowId | None = None
) -> Response:
    page = life_page(session, container_id, zone=signed.time_zone, before=before)
    return show(request, "shelves/life.html", page)


@router.post("/waste/containers/{container_id}/state", name="shelves.change_container")
def change(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId,
    form: Annotated[Submitted[NewState], Depends(submitted(NewState))],
) -> Response:
    if form.clean is None:
        page = life_page(session, container_id, zone=signed.time_zone, state_form=form)
        return show(request, "shelves/life.html", page, status=422)
    change_container(session, container_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "containers.container", container_id=container_id)


@router.post("/waste/containers/{container_id}/line", name="shelves.move_fill_line")
def move_line(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId,
    form: Annotated[Submitted[MovedLine], Depends(submitted(MovedLine))],
) -> Response:
    if form.clean is None:
        page = life_page(session, container_id, zone=signed.time_zone, line_form=form)
        return show(request, "shelves/life.html", page, status=422)
    move_fill_line(session, container_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "containers.container", container_id=container_id)


@router.post("/waste/containers/{container_id}/tare", name="shelves.write_down_tare")
def write_tare(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId,
    form: Annotated[Submitted[Tare], Depends(submitted(Tare))],
) -> Response:
    if form.clean is None:
        page = life_page(session, container_id, zone=signed.time_zone, tare_form=form)
        return show(request, "shelves/life.html", page, status=422)
    write_down_tare(session, container_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "shelves.life", container_id=container_id)


@router.post("/waste/containers/{container_id}/area", name="shelves.carry_container")
def carry(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId,
    form: Annotated[Submitted[CarriedTo], Depends(submitted(CarriedTo))],
) -> Response:
    if form.clean is None:
        page = life_page(session, container_id, zone=signed.time_zone, area_form=form)
        return show(request, "shelves/life.html", page, status=422)
    carry_container(session, container_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "shelves.life", container_id=container_id)


@router.post("/waste/containers/{container_id}/filling", name="shelves.fill_anew")
def fill_the_vessel_anew(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId,
    form: Annotated[Submitted[NextFilling], Depends(submitted(NextFilling))],
) -> Response:
    if form.clean is None:
        page = life_page(session, container_id, zone=signed.time_zone, filling_form=form)
        return show(request, "shelves/life.html", page, status=422)
    filling = fill_anew(session, container_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "containers.container", container_id=filling.id)


@router.get("/waste/areas", name="shelves.areas")
def areas(request: Request, session: Db, _signed: Technician) -> Response:
    return show(request, "shelves/areas.html", areas_page(session))


@router.post("/waste/areas", name="shelves.add_area")
def add_an_area(
    request: Request,
    session: Db,
    _signed: Technician,
    form: Annotated[Submitted[NewArea], Depends(submitted(NewArea))],
) -> Response:
    if form.clean is None:
        return show(request, "shelves/areas.html", areas_page(session, form), status=422)
    add_area(session, **form.clean.model_dump())
    return seen(request, "shelves.areas")


@router.get("/waste/shelf", name="shelves.shelf")
def shelf(request: Request, session: Db, signed: Technician, now: Now) -> Response:
    return show(request, "shelves/shelf.html", shelf_page(session, now=now, zone=signed.time_zone))


@router.post("/waste/shelf", name="shelves.log_other_waste")
def log_other(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewOtherWaste], Depends(submitted(NewOtherWaste))],
) -> Response:
    if form.clean is None:
        page = shelf_page(session, now=now, zone=signed.time_zone, form=form)
        return show(request, "shelves/shelf.html", page, status=422)
    log_other_waste(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "shelves.shelf")


@router.post("/waste/shelf/{waste_id}/gone", name="shelves.note_other_waste_gone")
def note_gone(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    waste_id: RowId,
    form: Annotated[Submitted[GoneOn], Depends(submitted(GoneOn))],
) -> Response:
    if form.clean is None:
        page = shelf_page(session, now=now, zone=signed.time_zone, gone_form=(waste_id, form))
        return show(request, "shelves/shelf.html", page, status=422)
    note_other_waste_gone(session, waste_id, **form.clean.model_dump(), now=now)
    return seen(request, "shelves.shelf")
