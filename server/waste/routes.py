"""Addresses of the overview of waste."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.waste.pages import waste_page
from server.web.show import show

router = APIRouter()


@router.get("/waste", name="waste.waste")
def waste(request: Request, session: Db, signed: Technician, now: Now) -> Response:
    return show(request, "waste/waste.html", waste_page(session, now=now, zone=signed.time_zone))
