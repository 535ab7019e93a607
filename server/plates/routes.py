"""Addresses of the pages of plate boxes and of light incidents."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.data.session import LabSession
from server.people.access import Db, Now, Signed, Technician
from server.plates.actions import (
    correct_plates,
    draw_plates,
    log_light,
    open_plate_box,
    put_back_into_cold,
    record_fog_test,
    seal_plate_box,
    take_in_plate_box,
    take_out_of_cold,
)
from server.plates.forms import (
    CountedPlates,
    DrawnPlates,
    FogTest,
    Handling,
    LostPlates,
    NewLightIncident,
    NewPlateBox,
    Opening,
)
from server.plates.models import PlateEntryKind
from server.plates.pages import BoxForms, light_incidents_page, plate_box_page, plate_boxes_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()

HandlingForm = Annotated[Submitted[Handling], Depends(submitted(Handling))]


def _again(
    request: Request, session: LabSession, now: Now, signed: Signed, plate_box_id: int, forms: BoxForms
) -> Response:
    """The page of the box with what was typed."""
    page = plate_box_page(session, plate_box_id, now, signed.time_zone, forms)
    return show(request, "plates/plate_box.html", page, status=422)


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


@router.get("/stock/light-incidents", name="plates.light_incidents")
def light_incidents(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    page = light_incidents_page(session, now, signed.time_zone)
    return show(request, "plates/light_incidents.html", page)


@router.post("/stock/light-incidents", name="plates.log_light")
def log_the_light(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewLightIncident], Depends(submitted(NewLightIncident))],
) -> Response:
    if form.clean is None:
        page = light_incidents_page(session, now, signed.time_zone, form)
        return show(request, "plates/light_incidents.html", page, status=422)
    log_light(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "plates.light_incidents")


@router.get("/stock/plate-boxes/{plate_box_id}", name="plates.plate_box")
def plate_box(request: Request, session: Db, now: Now, signed: Technician, plate_box_id: RowId) -> Response:
    page = plate_box_page(session, plate_box_id, now, signed.time_zone)
    return show(request, "plates/plate_box.html", page)


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
        return _again(request, session, now, signed, plate_box_id, BoxForms(opening=form))
    open_plate_box(session, plate_box_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "plates.plate_box", plate_box_id=plate_box_id)


@router.post("/stock/plate-boxes/{plate_box_id}/sealing", name="plates.seal_plate_box")
def seal_the_plate_box(
    request: Request, session: Db, now: Now, signed: Technician, plate_box_id: RowId, form: HandlingForm
) -> Response:
    if form.clean is None:
        return _again(request, session, now, signed, plate_box_id, BoxForms(handling=form))
    seal_plate_box(session, plate_box_id, clock=form.clean.clock, by=signed.name, now=now)
    return seen(request, "plates.plate_box", plate_box_id=plate_box_id)


@router.post("/stock/plate-boxes/{plate_box_id}/warming", name="plates.take_out_of_cold")
def take_the_box_out_of_the_cold(
    request: Request, session: Db, now: Now, signed: Technician, plate_box_id: RowId, form: HandlingForm
) -> Response:
    if form.clean is None:
        return _again(request, session, now, signed, plate_box_id, BoxForms(handling=form))
    take_out_of_cold(session, plate_box_id, clock=form.clean.clock, by=signed.name, now=now)
    return seen(request, "plates.plate_box", plate_box_id=plate_box_id)


@router.post("/stock/plate-boxes/{plate_box_id}/cooling", name="plates.put_back_into_cold")
def put_the_box_back_into_the_cold(
    request: Request, session: Db, now: Now, signed: Technician, plate_box_id: RowId, form: HandlingForm
) -> Response:
    if form.clean is None:
        return _again(request, session, now, signed, plate_box_id, BoxForms(handling=form))
    put_back_into_cold(session, plate_box_id, clock=form.clean.clock, by=signed.name, now=now)
    return seen(request, "plates.plate_box", plate_box_id=plate_box_id)


@router.post("/stock/plate-boxes/{plate_box_id}/fog-tests", name="plates.record_fog_test")
def record_the_fog_test(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    plate_box_id: RowId,
    form: Annotated[Submitted[FogTest], Depends(submitted(FogTest))],
) -> Response:
    if form.clean is None:
        return _again(request, session, now, signed, plate_box_id, BoxForms(fog=form))
    tested, is_fogged = form.clean.model_dump(exclude={"result"}), form.clean.result == "fogged"
    record_fog_test(session, plate_box_id, **tested, is_fogged=is_fogged, by=signed.name, now=now)
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
        return _again(request, session, now, signed, plate_box_id, BoxForms(test=form))
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
        return _again(request, session, now, signed, plate_box_id, BoxForms(lost=form))
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
        return _again(request, session, now, signed, plate_box_id, BoxForms(count=form))
    correct_plates(session, plate_box_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "plates.plate_box", plate_box_id=plate_box_id)
