"""Addresses of a section and its students."""

from functools import partial
from typing import Annotated

from anyio.to_thread import run_sync
from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.core.grouping import read_names
from server.people.access import Base, Db, Instructor, Now, Technician
from server.people.actions import enter_students, form_section_groups, remove_student
from server.people.queries import day_in_lab
from server.students.actions import (
    arrange,
    describe_section,
    erase_names,
    keep_signatures,
    move_student,
    set_away,
    sign_everybody,
)
from server.students.forms import (
    Arranged,
    Away,
    Erasure,
    GroupSize,
    NewGroup,
    NewStudents,
    SectionDetails,
    Signatures,
)
from server.students.pages import (
    adjustments_page,
    agreement_page,
    consents_page,
    names_page,
    section_page,
    student_page,
)
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


def _class_link(request: Request) -> str:
    return str(request.url_for("people.join_with_code", code="X")).removesuffix("X")


@router.get("/people/sections/{section_id}", name="students.section")
def section(request: Request, session: Db, now: Now, _person: Instructor, section_id: RowId) -> Response:
    return show(
        request, "students/section.html", section_page(session, section_id, _class_link(request), now)
    )


@router.post("/people/sections/{section_id}", name="students.describe")
def describe(
    request: Request,
    session: Db,
    now: Now,
    _person: Instructor,
    section_id: RowId,
    form: Annotated[Submitted[SectionDetails], Depends(submitted(SectionDetails))],
) -> Response:
    if form.clean is None:
        page = section_page(session, section_id, _class_link(request), now, details_form=form)
        return show(request, "students/section.html", page, status=422)
    describe_section(session, section_id, **form.clean.model_dump())
    return seen(request, "students.section", section_id=section_id)


@router.post("/people/sections/{section_id}/students", name="students.enter")
def enter(
    request: Request,
    session: Db,
    now: Now,
    _person: Instructor,
    section_id: RowId,
    form: Annotated[Submitted[NewStudents], Depends(submitted(NewStudents))],
) -> Response:
    if form.clean is None:
        page = section_page(session, section_id, _class_link(request), now, students_form=form)
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
    now: Now,
    _person: Instructor,
    section_id: RowId,
    student_id: RowId,
    form: Annotated[Submitted[NewGroup], Depends(submitted(NewGroup))],
) -> Response:
    if form.clean is None:
        page = section_page(session, section_id, _class_link(request), now)
        return show(request, "students/section.html", page, status=422)
    move_student(session, section_id, student_id, group_id=form.clean.group_id)
    return seen(request, "students.section", section_id=section_id)


@router.post("/people/sections/{section_id}/groups", name="students.form_groups")
def form_groups(
    request: Request,
    session: Db,
    now: Now,
    _person: Instructor,
    section_id: RowId,
    form: Annotated[Submitted[GroupSize], Depends(submitted(GroupSize))],
) -> Response:
    if form.clean is None:
        page = section_page(session, section_id, _class_link(request), now, size_form=form)
        return show(request, "students/section.html", page, status=422)
    form_section_groups(session, section_id, size=form.clean.size)
    return seen(request, "students.section", section_id=section_id)


@router.post("/people/sections/{section_id}/students/{student_id}/away", name="students.set_away")
def away(
    request: Request,
    session: Db,
    now: Now,
    _person: Instructor,
    section_id: RowId,
    student_id: RowId,
    form: Annotated[Submitted[Away], Depends(submitted(Away))],
) -> Response:
    is_away = form.clean is not None and form.clean.is_away
    set_away(session, section_id, student_id, day=day_in_lab(session, now), is_away=is_away)
    return seen(request, "students.section", section_id=section_id)


@router.get("/people/sections/{section_id}/consents", name="students.consents")
def consents(request: Request, session: Db, now: Now, _person: Technician, section_id: RowId) -> Response:
    return show(request, "students/consents.html", consents_page(session, section_id, now))


@router.post("/people/sections/{section_id}/consents", name="students.keep_consents")
def keep(
    request: Request,
    session: Db,
    now: Now,
    person: Technician,
    section_id: RowId,
    form: Annotated[Submitted[Signatures], Depends(submitted(Signatures))],
) -> Response:
    if form.clean is None:
        page = consents_page(session, section_id, now, form)
        return show(request, "students/consents.html", page, status=422)
    keep_signatures(session, section_id, form.clean, by=person.name, now=now)
    return seen(request, "students.consents", section_id=section_id)


@router.post("/people/sections/{section_id}/consents/all", name="students.sign_everybody")
def sign_all(request: Request, session: Db, now: Now, person: Technician, section_id: RowId) -> Response:
    sign_everybody(session, section_id, by=person.name, now=now)
    return seen(request, "students.consents", section_id=section_id)


@router.get("/people/sections/{section_id}/agreement", name="students.agreement")
def agreement(request: Request, session: Db, _person: Technician, section_id: RowId) -> Response:
    return show(request, "students/agreement.html", agreement_page(session, section_id))


@router.get("/people/sections/{section_id}/adjustments", name="students.adjustments")
def adjustments(request: Request, session: Db, _person: Technician, section_id: RowId) -> Response:
    return show(request, "students/adjustments.html", adjustments_page(session, section_id))


@router.get("/people/sections/{section_id}/students/{student_id}", name="students.student")
def student(
    request: Request, session: Db, _person: Instructor, section_id: RowId, student_id: RowId
) -> Response:
    return show(request, "students/student.html", student_page(session, section_id, student_id))


@router.post("/people/sections/{section_id}/students/{student_id}", name="students.arrange")
def arrange_for(
    request: Request,
    session: Db,
    _person: Instructor,
    section_id: RowId,
    student_id: RowId,
    form: Annotated[Submitted[Arranged], Depends(submitted(Arranged))],
) -> Response:
    if form.clean is None:
        page = student_page(session, section_id, student_id, form)
        return show(request, "students/student.html", page, status=422)
    typed = form.clean
    arrange(session, section_id, student_id, arrangements=typed.arrangements, words=typed.words)
    return seen(request, "students.adjustments", section_id=section_id)


@router.get("/people/names", name="students.names")
def names(
    request: Request, session: Db, now: Now, _person: Instructor, section: RowId | None = None
) -> Response:
    return show(request, "students/names.html", names_page(session, now, section_id=section))


@router.post("/people/names", name="students.erase")
async def erase(
    request: Request,
    database: Base,
    now: Now,
    signed: Instructor,
    form: Annotated[Submitted[Erasure], Depends(submitted(Erasure))],
) -> Response:
    if form.clean is None:
        async with database.turn(signed.lab_id, writes=False) as session:
            page = await run_sync(names_page, session, now, form)
        return show(request, "students/names.html", page, status=422)
    async with database.turn(signed.lab_id, writes=True) as session:
        act = partial(erase_names, session, form.clean.section_ids, puts_codes=form.clean.puts_codes, now=now)
        tables = await run_sync(act)
    await run_sync(database.wipe, tables)
    return seen(request, "students.names")
