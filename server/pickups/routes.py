"""Addresses of the pages of pickups."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.pickups.actions import book_pickup, call_off_pickup, hand_over, request_pickup
from server.pickups.forms import HandOver, NewPickup
from server.pickups.pages import pickup_page, pickups_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/waste/pickups", name="pickups.pickups")
def pickups(request: Request, session: Db, signed: Technician, now: Now) -> Response:
    return show(request, "pickups/pickups.html", pickups_page(session, now=now, zone=signed.time_zone))


@router.post("/waste/pickups", name="pickups.book_pickup")
def book(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewPickup], Depends(submitted(NewPickup))],
) -> Response:
    if form.clean is None:
        page = pickups_page(session, now=now, zone=signed.time_zone, form=form)
        return show(request, "pickups/pickups.html", page, status=422)
    booked = book_pickup(session, **form.clean.model_dump(), zone=signed.time_zone, now=now)
    return seen(request, "pickups.pickup", pickup_id=booked.id)


@router.get("/waste/pickups/{pickup_id}", name="pickups.pickup")
def pickup(request: Request, session: Db, signed: Technician, now: Now, pickup_id: RowId) -> Response:
    page = pickup_page(session, pickup_id, now=now, zone=signed.time_zone, lab=signed.lab_name)
    return show(request, "pickups/pickup.html", page)


@router.post("/waste/pickups/{pickup_id}/request", name="pickups.request_pickup")
def mark_requested(request: Request, session: Db, signed: Technician, now: Now, pickup_id: RowId) -> Response:
    request_pickup(session, pickup_id, zone=signed.time_zone, now=now)
    return seen(request, "pickups.pickup", pickup_id=pickup_id)


@router.post("/waste/pickups/{pickup_id}/call-off", name="pickups.call_off_pickup")
def call_off(request: Request, session: Db, _signed: Technician, pickup_id: RowId) -> Response:
    call_off_pickup(session, pickup_id)
    return seen(request, "pickups.pickups")


@router.post("/waste/pickups/{pickup_id}/hand-over", name="pickups.hand_over")
def hand_over_containers(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    pickup_id: RowId,
    form: Annotated[Submitted[HandOver], Depends(submitted(HandOver))],
) -> Response:
    if form.clean is None:
        page = pickup_page(session, pickup_id, now=now, zone=signed.time_zone, lab=signed.lab_name, form=form)
        return show(request, "pickups/pickup.html", page, status=422)
    hand_over(session, pickup_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "pickups.pickup", pickup_id=pickup_id)
