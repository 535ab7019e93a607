"""Addresses of the people pages."""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Annotated, TypeVar

from anyio.to_thread import run_sync
from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from server.core.codes import as_typed
from server.core.tries import Secret
from server.data.session import Database, LabSession
from server.people.access import COOKIE, Anyone, Base, Db, Instructor, Now, Signed, Technician
from server.people.actions import (
    Tries,
    add_person,
    add_section,
    change_password,
    count_try,
    find_by_password,
    is_own_password,
    join_group,
    make_password,
    remove_person,
    set_up_lab,
    sign_in,
    sign_out,
    tries_of,
    try_code,
)
from server.people.forms import (
    ClassCode,
    JoinGroup,
    NewPassword,
    NewPerson,
    NewSection,
    SetUp,
    SigningIn,
)
from server.people.models import Person, Role
from server.people.pages import (
    JoinPage,
    SetUpPage,
    SignInPage,
    join_page,
    password_page,
    people_page,
    sign_in_again,
)
from server.people.queries import count_labs
from server.web.lights import keep_colour, screen_of
from server.web.show import own_address, seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()

Written = TypeVar("Written")


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


def _tries(request: Request, kind: Secret, secret: str) -> Tries:
    return tries_of("" if request.client is None else request.client.host, kind, secret)


async def _write(
    database: Database, act: Callable[[LabSession], Written], lab_id: int | None = None
) -> Written:
    async with database.turn(lab_id, writes=True) as session:
        return await run_sync(act, session)


async def _try_password(
    database: Database, typed: SigningIn | None, tries: Tries, now: datetime
) -> tuple[Person | None, int]:
    """Whose e-mail address and password these are, and the seconds to wait before the next try."""
    wait_s = 0 if typed is None else await _write(database, partial(count_try, tries=tries, now=now))
    if typed is None or wait_s:
        return None, wait_s
    async with database.turn(None, writes=False) as session:
        return await run_sync(find_by_password, session, typed.email, typed.password), 0


@router.post("/sign-in", name="people.enter")
async def enter(
    request: Request,
    database: Base,
    now: Now,
    _signed: Anyone,
    form: Annotated[Submitted[SigningIn], Depends(submitted(SigningIn))],
) -> Response:
    following, before = own_address(form.value("next", "/")), request.cookies.get(COOKIE, "")
    tries = _tries(request, Secret.EMAIL, form.value("email").strip())
    person, wait_s = await _try_password(database, form.clean, tries, now)
    if person is None:
        again = sign_in_again(form, following, wait_s)
        return show(request, "people/sign_in.html", again, status=429 if wait_s else 422)
    act = partial(sign_in, person=person, replaces=before, tries=tries, now=now)
    return _with_cookie(request, RedirectResponse(following, status_code=303), await _write(database, act))


@router.get("/password", name="people.password")
def password(request: Request, _person: Technician) -> Response:
    return show(request, "people/password.html", password_page())


async def _try_own_password(
    database: Database, signed: Signed, typed: NewPassword, tries: Tries, now: datetime
) -> int | None:
    """None where the current password is right; otherwise the seconds to wait before the next try, 0 where it was wrong."""
    wait_s = await _write(database, partial(count_try, tries=tries, now=now))
    if wait_s:
        return wait_s
    async with database.turn(signed.lab_id, writes=False) as session:
        return None if await run_sync(is_own_password, session, signed.person_id, typed.current) else 0


def _password_again(request: Request, form: Submitted[NewPassword], wait_s: int = 0) -> Response:
    page = password_page(form, wait_s)
    return show(request, "people/password.html", page, status=429 if wait_s else 422)


@router.post("/password", name="people.change_password")
async def change_the_password(
    request: Request,
    database: Base,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewPassword], Depends(submitted(NewPassword))],
) -> Response:
    if form.clean is None:
        return _password_again(request, form)
    token, tries = request.cookies.get(COOKIE, ""), _tries(request, Secret.PERSON, str(signed.person_id))
    wait_s = await _try_own_password(database, signed, form.clean, tries, now)
    if wait_s is not None:
        return _password_again(request, form, wait_s)
    made = await run_sync(make_password, form.clean.password)
    act = partial(change_password, person_id=signed.person_id, made=made, token=token, tries=tries)
    await _write(database, act, signed.lab_id)
    return seen(request, "today.today")


@router.post("/sign-out", name="people.leave")
def leave(request: Request, session: Db, _signed: Anyone) -> Response:
    sign_out(session, request.cookies.get(COOKIE, ""))
    response = seen(request, "people.sign_in")
    response.delete_cookie(COOKIE, path="/")
    return response


def _in_the_dark(request: Request, page: JoinPage, *, status: int = 200) -> Response:
    """Whoever joins may stand beside open plates already, and the device keeps the colour that it was shown."""
    answer = show(request, "people/join.html", page, status=status)
    keep_colour(request, answer, screen_of(request, page))
    return answer


@router.get("/join", name="people.join")
def join(request: Request, _signed: Anyone) -> Response:
    return _in_the_dark(request, JoinPage(Submitted(), "", "", ()))


@router.post("/join", name="people.find_class")
def find_class(
    request: Request,
    session: Db,
    now: Now,
    _signed: Anyone,
    form: Annotated[Submitted[ClassCode], Depends(submitted(ClassCode))],
) -> Response:
    code = as_typed(form.value("code"))
    wait_s = try_code(session, code=code, tries=_tries(request, Secret.CLASS_CODE, code), now=now)
    page = join_page(session, code, form, wait_s)
    if page.section:
        return seen(request, "people.join_with_code", code=code)
    return _in_the_dark(request, page, status=429 if wait_s else 422)


@router.get("/join/{code}", name="people.join_with_code")
async def join_with_code(request: Request, database: Base, now: Now, _signed: Anyone, code: str) -> Response:
    typed = as_typed(code)
    # Looking here writes one thing: that a code was tried, for who guesses codes would guess them by their links.
    act = partial(try_code, code=typed, tries=_tries(request, Secret.CLASS_CODE, typed), now=now)
    wait_s = await _write(database, act)
    async with database.turn(None, writes=False) as session:
        page = await run_sync(join_page, session, typed, Submitted[ClassCode]({"code": code}), wait_s)
    status = 200 if page.section else 429 if wait_s else 404
    return _in_the_dark(request, page, status=status)


@router.post("/join/{code}", name="people.join_group")
def join_the_group(
    request: Request,
    session: Db,
    now: Now,
    _signed: Anyone,
    code: str,
    form: Annotated[Submitted[JoinGroup], Depends(submitted(JoinGroup))],
) -> Response:
    typed = as_typed(code)
    wait_s = try_code(session, code=typed, tries=_tries(request, Secret.CLASS_CODE, typed), now=now)
    page = join_page(session, typed, form, wait_s)
    if form.clean is None or not page.section:
        return _in_the_dark(request, page, status=429 if wait_s else 422)
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


@router.post("/people/staff/{person_id}/remove", name="people.remove_person")
def remove_the_person(request: Request, session: Db, signed: Instructor, person_id: RowId) -> Response:
    remove_person(session, person_id, by=signed.person_id)
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
