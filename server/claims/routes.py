"""Addresses of plates left to dry and of their slips."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.claims.actions import hand_out, put_back
from server.claims.forms import HandedOut, LeftToDry
from server.claims.pages import claims_page, slips_page
from server.people.access import Db, Now, Technician
from server.runs.actions import leave_to_dry
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/claims", name="claims.claims")
def claims(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "claims/claims.html", claims_page(session, now, signed.time_zone))


@router.get("/claims/slips", name="claims.slips")
def slips(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "claims/slips.html", slips_page(session, now, signed.time_zone))


@router.post("/claims", name="claims.leave")
def leave(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[LeftToDry], Depends(submitted(LeftToDry))],
) -> Response:
    typed = form.clean
    if typed is None:
        page = claims_page(session, now, signed.time_zone, form)
        return show(request, "claims/claims.html", page, status=422)
    leave_to_dry(session, typed.run_id, place_id=typed.place_id, slot=typed.number, by=signed.name, now=now)
    return seen(request, "claims.claims")


@router.post("/claims/hand-out", name="claims.hand_out")
def hand(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[HandedOut], Depends(submitted(HandedOut))],
) -> Response:
    if form.clean is None:
        page = claims_page(session, now, signed.time_zone, ticked=form)
        return show(request, "claims/claims.html", page, status=422)
    hand_out(session, form.clean.slip_ids, by=signed.name, now=now)
    return seen(request, "claims.claims")


@router.post("/claims/{slip_id}/put-back", name="claims.put_back")
def put(
    request: Request,
    session: Db,
    signed: Technician,  # noqa: ARG001
    slip_id: RowId,
) -> Response:
    put_back(session, slip_id)
    return seen(request, "claims.claims")
