"""Address of the page of strengths."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.people.access import Technician
from server.strengths.pages import strengths_page
from server.web.show import show

router = APIRouter()


@router.get("/strengths", name="strengths.strengths")
def strengths(request: Request, _signed: Technician) -> Response:
    return show(request, "strengths/strengths.html", strengths_page(request.query_params))
