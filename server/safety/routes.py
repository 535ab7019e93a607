"""Addresses of the safety pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.core.moments import day_at
from server.people.access import Db, Now, Technician
from server.safety.actions import put_right, record_eyewash, record_round, record_shelf_round
from server.safety.forms import EyewashRound, NewRound, PutRight, ShelfRound, read_looks
from server.safety.pages import (
    checklist_page,
    eyewash_page,
    history_page,
    looks_page,
    rounds_table,
    safety_page,
    shelf_page,
)
from server.web.downloads import download
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/safety", name="safety.safety")
def safety(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "safety/safety.html", safety_page(session, now, signed.time_zone))


@router.get("/safety/checklist", name="safety.checklist")
def checklist(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    page = checklist_page(session, signed.lab_name, now, signed.time_zone)
    return show(request, "safety/checklist.html", page)


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


@router.get("/safety/eyewash", name="safety.eyewash")
def eyewash(request: Request, _signed: Technician) -> Response:
    return show(request, "safety/eyewash.html", eyewash_page())


@router.post("/safety/eyewash", name="safety.record_eyewash")
def ran(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[EyewashRound], Depends(submitted(EyewashRound))],
) -> Response:
    if form.clean is None:
        return show(request, "safety/eyewash.html", eyewash_page(form), status=422)
    record_eyewash(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "safety.safety")


@router.get("/safety/shelf", name="safety.shelf")
def shelf(request: Request, session: Db, signed: Technician) -> Response:
    return show(request, "safety/shelf.html", shelf_page(session, signed.time_zone))


@router.post("/safety/shelf", name="safety.record_shelf_round")
def looked(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[ShelfRound], Depends(submitted(ShelfRound))],
) -> Response:
    lines = read_looks(form)
    looks = [(line.clean.container_id, line.clean.found) for line in lines if line.clean]
    if form.clean is None or len(looks) < len(lines):
        page = shelf_page(session, signed.time_zone, form, lines)
        return show(request, "safety/shelf.html", page, status=422)
    told = form.clean.model_dump(include={"note", "tablet_id"})
    record_shelf_round(session, looks=looks, **told, by=signed.name, now=now)
    return seen(request, "safety.safety")


@router.post("/safety/findings", name="safety.put_right")
def put_one_right(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[PutRight], Depends(submitted(PutRight))],
) -> Response:
    if form.clean is None:
        page = safety_page(session, now, signed.time_zone, right_form=form)
        return show(request, "safety/safety.html", page, status=422)
    put_right(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "safety.safety")


@router.get("/safety/history", name="safety.history")
def history(request: Request, session: Db, signed: Technician, before: RowId | None = None) -> Response:
    page = history_page(session, signed.lab_name, signed.time_zone, before=before)
    return show(request, "safety/history.html", page)


@router.get("/safety/containers/{container_id}", name="safety.looks")
def looks(request: Request, session: Db, signed: Technician, container_id: RowId) -> Response:
    return show(request, "safety/looks.html", looks_page(session, container_id, signed.time_zone))


@router.get("/safety/rounds.csv", name="safety.rounds_file")
def rounds_file(session: Db, now: Now, signed: Technician) -> Response:
    name = f"safety rounds {day_at(now, signed.time_zone)}.csv"
    text = rounds_table(session, zone=signed.time_zone)
    return download(text, name=name, media_type="text/csv; header=present")
