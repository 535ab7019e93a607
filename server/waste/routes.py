"""Addresses of the overview of waste."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.containers.actions import open_container
from server.containers.forms import NewContainer
from server.people.access import Db, Now, Technician
from server.waste.pages import waste_page
from server.web.show import seen, show
from server.web.submitted import Submitted, submitted

router = APIRouter()


@router.get("/waste", name="waste.waste")
def waste(request: Request, session: Db, signed: Technician, now: Now) -> Response:
    return show(request, "waste/waste.html", waste_page(session, now=now, zone=signed.time_zone))


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
    opened = open_container(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "containers.container", container_id=opened.id)
