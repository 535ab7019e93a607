"""Addresses of the lab's activities, and of a rotation's roles."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from server.activities.actions import add_activity, add_usual_activities, change_activity, remove_activity
from server.activities.forms import AskedActivity, UsualPlace
from server.activities.pages import activities_page, activity_page, role_sheet_page, roles_page
from server.people.access import Db, Instructor, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()

# Codes of students, such as Tue2-G4-b.
Codes = Annotated[list[str], Query(default_factory=list)]


@router.get("/activities", name="activities.activities")
def activities(request: Request, session: Db, _person: Technician) -> Response:
    return show(request, "activities/activities.html", activities_page(session))


@router.post("/activities", name="activities.add")
def add(
    request: Request,
    session: Db,
    _person: Instructor,
    form: Annotated[Submitted[AskedActivity], Depends(submitted(AskedActivity))],
) -> Response:
    if form.clean is None:
        page = activities_page(session, form=form)
        return show(request, "activities/activities.html", page, status=422)
    add_activity(session, form.clean)
    return seen(request, "activities.activities")


@router.post("/activities/usual", name="activities.add_usual")
def add_usual(
    request: Request,
    session: Db,
    _person: Instructor,
    form: Annotated[Submitted[UsualPlace], Depends(submitted(UsualPlace))],
) -> Response:
    if form.clean is None:
        page = activities_page(session, usual_form=form)
        return show(request, "activities/activities.html", page, status=422)
    add_usual_activities(session, **form.clean.model_dump())
    return seen(request, "activities.activities")


@router.get("/activities/{activity_id}", name="activities.activity")
def activity(request: Request, session: Db, _person: Instructor, activity_id: RowId) -> Response:
    return show(request, "activities/activity.html", activity_page(session, activity_id))


@router.post("/activities/{activity_id}", name="activities.change")
def change(
    request: Request,
    session: Db,
    _person: Instructor,
    activity_id: RowId,
    form: Annotated[Submitted[AskedActivity], Depends(submitted(AskedActivity))],
) -> Response:
    if form.clean is None:
        page = activity_page(session, activity_id, form)
        return show(request, "activities/activity.html", page, status=422)
    change_activity(session, activity_id, form.clean)
    return seen(request, "activities.activities")


@router.post("/activities/{activity_id}/remove", name="activities.remove")
def remove(request: Request, session: Db, _person: Instructor, activity_id: RowId) -> Response:
    remove_activity(session, activity_id)
    return seen(request, "activities.activities")


@router.get("/rotations/{rotation_id}/roles", name="activities.roles")
def roles(
    request: Request, session: Db, signed: Technician, rotation_id: RowId, away: Codes, lit: Codes
) -> Response:
    page = roles_page(session, rotation_id, signed.time_zone, away=away, lit=lit)
    return show(request, "activities/roles.html", page)


@router.get("/rotations/{rotation_id}/roles/sheet", name="activities.role_sheet")
def role_sheet(
    request: Request, session: Db, signed: Technician, rotation_id: RowId, away: Codes, lit: Codes
) -> Response:
    page = role_sheet_page(session, rotation_id, signed.time_zone, away=away, lit=lit)
    return show(request, "activities/role_sheet.html", page)
