"""Addresses of the pages of pours."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.containers.forms import Reversal
from server.containers.pages import container_page
from server.people.access import Db, Now, Technician
from server.pours.actions import pour, reverse_entry
from server.pours.forms import NewPour
from server.pours.pages import pour_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.post("/waste/containers/{container_id}/reverse", name="pours.reverse_entry")
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


@router.get("/waste/pour", name="pours.pouring")
def pouring(
    request: Request,
    session: Db,
    _signed: Technician,
    container_id: RowId | None = None,
    charge_id: RowId | None = None,
) -> Response:
    return show(
        request, "pours/pour.html", pour_page(session, container_id=container_id, charge_id=charge_id)
    )


@router.post("/waste/pour", name="pours.pour")
def log_pour(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewPour], Depends(submitted(NewPour))],
) -> Response:
    if form.clean is None:
        return show(request, "pours/pour.html", pour_page(session, form=form), status=422)
    pour(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "containers.container", container_id=form.clean.container_id)
