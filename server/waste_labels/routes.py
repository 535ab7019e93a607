"""Addresses of the pages of waste containers' labels."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.waste_labels.actions import enter_labelled
from server.waste_labels.forms import ContainerSheet
from server.waste_labels.pages import waste_label_page, waste_labels_page, waste_sheet_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, asked, submitted

router = APIRouter()


def _base(request: Request) -> str:
    """The address of this server, as it was asked for."""
    return str(request.base_url).rstrip("/")


@router.get("/waste/labels", name="waste_labels.labels")
def labels(request: Request, session: Db, signed: Technician) -> Response:
    return show(request, "waste_labels/labels.html", waste_labels_page(session, zone=signed.time_zone))


@router.get("/waste/labels/sheet", name="waste_labels.sheet")
def sheet(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    form = asked(request, ContainerSheet)
    if form.clean is None:
        page = waste_labels_page(session, zone=signed.time_zone, form=form)
        return show(request, "waste_labels/labels.html", page, status=422 if form.errors else 200)
    drawn = waste_sheet_page(session, form.clean, now=now, zone=signed.time_zone, base=_base(request))
    return show(request, "waste_labels/sheet.html", drawn)


@router.post("/waste/labels/sheet", name="waste_labels.enter_labelled")
def enter(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[ContainerSheet], Depends(submitted(ContainerSheet))],
) -> Response:
    if form.clean is None:
        page = waste_labels_page(session, zone=signed.time_zone, form=form)
        return show(request, "waste_labels/labels.html", page, status=422)
    enter_labelled(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "waste_labels.labels")


@router.get("/waste/containers/{container_id}/label", name="waste_labels.label")
def label(request: Request, session: Db, now: Now, signed: Technician, container_id: RowId) -> Response:
    page = waste_label_page(session, container_id, now=now, zone=signed.time_zone, base=_base(request))
    return show(request, "labels/label.html", page)
