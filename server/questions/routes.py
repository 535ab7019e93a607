"""Addresses of what is asked of the planner."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Instructor, Now, Signed, Technician
from server.questions.actions import (
    add_break,
    add_mix,
    ask_groups,
    delete_rotation,
    remove_break,
    remove_mix,
    rename_rotation,
    set_class_times,
    set_reserve_rounds,
    take_in_class_file,
)
from server.questions.forms import (
    AskedOfGroup,
    ClassTimes,
    GroupTable,
    NewBreak,
    NewMix,
    NewName,
    ReserveRounds,
    TakenFile,
)
from server.questions.pages import QuestionForms, question_page, take_in_page
from server.rotations.actions import add_period, instant_on, remove_period
from server.rotations.forms import NewPeriod
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, read_lines, submitted

router = APIRouter()


@router.get("/rotations/{rotation_id}/question", name="questions.question")
def question(request: Request, session: Db, signed: Technician, now: Now, rotation_id: RowId) -> Response:
    page = question_page(session, rotation_id, signed.time_zone, now)
    return show(request, "questions/question.html", page)


def _again(
    request: Request, session: Db, signed: Signed, now: Now, rotation_id: int, forms: QuestionForms
) -> Response:
    """The page once more, with what was typed and its faults."""
    page = question_page(session, rotation_id, signed.time_zone, now, forms)
    return show(request, "questions/question.html", page, status=422)


@router.post("/rotations/{rotation_id}/times", name="questions.set_times")
def set_times(
    request: Request,
    session: Db,
    signed: Instructor,
    now: Now,
    rotation_id: RowId,
    form: Annotated[Submitted[ClassTimes], Depends(submitted(ClassTimes))],
) -> Response:
    if form.clean is None:
        return _again(request, session, signed, now, rotation_id, QuestionForms(times=form))
    set_class_times(
        session, rotation_id, talk_s=60 * form.clean.talk_min, clean_up_s=60 * form.clean.clean_up_min
    )
    return seen(request, "questions.question", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/periods", name="questions.add_period")
def add_a_period(
    request: Request,
    session: Db,
    signed: Instructor,
    now: Now,
    rotation_id: RowId,
    form: Annotated[Submitted[NewPeriod], Depends(submitted(NewPeriod))],
) -> Response:
    if form.clean is None:
        return _again(request, session, signed, now, rotation_id, QuestionForms(period=form))
    add_period(session, rotation_id, **form.clean.model_dump(), zone=signed.time_zone)
    return seen(request, "questions.question", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/periods/{period_id}/remove", name="questions.remove_period")
def remove_a_period(
    request: Request, session: Db, _person: Instructor, rotation_id: RowId, period_id: RowId
) -> Response:
    remove_period(session, rotation_id, period_id)
    return seen(request, "questions.question", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/breaks", name="questions.add_break")
def add_a_break(
    request: Request,
    session: Db,
    signed: Instructor,
    now: Now,
    rotation_id: RowId,
    form: Annotated[Submitted[NewBreak], Depends(submitted(NewBreak))],
) -> Response:
    if form.clean is None:
        return _again(request, session, signed, now, rotation_id, QuestionForms(of_break=form))
    add_break(session, rotation_id, **form.clean.model_dump(), zone=signed.time_zone)
    return seen(request, "questions.question", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/breaks/{break_id}/remove", name="questions.remove_break")
def remove_a_break(
    request: Request, session: Db, _person: Instructor, rotation_id: RowId, break_id: RowId
) -> Response:
    remove_break(session, rotation_id, break_id)
    return seen(request, "questions.question", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/plates", name="questions.ask_groups")
def ask_the_groups(
    request: Request,
    session: Db,
    signed: Instructor,
    now: Now,
    rotation_id: RowId,
    form: Annotated[Submitted[GroupTable], Depends(submitted(GroupTable))],
) -> Response:
    lines = read_lines(AskedOfGroup, form.clean or GroupTable())
    asked = [line.clean for line in lines if line.clean is not None]
    if len(asked) < len(lines):
        return _again(request, session, signed, now, rotation_id, QuestionForms(groups=lines))
    plates = {one.group_id: one.plates for one in asked}
    ask_groups(session, rotation_id, plates, {one.group_id: one.tied_place_id for one in asked})
    return seen(request, "questions.question", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/mixes", name="questions.add_mix")
def add_a_mix(
    request: Request,
    session: Db,
    signed: Instructor,
    now: Now,
    rotation_id: RowId,
    form: Annotated[Submitted[NewMix], Depends(submitted(NewMix))],
) -> Response:
    if form.clean is None:
        return _again(request, session, signed, now, rotation_id, QuestionForms(mix=form))
    mixed_at = instant_on(form.clean.mixed_on, form.clean.mixed_at, signed.time_zone)
    add_mix(session, rotation_id, mixed_at=mixed_at, life_s=form.clean.life_s, plates=form.clean.serves)
    return seen(request, "questions.question", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/mixes/{mix_id}/remove", name="questions.remove_mix")
def remove_a_mix(
    request: Request, session: Db, _person: Instructor, rotation_id: RowId, mix_id: RowId
) -> Response:
    remove_mix(session, rotation_id, mix_id)
    return seen(request, "questions.question", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/reserve", name="questions.set_reserve")
def set_reserve(
    request: Request,
    session: Db,
    signed: Instructor,
    now: Now,
    rotation_id: RowId,
    form: Annotated[Submitted[ReserveRounds], Depends(submitted(ReserveRounds))],
) -> Response:
    if form.clean is None:
        return _again(request, session, signed, now, rotation_id, QuestionForms(reserve=form))
    set_reserve_rounds(session, rotation_id, reserve_rounds=form.clean.reserve_rounds)
    return seen(request, "questions.question", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/name", name="questions.rename")
def rename(
    request: Request,
    session: Db,
    signed: Instructor,
    now: Now,
    rotation_id: RowId,
    form: Annotated[Submitted[NewName], Depends(submitted(NewName))],
) -> Response:
    if form.clean is None:
        return _again(request, session, signed, now, rotation_id, QuestionForms(name=form))
    rename_rotation(session, rotation_id, name=form.clean.name)
    return seen(request, "questions.question", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/delete", name="questions.delete")
def delete(request: Request, session: Db, _person: Instructor, rotation_id: RowId) -> Response:
    delete_rotation(session, rotation_id)
    return seen(request, "rotations.rotations")


@router.get("/class-file", name="questions.taking_in")
def taking_in(request: Request, session: Db, _person: Instructor) -> Response:
    return show(request, "questions/class_file.html", take_in_page(session))


@router.post("/class-file", name="questions.take_in")
def take_in(
    request: Request,
    session: Db,
    signed: Instructor,
    now: Now,
    form: Annotated[Submitted[TakenFile], Depends(submitted(TakenFile))],
) -> Response:
    if form.clean is None:
        return show(request, "questions/class_file.html", take_in_page(session, form), status=422)
    added = take_in_class_file(session, **form.clean.model_dump(), now=now, zone=signed.time_zone)
    return seen(request, "rotations.rotation", rotation_id=added.id)
