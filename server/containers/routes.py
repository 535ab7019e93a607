"""Addresses of the pages of containers."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.containers.actions import (
    close_container,
    move_fill_line,
    reopen_container,
)
from server.containers.forms import MovedLine
from server.containers.pages import container_page, label_page
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
