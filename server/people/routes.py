"""Addresses of the people pages."""

from functools import partial
from typing import Annotated

from anyio.to_thread import run_sync
from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from server.core.codes import as_typed
from server.people.access import COOKIE, Anyone, Base, Db, Instructor, Now
from server.people.actions import (
    add_person,
    add_section,
    find_by_password,
    join_group,
    set_up_lab,
    sign_in,
    sign_out,
)
from server.people.forms import (
    ClassCode,
    JoinGroup,
    NewPerson,
    NewSection,
    SetUp,
    SigningIn,
)
from server.people.models import Role
from server.people.pages import (
    JoinPage,
    SetUpPage,
    SignInPage,
    join_page,
    people_page,
    sign_in_again,
)
from server.people.queries import count_labs
from server.web.show import own_address, seen, show
from server.web.submitted import Submitted, submitted

router = APIRouter()


def _with_cookie(request: Request, response: Response, token: str) -> Response:
    response.set_cookie(
        COOKIE, token, httponly=True, samesite="lax", secure=request.url.scheme == "https", path="/"
    )
    return response


@router.get("/set-up", name="people.set_up")
def set_up(request: Request, _signed: Anyone, code: str = "") -> Response:
    return show(request, "people/set_up.html", SetUpPage(Submitted({"code": code})))


@router.post("/set-up", name="people.open_lab")
def open_the_lab(
    request: Request,
    session: Db,
    now: Now,
    _signed: Anyone,
    form: Annotated[Submitted[SetUp], Depends(submitted(SetUp))],
) -> Response:
    if form.clean is None:
        return show(request, "people/set_up.html", SetUpPage(form), status=422)
    person = set_up_lab(session, **form.clean.model_dump(), now=now)
    return _with_cookie(request, seen(request, "today.today"), sign_in(session, person, now=now))


@router.get("/sign-in", name="people.sign_in")
def sign_in_page(request: Request, session: Db, _signed: Anyone, next: str = "/") -> Response:  # noqa: A002 - the address says it
    if not count_labs(session):
        return seen(request, "people.set_up")
    return show(request, "people/sign_in.html", SignInPage(Submitted(), own_address(next)))


@router.post("/sign-in", name="people.enter")
async def enter(
    request: Request,
    database: Base,
    now: Now,
    _signed: Anyone,
    form: Annotated[Submitted[SigningIn], Depends(submitted(SigningIn))],
) -> Response:
    typed, person, before = form.clean, None, request.cookies.get(COOKIE, "")
    if typed is not None:
        async with database.turn(None, writes=False) as session:
            person = await run_sync(find_by_password, session, typed.email, typed.password)
    if typed is None or person is None:
        again = sign_in_again(form, own_address(form.value("next", "/")))
        return show(request, "people/sign_in.html", again, status=422)
    async with database.turn(None, writes=True) as session:
        token = await run_sync(partial(sign_in, session, person, replaces=before, now=now))
    return _with_cookie(request, RedirectResponse(own_address(typed.next), status_code=303), token)


@router.post("/sign-out", name="people.leave")
def leave(request: Request, session: Db, _signed: Anyone) -> Response:
    sign_out(session, request.cookies.get(COOKIE, ""))
    response = seen(request, "people.sign_in")
    response.delete_cookie(COOKIE, path="/")
    return response


@router.get("/join", name="people.join")
def join(request: Request, _signed: Anyone) -> Response:
    return show(request, "people/join.html", JoinPage(Submitted(), "", "", ()))


@router.post("/join", name="people.find_class")
def find_class(
    request: Request,
    session: Db,
    _signed: Anyone,
    form: Annotated[Submitted[ClassCode], Depends(submitted(ClassCode))],
) -> Response:
    code = as_typed(form.value("code"))
    page = join_page(session, code, form)
    if page.section:
        return seen(request, "people.join_with_code", code=code)
    unknown = form.refused("code", "This class code is not known. Check it on the board and type it again.")
    return show(request, "people/join.html", JoinPage(unknown, "", "", ()), status=422)


@router.get("/join/{code}", name="people.join_with_code")
def join_with_code(request: Request, session: Db, _signed: Anyone, code: str) -> Response:
    page = join_page(session, as_typed(code), Submitted({"code": code}))
    if page.section:
        return show(request, "people/join.html", page)
    unknown = Submitted[ClassCode](
        {"code": code}, {"code": "This class code is not known. Check it on the board."}
    )
    return show(request, "people/join.html", JoinPage(unknown, "", "", ()), status=404)


@router.post("/join/{code}", name="people.join_group")
def join_the_group(
    request: Request,
    session: Db,
    now: Now,
    _signed: Anyone,
    code: str,
    form: Annotated[Submitted[JoinGroup], Depends(submitted(JoinGroup))],
) -> Response:
    if form.clean is None:
        return show(request, "people/join.html", join_page(session, as_typed(code), form), status=422)
    token = join_group(session, code=code, group_id=form.clean.group_id, now=now)
    return _with_cookie(request, seen(request, "runs.tablet"), token)


@router.get("/people", name="people.people")
def people(request: Request, session: Db, _person: Instructor) -> Response:
    return show(request, "people/people.html", people_page(session))


@router.post("/people/staff", name="people.add_person")
def add_the_person(
    request: Request,
    session: Db,
    _person: Instructor,
    form: Annotated[Submitted[NewPerson], Depends(submitted(NewPerson))],
) -> Response:
    if form.clean is None:
        return show(request, "people/people.html", people_page(session, person_form=form), status=422)
    typed = form.clean
    add_person(session, name=typed.name, email=typed.email, role=Role(typed.role), password=typed.password)
    return seen(request, "people.people")


@router.post("/people/sections", name="people.add_section")
def add_the_section(
    request: Request,
    session: Db,
    _person: Instructor,
    form: Annotated[Submitted[NewSection], Depends(submitted(NewSection))],
) -> Response:
    if form.clean is None:
        return show(request, "people/people.html", people_page(session, section_form=form), status=422)
    section = add_section(session, name=form.clean.name)
    return seen(request, "students.section", section_id=section.id)
