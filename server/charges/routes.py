"""Addresses of the trays' pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.charges.actions import allow_early_pouring, allow_more_plates, pour_charge, top_up_charge
from server.charges.forms import NewCharge, PlatesAllowed, PouredEarly, ToppingUp
from server.charges.pages import charge_page, trays_page
from server.people.access import Db, Instructor, Now, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/charges", name="charges.trays")
def trays(
    request: Request, session: Db, now: Now, signed: Technician, place_id: RowId | None = None
) -> Response:
    page = trays_page(session, signed, now, place_id=place_id)
    return show(request, "charges/trays.html", page)


@router.post("/charges", name="charges.pour_charge")
def pour_the_charge(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewCharge], Depends(submitted(NewCharge))],
) -> Response:
    if form.clean is None:
        page = trays_page(session, signed, now, form)
        return show(request, "charges/trays.html", page, status=422)
    pour_charge(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "charges.trays")


@router.post("/charges/early", name="charges.allow_early_pouring")
def allow_early(
    request: Request,
    session: Db,
    now: Now,
    signed: Instructor,
    form: Annotated[Submitted[PouredEarly], Depends(submitted(PouredEarly))],
) -> Response:
    if form.clean is None:
        page = trays_page(session, signed, now, early_form=form)
        return show(request, "charges/trays.html", page, status=422)
    allow_early_pouring(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "charges.trays")


@router.get("/charges/{charge_id}", name="charges.charge")
def charge(request: Request, session: Db, now: Now, signed: Technician, charge_id: RowId) -> Response:
    return show(request, "charges/charge.html", charge_page(session, charge_id, signed, now))


@router.post("/charges/{charge_id}/parts", name="charges.top_up_charge")
def top_up(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    charge_id: RowId,
    form: Annotated[Submitted[ToppingUp], Depends(submitted(ToppingUp))],
) -> Response:
    if form.clean is None:
        page = charge_page(session, charge_id, signed, now, top_up_form=form)
        return show(request, "charges/charge.html", page, status=422)
    top_up_charge(session, charge_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "charges.charge", charge_id=charge_id)


@router.post("/charges/{charge_id}/more-plates", name="charges.allow_more_plates")
def allow(
    request: Request,
    session: Db,
    now: Now,
    signed: Instructor,
    charge_id: RowId,
    form: Annotated[Submitted[PlatesAllowed], Depends(submitted(PlatesAllowed))],
) -> Response:
    if form.clean is None:
        page = charge_page(session, charge_id, signed, now, allow_form=form)
        return show(request, "charges/charge.html", page, status=422)
    allow_more_plates(session, charge_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "charges.charge", charge_id=charge_id)
