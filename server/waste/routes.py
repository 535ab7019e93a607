"""Addresses of the waste pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.waste.actions import (
    add_stream,
    add_usual_streams,
    book_pickup,
    call_off_pickup,
    close_container,
    hand_over,
    move_fill_line,
    open_container,
    pour,
    reopen_container,
    request_pickup,
    reverse_entry,
)
from server.waste.forms import HandOver, MovedLine, NewContainer, NewPickup, NewPour, NewStream, Reversal
from server.waste.pages import container_page, label_page, pickup_page, pickups_page, pour_page, waste_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/waste", name="waste.waste")
def waste(request: Request, session: Db, signed: Technician, now: Now) -> Response:
    return show(request, "waste/waste.html", waste_page(session, now=now, zone=signed.time_zone))


@router.post("/waste/streams", name="waste.add_stream")
def add_one_stream(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewStream], Depends(submitted(NewStream))],
) -> Response:
    if form.clean is None:
        page = waste_page(session, now=now, zone=signed.time_zone, stream_form=form)
        return show(request, "waste/waste.html", page, status=422)
    add_stream(session, **form.clean.model_dump())
    return seen(request, "waste.waste")


@router.post("/waste/streams/usual", name="waste.add_usual_streams")
def add_the_usual_streams(request: Request, session: Db, _signed: Technician) -> Response:
    add_usual_streams(session)
    return seen(request, "waste.waste")


@router.post("/waste/containers", name="waste.open_container")
def open_one(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewContainer], Depends(submitted(NewContainer))],
) -> Response:
    if form.clean is None:
        page = waste_page(session, now=now, zone=signed.time_zone, container_form=form)
        return show(request, "waste/waste.html", page, status=422)
    opened = open_container(session, **form.clean.model_dump(), now=now)
    return seen(request, "waste.container", container_id=opened.id)


@router.get("/waste/containers/{container_id}", name="waste.container")
def container(request: Request, session: Db, signed: Technician, container_id: RowId) -> Response:
    return show(request, "waste/container.html", container_page(session, container_id, zone=signed.time_zone))


@router.get("/waste/containers/{container_id}/label", name="waste.label")
def label(request: Request, session: Db, signed: Technician, container_id: RowId) -> Response:
    page = label_page(session, container_id, zone=signed.time_zone, lab=signed.lab_name)
    return show(request, "waste/label.html", page)


@router.post("/waste/containers/{container_id}/close", name="waste.close_container")
def close(request: Request, session: Db, _signed: Technician, container_id: RowId) -> Response:
    close_container(session, container_id)
    return seen(request, "waste.container", container_id=container_id)


@router.post("/waste/containers/{container_id}/open", name="waste.reopen_container")
def reopen(request: Request, session: Db, _signed: Technician, container_id: RowId) -> Response:
    reopen_container(session, container_id)
    return seen(request, "waste.container", container_id=container_id)


@router.post("/waste/containers/{container_id}/line", name="waste.move_fill_line")
def move_line(
    request: Request,
    session: Db,
    signed: Technician,
    container_id: RowId,
    form: Annotated[Submitted[MovedLine], Depends(submitted(MovedLine))],
) -> Response:
    if form.clean is None:
        page = container_page(session, container_id, zone=signed.time_zone, line_form=form)
        return show(request, "waste/container.html", page, status=422)
    move_fill_line(session, container_id, **form.clean.model_dump())
    return seen(request, "waste.container", container_id=container_id)


@router.post("/waste/containers/{container_id}/reverse", name="waste.reverse_entry")
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
        return show(request, "waste/container.html", page, status=422)
    reverse_entry(session, container_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "waste.container", container_id=container_id)


@router.get("/waste/pour", name="waste.pouring")
def pouring(
    request: Request,
    session: Db,
    _signed: Technician,
    container_id: RowId | None = None,
    charge_id: RowId | None = None,
) -> Response:
    return show(
        request, "waste/pour.html", pour_page(session, container_id=container_id, charge_id=charge_id)
    )


@router.post("/waste/pour", name="waste.pour")
def log_pour(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewPour], Depends(submitted(NewPour))],
) -> Response:
    if form.clean is None:
        return show(request, "waste/pour.html", pour_page(session, form=form), status=422)
    pour(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "waste.container", container_id=form.clean.container_id)


@router.get("/waste/pickups", name="waste.pickups")
def pickups(request: Request, session: Db, signed: Technician, now: Now) -> Response:
    return show(request, "waste/pickups.html", pickups_page(session, now=now, zone=signed.time_zone))


@router.post("/waste/pickups", name="waste.book_pickup")
def book(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewPickup], Depends(submitted(NewPickup))],
) -> Response:
    if form.clean is None:
        page = pickups_page(session, now=now, zone=signed.time_zone, form=form)
        return show(request, "waste/pickups.html", page, status=422)
    booked = book_pickup(session, **form.clean.model_dump(), zone=signed.time_zone, now=now)
    return seen(request, "waste.pickup", pickup_id=booked.id)


@router.get("/waste/pickups/{pickup_id}", name="waste.pickup")
def pickup(request: Request, session: Db, signed: Technician, now: Now, pickup_id: RowId) -> Response:
    page = pickup_page(session, pickup_id, now=now, zone=signed.time_zone, lab=signed.lab_name)
    return show(request, "waste/pickup.html", page)


@router.post("/waste/pickups/{pickup_id}/request", name="waste.request_pickup")
def mark_requested(request: Request, session: Db, signed: Technician, now: Now, pickup_id: RowId) -> Response:
    request_pickup(session, pickup_id, zone=signed.time_zone, now=now)
    return seen(request, "waste.pickup", pickup_id=pickup_id)


@router.post("/waste/pickups/{pickup_id}/call-off", name="waste.call_off_pickup")
def call_off(request: Request, session: Db, _signed: Technician, pickup_id: RowId) -> Response:
    call_off_pickup(session, pickup_id)
    return seen(request, "waste.pickups")


@router.post("/waste/pickups/{pickup_id}/hand-over", name="waste.hand_over")
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
        return show(request, "waste/pickup.html", page, status=422)
    hand_over(session, pickup_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "waste.pickup", pickup_id=pickup_id)
