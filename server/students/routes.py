"""Addresses of a section and its students."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.core.grouping import read_names
from server.people.access import Db, Instructor
from server.people.actions import enter_students, form_section_groups, remove_student
from server.students.actions import describe_section, move_student
from server.students.forms import GroupSize, NewGroup, NewStudents, SectionDetails
from server.students.pages import section_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


def _class_link(request: Request) -> str:
    return str(request.url_for("people.join_with_code", code="X")).removesuffix("X")


@router.get("/people/sections/{section_id}", name="students.section")
def section(request: Request, session: Db, _person: Instructor, section_id: RowId) -> Response:
    return show(request, "students/section.html", section_page(session, section_id, _class_link(request)))


@router.post("/people/sections/{section_id}", name="students.describe")
def describe(
    request: Request,
    session: Db,
    _person: Instructor,
    section_id: RowId,
    form: Annotated[Submitted[SectionDetails], Depends(submitted(SectionDetails))],
) -> Response:
    if form.clean is None:
        page = section_page(session, section_id, _class_link(request), details_form=form)
        return show(request, "students/section.html", page, status=422)
    describe_section(session, section_id, **form.clean.model_dump())
    return seen(request, "students.section", section_id=section_id)


@router.post("/people/sections/{section_id}/students", name="students.enter")
def enter(
    request: Request,
    session: Db,
    _person: Instructor,
    section_id: RowId,
    form: Annotated[Submitted[NewStudents], Depends(submitted(NewStudents))],
) -> Response:
    if form.clean is None:
        page = section_page(session, section_id, _class_link(request), students_form=form)
        return show(request, "students/section.html", page, status=422)
    enter_students(session, section_id, read_names(form.clean.names).names)
    return seen(request, "students.section", section_id=section_id)


@router.post("/people/sections/{section_id}/students/{student_id}/remove", name="students.remove")
def remove(
    request: Request, session: Db, _person: Instructor, section_id: RowId, student_id: RowId
) -> Response:
    remove_student(session, section_id, student_id)
    return seen(request, "students.section", section_id=section_id)


@router.post("/people/sections/{section_id}/students/{student_id}/move", name="students.move")
def move(
    request: Request,
    session: Db,
    _person: Instructor,
    section_id: RowId,
    student_id: RowId,
    form: Annotated[Submitted[NewGroup], Depends(submitted(NewGroup))],
) -> Response:
    if form.clean is None:
        page = section_page(session, section_id, _class_link(request))
        return show(request, "students/section.html", page, status=422)
    move_student(session, section_id, student_id, group_id=form.clean.group_id)
    return seen(request, "students.section", section_id=section_id)


@router.post("/people/sections/{section_id}/groups", name="students.form_groups")
def form_groups(
    request: Request,
    session: Db,
    _person: Instructor,
    section_id: RowId,
    form: Annotated[Submitted[GroupSize], Depends(submitted(GroupSize))],
) -> Response:
    if form.clean is None:
        page = section_page(session, section_id, _class_link(request), size_form=form)
        return show(request, "students/section.html", page, status=422)
    form_section_groups(session, section_id, size=form.clean.size)
    return seen(request, "students.section", section_id=section_id)
