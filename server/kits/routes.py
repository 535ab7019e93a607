"""Addresses of the pages of kits."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.kits.actions import correct_bottle, discard_from_bottle, take_in_kit
from server.kits.forms import DiscardedVolume, MeasuredVolume, NewKit
from server.kits.pages import kit_page, kits_page
from server.people.access import Db, Now, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/stock/kits", name="kits.kits")
def kits(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "kits/kits.html", kits_page(session, now, signed.time_zone))


@router.post("/stock/kits", name="kits.take_in_kit")
def take_in_the_kit(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewKit], Depends(submitted(NewKit))],
) -> Response:
    if form.clean is None:
        page = kits_page(session, now, signed.time_zone, kit_form=form)
        return show(request, "kits/kits.html", page, status=422)
    kit = take_in_kit(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "kits.kit", kit_id=kit.id)


@router.get("/stock/kits/{kit_id}", name="kits.kit")
def kit(request: Request, session: Db, now: Now, signed: Technician, kit_id: RowId) -> Response:
    return show(request, "kits/kit.html", kit_page(session, kit_id, now, signed.time_zone))


@router.post("/stock/kits/{kit_id}/discards", name="kits.discard_from_bottle")
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
        return show(request, "kits/kit.html", page, status=422)
    discard_from_bottle(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "kits.kit", kit_id=kit_id)


@router.post("/stock/kits/{kit_id}/corrections", name="kits.correct_bottle")
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
        return show(request, "kits/kit.html", page, status=422)
    correct_bottle(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "kits.kit", kit_id=kit_id)
