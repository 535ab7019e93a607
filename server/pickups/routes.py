"""Addresses of the pages of pickups."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.pickups.actions import (
    book_pickup,
    call_off_pickup,
    change_pickup,
    choose_containers,
    end_schedule,
    repeat_pickups,
    request_pickup,
    withdraw_request,
)
from server.pickups.forms import CallingOff, ChangedPickup, ChosenContainers, NewPickup, NewSchedule
from server.pickups.pages import pickup_page, pickups_page
from server.refusal import NotFound
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
    booked = book_pickup(session, **form.clean.model_dump(), zone=signed.time_zone, by=signed.name, now=now)
    return seen(request, "pickups.pickup", pickup_id=booked.id)


@router.post("/waste/pickups/schedules", name="pickups.repeat_pickups")
def repeat(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewSchedule], Depends(submitted(NewSchedule))],
) -> Response:
    if form.clean is None:
        page = pickups_page(session, now=now, zone=signed.time_zone, schedule_form=form)
        return show(request, "pickups/pickups.html", page, status=422)
    repeat_pickups(session, **form.clean.model_dump(), zone=signed.time_zone, by=signed.name, now=now)
    return seen(request, "pickups.pickups")


@router.post("/waste/pickups/schedules/{schedule_id}/end", name="pickups.end_schedule")
def end(request: Request, session: Db, signed: Technician, now: Now, schedule_id: RowId) -> Response:
    end_schedule(session, schedule_id, by=signed.name, now=now)
    return seen(request, "pickups.pickups")


@router.get("/waste/pickups/{pickup_id}", name="pickups.pickup")
def pickup(request: Request, session: Db, signed: Technician, now: Now, pickup_id: RowId) -> Response:
    page = pickup_page(session, pickup_id, now=now, zone=signed.time_zone)
    return show(request, "pickups/pickup.html", page)


@router.post("/waste/pickups/{pickup_id}/change", name="pickups.change_pickup")
def change(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    pickup_id: RowId,
    form: Annotated[Submitted[ChangedPickup], Depends(submitted(ChangedPickup))],
) -> Response:
    if form.clean is None:
        page = pickup_page(session, pickup_id, now=now, zone=signed.time_zone, change_form=form)
        return show(request, "pickups/pickup.html", page, status=422)
    typed = form.clean.model_dump()
    change_pickup(session, pickup_id, **typed, zone=signed.time_zone, by=signed.name, now=now)
    return seen(request, "pickups.pickup", pickup_id=pickup_id)


@router.post("/waste/pickups/{pickup_id}/containers", name="pickups.choose_containers")
def choose(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    pickup_id: RowId,
    form: Annotated[Submitted[ChosenContainers], Depends(submitted(ChosenContainers))],
) -> Response:
    if form.clean is None:
        raise NotFound("There is no such waste container in this lab. Open the pickup's page anew.")
    chosen = form.clean.container_ids
    choose_containers(session, pickup_id, chosen, zone=signed.time_zone, by=signed.name, now=now)
    return seen(request, "pickups.pickup", pickup_id=pickup_id)


@router.post("/waste/pickups/{pickup_id}/request", name="pickups.request_pickup")
def mark_requested(request: Request, session: Db, signed: Technician, now: Now, pickup_id: RowId) -> Response:
    request_pickup(session, pickup_id, zone=signed.time_zone, by=signed.name, now=now)
    return seen(request, "pickups.pickup", pickup_id=pickup_id)


@router.post("/waste/pickups/{pickup_id}/withdraw", name="pickups.withdraw_request")
def withdraw(request: Request, session: Db, signed: Technician, now: Now, pickup_id: RowId) -> Response:
    withdraw_request(session, pickup_id, zone=signed.time_zone, by=signed.name, now=now)
    return seen(request, "pickups.pickup", pickup_id=pickup_id)


@router.post("/waste/pickups/{pickup_id}/call-off", name="pickups.call_off_pickup")
def call_off(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    pickup_id: RowId,
    form: Annotated[Submitted[CallingOff], Depends(submitted(CallingOff))],
) -> Response:
    if form.clean is None:
        page = pickup_page(session, pickup_id, now=now, zone=signed.time_zone, call_off_form=form)
        return show(request, "pickups/pickup.html", page, status=422)
    call_off_pickup(session, pickup_id, reason=form.clean.reason, by=signed.name, now=now)
    return seen(request, "pickups.pickups")
