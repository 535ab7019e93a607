"""Addresses of the trays' page."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.charges.actions import pour_charge
from server.charges.forms import NewCharge
from server.charges.pages import trays_page
from server.people.access import Db, Now, Technician
from server.web.show import seen, show
from server.web.submitted import Submitted, submitted

router = APIRouter()


@router.get("/charges", name="charges.trays")
def trays(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "charges/trays.html", trays_page(session, now, signed.time_zone))


@router.post("/charges", name="charges.pour_charge")
def pour_the_charge(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewCharge], Depends(submitted(NewCharge))],
) -> Response:
    if form.clean is None:
        return show(
            request, "charges/trays.html", trays_page(session, now, signed.time_zone, form), status=422
        )
    pour_charge(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "charges.trays")
