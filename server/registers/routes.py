"""Addresses of the register of the waste ledger."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.core.moments import day_at
from server.people.access import Base, Db, Now, Technician
from server.registers.forms import Span
from server.registers.pages import entries_file, find_wanted, lives_file, register_page
from server.web.downloads import long_download
from server.web.show import show
from server.web.submitted import asked

router = APIRouter()
CSV = "text/csv; header=present"


@router.get("/waste/register", name="registers.register")
def register(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    form = asked(request, Span)
    page = register_page(session, form, lab_name=signed.lab_name, now=now, zone=signed.time_zone)
    return show(request, "registers/register.html", page, status=422 if form.errors else 200)


@router.get("/waste/register/entries.csv", name="registers.entries_file")
def entries(request: Request, session: Db, database: Base, now: Now, signed: Technician) -> Response:
    form = asked(request, Span)
    span, zone = form.clean or Span(), signed.time_zone
    if form.errors:
        page = register_page(session, form, lab_name=signed.lab_name, now=now, zone=zone)
        return show(request, "registers/register.html", page, status=422)
    wanted = find_wanted(session, span.container)
    container_id = None if wanted is None else wanted.id
    pieces = entries_file(database, signed.lab_id, span, container_id=container_id, zone=zone)
    return long_download(pieces, name=f"waste register {day_at(now, zone)}.csv", media_type=CSV)


@router.get("/waste/register/containers.csv", name="registers.lives_file")
def lives(database: Base, now: Now, signed: Technician) -> Response:
    pieces = lives_file(database, signed.lab_id, zone=signed.time_zone)
    name = f"waste containers {day_at(now, signed.time_zone)}.csv"
    return long_download(pieces, name=name, media_type=CSV)
