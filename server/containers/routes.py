"""Addresses of the pages of containers and pours."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.containers.actions import (
    close_container,
    move_fill_line,
    pour,
    reopen_container,
    reverse_entry,
)
from server.containers.forms import MovedLine, NewPour, Reversal
from server.containers.pages import container_page, label_page, pour_page
from server.people.access import Db, Now, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/waste/containers/{container_id}", name="containers.container")
def container(request: Request, session: Db, signed: Technician, container_id: RowId) -> Response:
    return show(
        request, "containers/container.html", container_page(session, container_id, zone=signed.time_zone)
    )


@router.get("/waste/containers/{container_id}/label", name="containers.label")
def label(request: Request, session: Db, signed: Technician, container_id: RowId) -> Response:
    page = label_page(session, container_id, zone=signed.time_zone, lab=signed.lab_name)
    return show(request, "containers/label.html", page)


@router.post("/waste/containers/{container_id}/close", name="containers.close_container")
def close(request: Request, session: Db, signed: Technician, now: Now, container_id: RowId) -> Response:
    close_container(session, container_id, by=signed.name, now=now)
    return seen(request, "containers.container", container_id=container_id)


@router.post("/waste/containers/{container_id}/open", name="containers.reopen_container")
def reopen(request: Request, session: Db, signed: Technician, now: Now, container_id: RowId) -> Response:
    reopen_container(session, container_id, by=signed.name, now=now)
    return seen(request, "containers.container", container_id=container_id)


@router.post("/waste/containers/{container_id}/line", name="containers.move_fill_line")
def move_line(
    request: Request,
    session: Db,
    signed: Technician,
    container_id: RowId,
    form: Annotated[Submitted[MovedLine], Depends(submitted(MovedLine))],
) -> Response:
    if form.clean is None:
        page = container_page(session, container_id, zone=signed.time_zone, line_form=form)
        return show(request, "containers/container.html", page, status=422)
    move_fill_line(session, container_id, **form.clean.model_dump())
    return seen(request, "containers.container", container_id=container_id)


@router.post("/waste/containers/{container_id}/reverse", name="containers.reverse_entry")
def reverse(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId,
    form: Annotated[Submitted[Reversal], Depends(submitted(Reversal))],
) -> Response:
    if form.clean is None:
        page = container_page(session, container_id, zone=signed.time_zone, reversal_form=form)
        return show(request, "containers/container.html", page, status=422)
    reverse_entry(session, container_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "containers.container", container_id=container_id)


@router.get("/waste/pour", name="containers.pouring")
def pouring(
    request: Request,
    session: Db,
    _signed: Technician,
    container_id: RowId | None = None,
    charge_id: RowId | None = None,
) -> Response:
    return show(
        request, "containers/pour.html", pour_page(session, container_id=container_id, charge_id=charge_id)
    )


@router.post("/waste/pour", name="containers.pour")
def log_pour(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewPour], Depends(submitted(NewPour))],
) -> Response:
    if form.clean is None:
        return show(request, "containers/pour.html", pour_page(session, form=form), status=422)
    pour(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "containers.container", container_id=form.clean.container_id)
