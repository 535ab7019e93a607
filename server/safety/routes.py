"""Addresses of the safety pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.safety.actions import record_round
from server.safety.forms import NewRound
from server.safety.pages import checklist_page, safety_page
from server.web.show import seen, show
from server.web.submitted import Submitted, submitted

router = APIRouter()


@router.get("/safety", name="safety.safety")
def safety(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "safety/safety.html", safety_page(session, now, signed.time_zone))


@router.get("/safety/checklist", name="safety.checklist")
def checklist(request: Request, now: Now, signed: Technician) -> Response:
    return show(request, "safety/checklist.html", checklist_page(signed.lab_name, now, signed.time_zone))


@router.post("/safety/rounds", name="safety.record_round")
def record(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewRound], Depends(submitted(NewRound))],
) -> Response:
    if form.clean is None:
        page = safety_page(session, now, signed.time_zone, form)
        return show(request, "safety/safety.html", page, status=422)
    record_round(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "safety.safety")
