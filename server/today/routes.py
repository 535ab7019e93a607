"""Addresses of Today and the page of parts."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.people.access import Anyone, Db, Now, Technician
from server.people.queries import count_labs
from server.today.pages import parts_page, today_page
from server.web.show import seen, show

router = APIRouter()


@router.get("/", name="today.today")
def today(request: Request, session: Db, now: Now, signed: Anyone) -> Response:
    if signed is None:
        return seen(request, "people.sign_in" if count_labs(session) else "people.set_up")
    if not signed.is_staff:
        return seen(request, "runs.tablet")
    return show(request, "today/today.html", today_page(session, signed, now))


@router.get("/parts", name="today.parts")
def parts(request: Request, now: Now, _person: Technician) -> Response:
    return show(request, "today/parts.html", parts_page(now))
