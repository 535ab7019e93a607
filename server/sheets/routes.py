"""Addresses of request sheets and of the lab's particulars."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.sheets.actions import set_particulars, tell_of_container
from server.sheets.forms import LabParticulars, Told
from server.sheets.pages import judged_told, particulars_page, sheet_page, told_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/waste/pickups/particulars", name="sheets.particulars")
def particulars(request: Request, session: Db, _signed: Technician) -> Response:
    return show(request, "sheets/particulars.html", particulars_page(session))


@router.post("/waste/pickups/particulars", name="sheets.set_particulars")
def keep_particulars(
    request: Request,
    session: Db,
    _signed: Technician,
    form: Annotated[Submitted[LabParticulars], Depends(submitted(LabParticulars))],
) -> Response:
    if form.clean is None:
        return show(request, "sheets/particulars.html", particulars_page(session, form), status=422)
    set_particulars(session, **form.clean.model_dump())
    return seen(request, "pickups.pickups")


@router.get("/waste/pickups/{pickup_id}/containers/{container_id}", name="sheets.told")
def told(
    request: Request, session: Db, _signed: Technician, pickup_id: RowId, container_id: RowId
) -> Response:
    return show(request, "sheets/told.html", told_page(session, pickup_id, container_id))


@router.post("/waste/pickups/{pickup_id}/containers/{container_id}", name="sheets.tell_of_container")
def tell(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    pickup_id: RowId,
    container_id: RowId,
    form: Annotated[Submitted[Told], Depends(submitted(Told))],
) -> Response:
    form = judged_told(session, pickup_id, container_id, form)
    if form.clean is None:
        page = told_page(session, pickup_id, container_id, form)
        return show(request, "sheets/told.html", page, status=422)
    tell_of_container(session, pickup_id, container_id, **form.clean.kept(), by=signed.name, now=now)
    return seen(request, "pickups.pickup", pickup_id=pickup_id)


@router.get("/waste/pickups/{pickup_id}/sheet", name="sheets.sheet")
def sheet(request: Request, session: Db, signed: Technician, now: Now, pickup_id: RowId) -> Response:
    page = sheet_page(session, pickup_id, now=now, zone=signed.time_zone, lab=signed.lab_name)
    return show(request, "sheets/sheet.html", page)
