"""Addresses of the supplies page."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.supplies.actions import (
    choose_reserve,
    close_order,
    record_order,
    strike_out_classes,
    write_down_classes,
)
from server.supplies.forms import NewClasses, NewOrder, NewReserveChoice
from server.supplies.pages import SupplyForms, supplies_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/supplies", name="supplies.supplies")
def supplies(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "supplies/supplies.html", supplies_page(session, now, signed.time_zone))


@router.post("/supplies/classes", name="supplies.write_down")
def write_down(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewClasses], Depends(submitted(NewClasses))],
) -> Response:
    if form.clean is None:
        page = supplies_page(session, now, signed.time_zone, SupplyForms(classes=form))
        return show(request, "supplies/supplies.html", page, status=422)
    write_down_classes(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "supplies.supplies")


@router.post("/supplies/classes/{classes_id}/remove", name="supplies.strike_out")
def strike_out(request: Request, session: Db, _signed: Technician, classes_id: RowId) -> Response:
    strike_out_classes(session, classes_id)
    return seen(request, "supplies.supplies")


@router.post("/supplies/orders", name="supplies.record_order")
def record(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewOrder], Depends(submitted(NewOrder))],
) -> Response:
    if form.clean is None:
        page = supplies_page(session, now, signed.time_zone, SupplyForms(order=form))
        return show(request, "supplies/supplies.html", page, status=422)
    typed = form.clean.model_dump()
    record_order(session, **typed, by=signed.name, zone=signed.time_zone, now=now)
    return seen(request, "supplies.supplies")


@router.post("/supplies/orders/{order_id}/close", name="supplies.close_order")
def close(request: Request, session: Db, now: Now, _signed: Technician, order_id: RowId) -> Response:
    close_order(session, order_id, now=now)
    return seen(request, "supplies.supplies")


@router.post("/supplies/reserve", name="supplies.choose_reserve")
def choose(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewReserveChoice], Depends(submitted(NewReserveChoice))],
) -> Response:
    if form.clean is None:
        page = supplies_page(session, now, signed.time_zone, SupplyForms(choice=form))
        return show(request, "supplies/supplies.html", page, status=422)
    choose_reserve(session, percent=int(form.clean.percent))
    return seen(request, "supplies.supplies")
