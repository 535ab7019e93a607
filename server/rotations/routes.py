"""Addresses of the rotations pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Instructor, Now, Technician
from server.rotations.actions import (
    add_rotation,
    class_file,
    copy_rotation,
    set_steps,
    visits_file,
    withdraw,
)
from server.rotations.forms import (
    NewRotation,
    StepTable,
    read_steps,
)
from server.rotations.pages import rotation_page, rotations_page, sheet_page, steps_page
from server.rotations.queries import file_name
from server.web.downloads import download
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/rotations", name="rotations.rotations")
def rotations(request: Request, session: Db, signed: Technician) -> Response:
    return show(request, "rotations/rotations.html", rotations_page(session, signed.time_zone))


@router.post("/rotations", name="rotations.add")
def add(
    request: Request,
    session: Db,
    signed: Instructor,
    now: Now,
    form: Annotated[Submitted[NewRotation], Depends(submitted(NewRotation))],
) -> Response:
    if form.clean is None:
        page = rotations_page(session, signed.time_zone, form)
        return show(request, "rotations/rotations.html", page, status=422)
    added = add_rotation(session, **form.clean.asked(), now=now, zone=signed.time_zone)
    return seen(request, "rotations.rotation", rotation_id=added.id)


@router.get("/rotations/{rotation_id}", name="rotations.rotation")
def rotation(request: Request, session: Db, signed: Technician, rotation_id: RowId) -> Response:
    return show(request, "rotations/rotation.html", rotation_page(session, rotation_id, signed.time_zone))


@router.get("/rotations/{rotation_id}/sheet", name="rotations.sheet")
def sheet(request: Request, session: Db, signed: Technician, rotation_id: RowId) -> Response:
    return show(request, "rotations/sheet.html", sheet_page(session, rotation_id, signed.time_zone))


@router.get("/rotations/{rotation_id}/class-file", name="rotations.class_file")
def download_class_file(session: Db, signed: Technician, rotation_id: RowId) -> Response:
    text = class_file(session, rotation_id)
    name = file_name(session, rotation_id, "class.json", zone=signed.time_zone)
    return download(text, name=name, media_type="application/json")


@router.get("/rotations/{rotation_id}/visits.csv", name="rotations.visits_file")
def download_visits(session: Db, signed: Technician, rotation_id: RowId) -> Response:
    text = visits_file(session, rotation_id, zone=signed.time_zone)
    name = file_name(session, rotation_id, "visits.csv", zone=signed.time_zone)
    return download(text, name=name, media_type="text/csv; header=present")


@router.post("/rotations/{rotation_id}/withdraw", name="rotations.withdraw")
def withdraw_plan(
    request: Request, session: Db, _person: Instructor, now: Now, rotation_id: RowId
) -> Response:
    withdraw(session, rotation_id, now=now)
    return seen(request, "rotations.rotation", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/copy", name="rotations.copy")
def copy(request: Request, session: Db, _person: Instructor, now: Now, rotation_id: RowId) -> Response:
    return seen(request, "rotations.rotation", rotation_id=copy_rotation(session, rotation_id, now=now).id)


@router.get("/rotations/{rotation_id}/steps", name="rotations.steps")
def steps(request: Request, session: Db, _person: Technician, rotation_id: RowId) -> Response:
    return show(request, "rotations/steps.html", steps_page(session, rotation_id))


@router.post("/rotations/{rotation_id}/steps", name="rotations.set_steps")
def change_steps(
    request: Request,
    session: Db,
    _person: Instructor,
    rotation_id: RowId,
    form: Annotated[Submitted[StepTable], Depends(submitted(StepTable))],
) -> Response:
    lines, asked = read_steps(form.clean or StepTable())
    if any(line.errors for line in lines):
        return show(request, "rotations/steps.html", steps_page(session, rotation_id, lines), status=422)
    set_steps(session, rotation_id, asked)
    return seen(request, "rotations.rotation", rotation_id=rotation_id)
