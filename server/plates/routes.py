"""Addresses of the pages of plate boxes."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.plates.actions import correct_plates, draw_plates, open_plate_box, take_in_plate_box
from server.plates.forms import CountedPlates, DrawnPlates, LostPlates, NewPlateBox, Opening
from server.plates.models import PlateEntryKind
from server.plates.pages import plate_box_page, plate_boxes_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/stock/plate-boxes", name="plates.plate_boxes")
def plate_boxes(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "plates/plate_boxes.html", plate_boxes_page(session, now, signed.time_zone))


@router.post("/stock/plate-boxes", name="plates.take_in_plate_box")
def take_in_the_plate_box(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewPlateBox], Depends(submitted(NewPlateBox))],
) -> Response:
    if form.clean is None:
        page = plate_boxes_page(session, now, signed.time_zone, box_form=form)
        return show(request, "plates/plate_boxes.html", page, status=422)
    box = take_in_plate_box(session, **form.clean.described(), by=signed.name, now=now)
    return seen(request, "plates.plate_box", plate_box_id=box.id)


@router.get("/stock/plate-boxes/{plate_box_id}", name="plates.plate_box")
def plate_box(request: Request, session: Db, now: Now, signed: Technician, plate_box_id: RowId) -> Response:
    return show(
        request, "plates/plate_box.html", plate_box_page(session, plate_box_id, now, signed.time_zone)
    )


@router.post("/stock/plate-boxes/{plate_box_id}/opening", name="plates.open_plate_box")
def open_the_plate_box(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    plate_box_id: RowId,
    form: Annotated[Submitted[Opening], Depends(submitted(Opening))],
) -> Response:
    if form.clean is None:
        page = plate_box_page(session, plate_box_id, now, signed.time_zone, opening_form=form)
        return show(request, "plates/plate_box.html", page, status=422)
    open_plate_box(session, plate_box_id, now=now)
    return seen(request, "plates.plate_box", plate_box_id=plate_box_id)


@router.post("/stock/plate-boxes/{plate_box_id}/tests", name="plates.draw_test_plates")
def draw_test_plates(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    plate_box_id: RowId,
    form: Annotated[Submitted[DrawnPlates], Depends(submitted(DrawnPlates))],
) -> Response:
    if form.clean is None:
        page = plate_box_page(session, plate_box_id, now, signed.time_zone, test_form=form)
        return show(request, "plates/plate_box.html", page, status=422)
    taken = form.clean.model_dump()
    draw_plates(session, plate_box_id, **taken, kind=PlateEntryKind.TEST, by=signed.name, now=now)
    return seen(request, "plates.plate_box", plate_box_id=plate_box_id)


@router.post("/stock/plate-boxes/{plate_box_id}/losses", name="plates.record_lost_plates")
def record_lost_plates(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    plate_box_id: RowId,
    form: Annotated[Submitted[LostPlates], Depends(submitted(LostPlates))],
) -> Response:
    if form.clean is None:
        page = plate_box_page(session, plate_box_id, now, signed.time_zone, lost_form=form)
        return show(request, "plates/plate_box.html", page, status=422)
    lost = form.clean.model_dump()
    draw_plates(session, plate_box_id, **lost, kind=PlateEntryKind.LOST, by=signed.name, now=now)
    return seen(request, "plates.plate_box", plate_box_id=plate_box_id)


@router.post("/stock/plate-boxes/{plate_box_id}/corrections", name="plates.correct_plates")
def correct_the_plates(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    plate_box_id: RowId,
    form: Annotated[Submitted[CountedPlates], Depends(submitted(CountedPlates))],
) -> Response:
    if form.clean is None:
        page = plate_box_page(session, plate_box_id, now, signed.time_zone, count_form=form)
        return show(request, "plates/plate_box.html", page, status=422)
    correct_plates(session, plate_box_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "plates.plate_box", plate_box_id=plate_box_id)
