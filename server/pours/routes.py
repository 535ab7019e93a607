"""Addresses of the pages of pours and of single entries."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.pours.actions import pour, reverse_entry
from server.pours.forms import NewPour, NewReversal, with_moment
from server.pours.pages import entry_page, pour_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/waste/containers/{container_id}/entries/{entry_id}", name="pours.entry")
def entry(
    request: Request, session: Db, signed: Technician, container_id: RowId, entry_id: RowId
) -> Response:
    page = entry_page(session, container_id, entry_id, zone=signed.time_zone)
    return show(request, "pours/entry.html", page)


@router.post("/waste/containers/{container_id}/entries/{entry_id}/reverse", name="pours.reverse_entry")
def reverse(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId,
    entry_id: RowId,
    form: Annotated[Submitted[NewReversal], Depends(submitted(NewReversal))],
) -> Response:
    if form.clean is None:
        page = entry_page(session, container_id, entry_id, zone=signed.time_zone, form=form)
        return show(request, "pours/entry.html", page, status=422)
    reverse_entry(session, container_id, entry_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "containers.container", container_id=container_id)


@router.get("/waste/pour", name="pours.pouring")
def pouring(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId | None = None,
    charge_id: RowId | None = None,
    batch_id: RowId | None = None,
    bottle_id: RowId | None = None,
) -> Response:
    page = pour_page(
        session,
        now=now,
        zone=signed.time_zone,
        container_id=container_id,
        charge_id=charge_id,
        batch_id=batch_id,
        bottle_id=bottle_id,
    )
    return show(request, "pours/pour.html", page)


@router.post("/waste/pour", name="pours.pour")
def log_pour(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    typed: Annotated[Submitted[NewPour], Depends(submitted(NewPour))],
) -> Response:
    form, happened_at = with_moment(typed, now, signed.time_zone)
    if form.clean is None:
        page = pour_page(session, now=now, zone=signed.time_zone, form=form)
        return show(request, "pours/pour.html", page, status=422)
    pour(session, **form.clean.kept(), happened_at=happened_at, by=signed.name, now=now)
    return seen(request, "containers.container", container_id=form.clean.container_id)
