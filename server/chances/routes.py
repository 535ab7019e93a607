"""The address of a rotation's chance of finishing."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.chances.pages import chance_page
from server.people.access import Db, Technician
from server.web.show import show
from server.web.submitted import RowId

router = APIRouter()


@router.get("/rotations/{rotation_id}/chance", name="chances.chance")
def chance(request: Request, session: Db, signed: Technician, rotation_id: RowId) -> Response:
    page = chance_page(session, rotation_id, signed.time_zone)
    return show(request, "chances/chance.html", page, part="chances/_chance.html")
