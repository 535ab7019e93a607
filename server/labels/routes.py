"""Addresses of the pages of labels, and of the style sheet with the sizes of their paper."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.labels.forms import Sheet
from server.labels.pages import (
    batch_label_page,
    charge_label_page,
    labels_page,
    page_sizes,
    sheet_page,
)
from server.people.access import Db, Now, Technician
from server.web.show import show
from server.web.submitted import RowId, asked

router = APIRouter()


def _batch_link(request: Request) -> str:
    """The address of a batch's page up to its id, as this server was asked for it."""
    return str(request.url_for("chemistry.batch", batch_id=1)).removesuffix("1")


@router.get("/labels", name="labels.labels")
def labels(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "labels/labels.html", labels_page(session, now, signed.time_zone))


@router.get("/labels/sheet", name="labels.sheet")
def sheet(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    form = asked(request, Sheet)
    if form.clean is None:
        page = labels_page(session, now, signed.time_zone, form)
        return show(request, "labels/labels.html", page, status=422 if form.errors else 200)
    shown = sheet_page(session, form.clean, signed.time_zone, _batch_link(request))
    return show(request, "labels/sheet.html", shown)


@router.get("/labels/batches/{batch_id}", name="labels.batch")
def batch(request: Request, session: Db, signed: Technician, batch_id: RowId) -> Response:
    page = batch_label_page(session, batch_id, signed.time_zone, _batch_link(request))
    return show(request, "labels/label.html", page)


@router.get("/labels/charges/{charge_id}", name="labels.charge")
def charge(request: Request, session: Db, signed: Technician, charge_id: RowId) -> Response:
    page = charge_label_page(session, charge_id, signed.time_zone, _batch_link(request))
    return show(request, "labels/label.html", page)


@router.get("/labels/paper.css", name="labels.paper")
def paper(_signed: Technician) -> Response:
    return Response(page_sizes(), media_type="text/css", headers={"Cache-Control": "no-cache"})
