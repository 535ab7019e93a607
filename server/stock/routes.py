"""Addresses of the stock pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.stock.actions import (
    correct_bottle,
    correct_plates,
    discard_from_bottle,
    draw_plates,
    open_plate_box,
    take_in_kit,
    take_in_plate_box,
)
from server.stock.forms import (
    CountedPlates,
    DiscardedVolume,
    DrawnPlates,
    LostPlates,
    MeasuredVolume,
    NewKit,
    NewPlateBox,
    Opening,
)
from server.stock.models import PlateEntryKind
from server.stock.pages import account_page, kit_page, plate_box_page, stock_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/stock", name="stock.stock")
def stock(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "stock/stock.html", stock_page(session, now, signed.time_zone))


@router.post("/stock/kits", name="stock.take_in_kit")
def take_in_the_kit(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewKit], Depends(submitted(NewKit))],
) -> Response:
    if form.clean is None:
        page = stock_page(session, now, signed.time_zone, kit_form=form)
        return show(request, "stock/stock.html", page, status=422)
    kit = take_in_kit(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "stock.kit", kit_id=kit.id)


@router.get("/stock/kits/{kit_id}", name="stock.kit")
def kit(request: Request, session: Db, now: Now, signed: Technician, kit_id: RowId) -> Response:
    return show(request, "stock/kit.html", kit_page(session, kit_id, now, signed.time_zone))


@router.post("/stock/kits/{kit_id}/discards", name="stock.discard_from_bottle")
def discard(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    kit_id: RowId,
    form: Annotated[Submitted[DiscardedVolume], Depends(submitted(DiscardedVolume))],
) -> Response:
    if form.clean is None:
        page = kit_page(session, kit_id, now, signed.time_zone, discard_form=form)
        return show(request, "stock/kit.html", page, status=422)
    discard_from_bottle(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "stock.kit", kit_id=kit_id)


@router.post("/stock/kits/{kit_id}/corrections", name="stock.correct_bottle")
def correct_the_bottle(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    kit_id: RowId,
    form: Annotated[Submitted[MeasuredVolume], Depends(submitted(MeasuredVolume))],
) -> Response:
    if form.clean is None:
        page = kit_page(session, kit_id, now, signed.time_zone, measure_form=form)
        return show(request, "stock/kit.html", page, status=422)
    correct_bottle(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "stock.kit", kit_id=kit_id)


@router.get("/stock/account", name="stock.account")
def account(request: Request, session: Db, _signed: Technician) -> Response:
    return show(request, "stock/account.html", account_page(session))


@router.post("/stock/plate-boxes", name="stock.take_in_plate_box")
def take_in_the_plate_box(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewPlateBox], Depends(submitted(NewPlateBox))],
) -> Response:
    if form.clean is None:
        page = stock_page(session, now, signed.time_zone, box_form=form)
        return show(request, "stock/stock.html", page, status=422)
    box = take_in_plate_box(session, **form.clean.described(), by=signed.name, now=now)
    return seen(request, "stock.plate_box", plate_box_id=box.id)


@router.get("/stock/plate-boxes/{plate_box_id}", name="stock.plate_box")
def plate_box(request: Request, session: Db, now: Now, signed: Technician, plate_box_id: RowId) -> Response:
    return show(request, "stock/plate_box.html", plate_box_page(session, plate_box_id, now, signed.time_zone))


@router.post("/stock/plate-boxes/{plate_box_id}/opening", name="stock.open_plate_box")
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
        return show(request, "stock/plate_box.html", page, status=422)
    open_plate_box(session, plate_box_id, now=now)
    return seen(request, "stock.plate_box", plate_box_id=plate_box_id)


@router.post("/stock/plate-boxes/{plate_box_id}/tests", name="stock.draw_test_plates")
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
        return show(request, "stock/plate_box.html", page, status=422)
    taken = form.clean.model_dump()
    draw_plates(session, plate_box_id, **taken, kind=PlateEntryKind.TEST, by=signed.name, now=now)
    return seen(request, "stock.plate_box", plate_box_id=plate_box_id)


@router.post("/stock/plate-boxes/{plate_box_id}/losses", name="stock.record_lost_plates")
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
        return show(request, "stock/plate_box.html", page, status=422)
    lost = form.clean.model_dump()
    draw_plates(session, plate_box_id, **lost, kind=PlateEntryKind.LOST, by=signed.name, now=now)
    return seen(request, "stock.plate_box", plate_box_id=plate_box_id)


@router.post("/stock/plate-boxes/{plate_box_id}/corrections", name="stock.correct_plates")
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
        return show(request, "stock/plate_box.html", page, status=422)
    correct_plates(session, plate_box_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "stock.plate_box", plate_box_id=plate_box_id)
