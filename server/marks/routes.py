"""Addresses of the marks pages. All of them are the instructor's."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.core.moments import day_at
from server.marks.actions import (
    add_rubric,
    add_usual_rubric,
    give_level,
    give_own_points,
    mark_by,
    note_absence,
    write_edition,
)
from server.marks.forms import (
    CriterionTable,
    GivenLevel,
    MarkedBy,
    NewEdition,
    NewRubric,
    NotedAbsence,
    OwnPoints,
    read_criteria,
)
from server.marks.pages import (
    marks_page,
    marks_table,
    rubric_edition_page,
    rubric_page,
    rubrics_page,
    section_marks_page,
    student_marks_page,
)
from server.people.access import Db, Instructor, Now
from server.people.queries import get_section
from server.web.downloads import download
from server.web.show import seen, show, wants_part
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/marks", name="marks.marks")
def marks(request: Request, session: Db, _person: Instructor) -> Response:
    return show(request, "marks/marks.html", marks_page(session))


@router.get("/marks/sections/{section_id}", name="marks.section")
def section(request: Request, session: Db, now: Now, _person: Instructor, section_id: RowId) -> Response:
    return show(request, "marks/section.html", section_marks_page(session, section_id, now))


@router.post("/marks/sections/{section_id}", name="marks.mark_by")
def choose_a_rubric(
    request: Request,
    session: Db,
    now: Now,
    signed: Instructor,
    section_id: RowId,
    form: Annotated[Submitted[MarkedBy], Depends(submitted(MarkedBy))],
) -> Response:
    if form.clean is None:
        page = section_marks_page(session, section_id, now, form)
        return show(request, "marks/section.html", page, status=422)
    mark_by(session, section_id, **form.clean.kept(), by=signed.name, now=now)
    return seen(request, "marks.section", section_id=section_id)


@router.get("/marks/sections/{section_id}/marks.csv", name="marks.file")
def file(session: Db, now: Now, signed: Instructor, section_id: RowId) -> Response:
    text = marks_table(session, section_id, now)
    name = f"marks {get_section(session, section_id).name} {day_at(now, signed.time_zone)}.csv"
    return download(text, name=name, media_type="text/csv; header=present")


@router.get("/marks/sections/{section_id}/students/{student_id}", name="marks.student")
def student(
    request: Request, session: Db, now: Now, signed: Instructor, section_id: RowId, student_id: RowId
) -> Response:
    until = None if wants_part(request) else now
    page = student_marks_page(session, section_id, student_id, until, signed.time_zone)
    return show(request, "marks/student.html", page, part="marks/_mark_criteria.html")


@router.post("/marks/sections/{section_id}/students/{student_id}/levels", name="marks.give_level")
def give(
    request: Request,
    session: Db,
    now: Now,
    signed: Instructor,
    section_id: RowId,
    student_id: RowId,
    form: Annotated[Submitted[GivenLevel], Depends(submitted(GivenLevel))],
) -> Response:
    if form.clean is None:
        page = student_marks_page(session, section_id, student_id, now, signed.time_zone)
        return show(request, "marks/student.html", page, part="marks/_mark_criteria.html", status=422)
    give_level(session, section_id, student_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "marks.student", section_id=section_id, student_id=student_id)


@router.post("/marks/sections/{section_id}/students/{student_id}/points", name="marks.give_own_points")
def override(
    request: Request,
    session: Db,
    now: Now,
    signed: Instructor,
    section_id: RowId,
    student_id: RowId,
    form: Annotated[Submitted[OwnPoints], Depends(submitted(OwnPoints))],
) -> Response:
    if form.clean is None:
        page = student_marks_page(session, section_id, student_id, now, signed.time_zone, form)
        return show(request, "marks/student.html", page, status=422)
    give_own_points(session, section_id, student_id, **form.clean.kept(), by=signed.name, now=now)
    return seen(request, "marks.student", section_id=section_id, student_id=student_id)


@router.post("/marks/sections/{section_id}/students/{student_id}/absences", name="marks.note_absence")
def away(
    request: Request,
    session: Db,
    now: Now,
    signed: Instructor,
    section_id: RowId,
    student_id: RowId,
    form: Annotated[Submitted[NotedAbsence], Depends(submitted(NotedAbsence))],
) -> Response:
    if form.clean is None:
        page = student_marks_page(session, section_id, student_id, now, signed.time_zone)
        return show(request, "marks/student.html", page, status=422)
    note_absence(session, section_id, student_id, **form.clean.model_dump())
    return seen(request, "marks.student", section_id=section_id, student_id=student_id)


@router.get("/marks/rubrics", name="marks.rubrics")
def rubrics(request: Request, session: Db, _person: Instructor) -> Response:
    return show(request, "marks/rubrics.html", rubrics_page(session))


@router.post("/marks/rubrics", name="marks.add_rubric")
def add(
    request: Request,
    session: Db,
    _person: Instructor,
    form: Annotated[Submitted[NewRubric], Depends(submitted(NewRubric))],
) -> Response:
    if form.clean is None:
        return show(request, "marks/rubrics.html", rubrics_page(session, form), status=422)
    rubric = add_rubric(session, name=form.clean.name)
    return seen(request, "marks.next_edition", rubric_id=rubric.id)


@router.post("/marks/rubrics/usual", name="marks.add_usual_rubric")
def add_usual(request: Request, session: Db, now: Now, signed: Instructor) -> Response:
    rubric = add_usual_rubric(session, by=signed.name, now=now)
    return seen(request, "marks.rubric", rubric_id=rubric.id)


@router.get("/marks/rubrics/{rubric_id}", name="marks.rubric")
def rubric(request: Request, session: Db, signed: Instructor, rubric_id: RowId) -> Response:
    return show(request, "marks/rubric.html", rubric_page(session, rubric_id, signed.time_zone))


@router.get("/marks/rubrics/{rubric_id}/editions/{number}", name="marks.edition")
def edition(request: Request, session: Db, signed: Instructor, rubric_id: RowId, number: RowId) -> Response:
    page = rubric_page(session, rubric_id, signed.time_zone, number=number)
    return show(request, "marks/rubric.html", page)


@router.get("/marks/rubrics/{rubric_id}/next-edition", name="marks.next_edition")
def next_edition(request: Request, session: Db, _person: Instructor, rubric_id: RowId) -> Response:
    return show(request, "marks/edition.html", rubric_edition_page(session, rubric_id))


@router.post("/marks/rubrics/{rubric_id}/next-edition", name="marks.write_edition")
def write(
    request: Request,
    session: Db,
    now: Now,
    signed: Instructor,
    rubric_id: RowId,
    form: Annotated[Submitted[NewEdition], Depends(submitted(NewEdition))],
    table: Annotated[Submitted[CriterionTable], Depends(submitted(CriterionTable))],
) -> Response:
    lines, criteria = read_criteria(table.clean or CriterionTable())
    if form.clean is None or any(line.errors for line in lines):
        page = rubric_edition_page(session, rubric_id, form, lines)
        return show(request, "marks/edition.html", page, status=422)
    write_edition(session, rubric_id, criteria, note=form.clean.note, by=signed.name, now=now)
    return seen(request, "marks.rubric", rubric_id=rubric_id)
