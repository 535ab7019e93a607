"""Addresses of the exposure pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.exposures.actions import record_reading, take_learned_exposure, take_over_exposure
from server.exposures.forms import LearnedTime, NewReading, TakenOver
from server.exposures.pages import exposures_page
from server.people.access import Db, Now, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/exposures", name="exposures.exposures")
def exposures(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "exposures/exposures.html", exposures_page(session, now, signed.time_zone))


@router.get("/exposures/boxes/{plate_box_id}", name="exposures.of_box")
def of_box(request: Request, session: Db, now: Now, signed: Technician, plate_box_id: RowId) -> Response:
    page = exposures_page(session, now, signed.time_zone, plate_box_id=plate_box_id)
    return show(request, "exposures/exposures.html", page)


@router.post("/exposures/readings", name="exposures.record_reading")
def record(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewReading], Depends(submitted(NewReading))],
) -> Response:
    if form.clean is None:
        page = exposures_page(session, now, signed.time_zone, form=form)
        return show(request, "exposures/exposures.html", page, status=422)
    reading = form.clean.model_dump(exclude={"plate_box_id"})
    record_reading(session, **reading, by=signed.name, now=now)
    if form.clean.plate_box_id is None:
        return seen(request, "exposures.exposures")
    return seen(request, "exposures.of_box", plate_box_id=form.clean.plate_box_id)


@router.post("/exposures/boxes/{plate_box_id}/take-over", name="exposures.take_over")
def take_over(
    request: Request,
    session: Db,
    _signed: Technician,
    plate_box_id: RowId,
    form: Annotated[Submitted[TakenOver], Depends(submitted(TakenOver))],
) -> Response:
    reading_id = None if form.clean is None else form.clean.reading_id
    take_over_exposure(session, reading_id=reading_id, plate_box_id=plate_box_id)
    return seen(request, "exposures.of_box", plate_box_id=plate_box_id)


@router.post("/exposures/boxes/{plate_box_id}/learned", name="exposures.take_learned")
def take_learned(
    request: Request,
    session: Db,
    _signed: Technician,
    plate_box_id: RowId,
    form: Annotated[Submitted[LearnedTime], Depends(submitted(LearnedTime))],
) -> Response:
    shown = (None, None) if form.clean is None else (form.clean.place_id, form.clean.exposure_s)
    take_learned_exposure(session, plate_box_id=plate_box_id, place_id=shown[0], exposure_s=shown[1])
    return seen(request, "exposures.of_box", plate_box_id=plate_box_id)
