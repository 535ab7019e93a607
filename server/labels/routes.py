"""Addresses of the pages of labels, and of the style sheet with the sizes of their paper."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.labels.actions import enter_printed
from server.labels.forms import Sheet, Use
from server.labels.pages import (
    batch_label_page,
    bottle_label_page,
    charge_label_page,
    labels_page,
    page_sizes,
    sheet_page,
)
from server.people.access import Db, Now, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, asked, submitted

router = APIRouter()


def _base(request: Request) -> str:
    """The address of this server, as it was asked for."""
    return str(request.base_url).rstrip("/")


@router.get("/labels", name="labels.labels")
def labels(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    page = labels_page(session, now, signed.time_zone, use=asked(request, Use))
    return show(request, "labels/labels.html", page)


@router.get("/labels/sheet", name="labels.sheet")
def sheet(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    form = asked(request, Sheet)
    if form.clean is None:
        page = labels_page(session, now, signed.time_zone, form)
        return show(request, "labels/labels.html", page, status=422 if form.errors else 200)
    return show(
        request, "labels/sheet.html", sheet_page(session, form.clean, signed.time_zone, _base(request))
    )


@router.post("/labels/sheet", name="labels.enter_printed")
def enter(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[Sheet], Depends(submitted(Sheet))],
) -> Response:
    if form.clean is None:
        page = labels_page(session, now, signed.time_zone, form)
        return show(request, "labels/labels.html", page, status=422)
    printed = form.clean.model_dump(exclude={"vessel_ul"})
    enter_printed(session, **printed, by=signed.name, now=now)
    return seen(request, "labels.labels")


@router.get("/labels/batches/{batch_id}", name="labels.batch")
def batch(request: Request, session: Db, signed: Technician, batch_id: RowId) -> Response:
    page = batch_label_page(session, batch_id, signed.time_zone, _base(request))
    return show(request, "labels/label.html", page)


@router.get("/labels/charges/{charge_id}", name="labels.charge")
def charge(request: Request, session: Db, signed: Technician, charge_id: RowId) -> Response:
    page = charge_label_page(session, charge_id, signed.time_zone, _base(request))
    return show(request, "labels/label.html", page)


@router.get("/labels/bottles/{bottle_id}", name="labels.bottle")
def bottle(request: Request, session: Db, signed: Technician, bottle_id: RowId) -> Response:
    page = bottle_label_page(session, bottle_id, signed.time_zone, _base(request))
    return show(request, "labels/label.html", page)


@router.get("/labels/paper.css", name="labels.paper")
def paper(_signed: Technician) -> Response:
    return Response(page_sizes(), media_type="text/css", headers={"Cache-Control": "no-cache"})
