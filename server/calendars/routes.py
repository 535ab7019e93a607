"""Addresses of the calendars page, and the ones that calendar programs ask."""

from functools import partial
from typing import Annotated

from anyio.to_thread import run_sync
from fastapi import APIRouter, Depends, Request
from starlette.responses import PlainTextResponse, Response

from server.calendars.actions import (
    add_address,
    calendar_file,
    fetched_calendar,
    renew_address,
    withdraw_address,
)
from server.calendars.forms import NewAddress
from server.calendars.pages import calendars_page
from server.core.codes import hashed
from server.data.session import LabSession
from server.people.access import Anyone, Base, Db, Instructor, Now, Signed, Technician
from server.rotations.queries import file_name
from server.web.downloads import download
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/calendars", name="calendars.calendars")
def calendars(request: Request, session: Db, signed: Instructor) -> Response:
    return show(request, "calendars/calendars.html", calendars_page(session, signed.time_zone))


@router.post("/calendars", name="calendars.add")
def add(
    request: Request,
    session: Db,
    signed: Instructor,
    now: Now,
    form: Annotated[Submitted[NewAddress], Depends(submitted(NewAddress))],
) -> Response:
    if form.clean is None:
        page = calendars_page(session, signed.time_zone, form)
        return show(request, "calendars/calendars.html", page, status=422)
    return _shown(request, session, signed, add_address(session, **form.clean.model_dump(), now=now))


@router.post("/calendars/{address_id}/renew", name="calendars.renew")
def renew(request: Request, session: Db, signed: Instructor, now: Now, address_id: RowId) -> Response:
    return _shown(request, session, signed, renew_address(session, address_id, now=now))


@router.post("/calendars/{address_id}/withdraw", name="calendars.withdraw")
def withdraw(request: Request, session: Db, _person: Instructor, address_id: RowId) -> Response:
    withdraw_address(session, address_id)
    return seen(request, "calendars.calendars")


def _shown(request: Request, session: LabSession, signed: Signed, secret: str) -> Response:
    """The page with the new address on it: what is kept of it can't be shown again, so the answer to the form must."""
    address = str(request.url_for("calendars.fetch", secret=secret))
    page = calendars_page(session, signed.time_zone, shown=address)
    response = show(request, "calendars/calendars.html", page)
    response.headers["HX-Push-Url"] = request.url_for("calendars.calendars").path
    return response


@router.get("/calendar/{secret}.ics", name="calendars.fetch")
async def fetch(
    request: Request, database: Base, now: Now, _signed: Anyone, secret: str, group: str = ""
) -> Response:
    # A turn of its own, bound to no lab: whoever asks may be signed in to another one in the same browser.
    async with database.turn(None, writes=False) as session:
        text = await run_sync(partial(fetched_calendar, session, secret, group=group, now=now))
    return _fetched(request, text)


def _fetched(request: Request, text: str | None) -> Response:
    if text is None:
        sentence = "There is no calendar at this address. Ask who gave it to you for a new one.\n"
        return PlainTextResponse(sentence, 404, headers={"Cache-Control": "no-store"})
    tag = f'"{hashed(text)}"'
    headers = {"ETag": tag, "Cache-Control": "private, no-cache"}
    known = [one.strip().removeprefix("W/") for one in request.headers.get("If-None-Match", "").split(",")]
    if tag in known or "*" in known:
        return Response(status_code=304, headers=headers)
    return Response(text, media_type="text/calendar", headers=headers)


@router.get("/rotations/{rotation_id}/calendar.ics", name="calendars.file")
def download_file(session: Db, signed: Technician, rotation_id: RowId) -> Response:
    text = calendar_file(session, rotation_id)
    name = file_name(session, rotation_id, "calendar.ics", zone=signed.time_zone)
    return download(text, name=name, media_type="text/calendar")
