"""Addresses of the lab's tablets, of a screen's own page, and of leaving the dark room with a screen."""

from datetime import datetime
from typing import Annotated

from anyio.to_thread import run_sync
from fastapi import APIRouter, Depends, Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from server.core.screen_light import USUAL_LEVEL
from server.data.session import LabSession
from server.people.access import Anyone, Base, Db, Member, Now, Signed, Technician
from server.refusal import Refusal
from server.tablets.actions import add_screen, note_test, rename_screen, take_name
from server.tablets.forms import Brightness, Estimate, Leaving, NewScreen, NewTest, ThisScreen
from server.tablets.models import Screen
from server.tablets.pages import light_told, one_tablet_page, screen_page, tablets_page
from server.tablets.queries import find_screen
from server.web.lights import (
    KEPT_FOR_S,
    keep_colour,
    keep_level,
    kept_colour,
    level_of,
    put_colour_away,
    shut,
)
from server.web.show import own_address, seen, show
from server.web.submitted import RowId, Submitted, asked, submitted

router = APIRouter()

# Kept by a device that has a name: what the server made for it.
DEVICE_COOKIE = "device"

TestForm = Annotated[Submitted[NewTest], Depends(submitted(NewTest))]
NameForm = Annotated[Submitted[NewScreen], Depends(submitted(NewScreen))]
ThisScreenForm = Annotated[Submitted[ThisScreen], Depends(submitted(ThisScreen))]


def _device(request: Request) -> str:
    return request.cookies.get(DEVICE_COOKIE, "")


@router.post("/out-of-the-dark-room", name="tablets.leave_dark_room")
def leave_dark_room(
    request: Request, _signed: Anyone, form: Annotated[Submitted[Leaving], Depends(submitted(Leaving))]
) -> Response:
    following = own_address(str(form.value("next", "/")))
    if kept_colour(request) == "none" and form.value("is_sure") != "yes":
        return shut(request, following=following, is_asked=True)
    answer = RedirectResponse(following, status_code=303)
    put_colour_away(answer)
    return answer


@router.get("/light", name="tablets.light")
async def light(request: Request, database: Base, now: Now, signed: Member) -> Response:
    """What a page that is open near plates is to show by now. One that may show nothing shows itself while lights are allowed."""
    async with database.turn(signed.lab_id, writes=False) as session:
        told = await run_sync(light_told, session, _device(request), level_of(request), now)
    lit = told.colour == "none" and await request.app.state.lights_allowed(request)
    shown = "green" if lit else told.colour
    answer = JSONResponse(
        {"colour": told.colour, "shown": shown, "level": told.level, "warning": told.warning}
    )
    answer.headers["Cache-Control"] = "no-store"
    keep_colour(request, answer, told.colour)
    return answer


def _in_the_dark(
    request: Request,
    session: LabSession,
    now: datetime,
    signed: Signed,
    *,
    name_form: Submitted[ThisScreen] | None = None,
    test_form: Submitted[NewTest] | None = None,
) -> Response:
    page = screen_page(
        session,
        _device(request),
        level_of(request),
        now,
        is_staff=signed.is_staff,
        name_form=name_form,
        test_form=test_form,
    )
    answer = show(request, "tablets/screen.html", page, status=422 if name_form or test_form else 200)
    keep_colour(request, answer, page.light)
    return answer


@router.get("/screen", name="tablets.screen")
def screen(request: Request, session: Db, now: Now, signed: Member) -> Response:
    return _in_the_dark(request, session, now, signed)


@router.post("/screen/level", name="tablets.choose_level")
def choose_level(
    request: Request, _signed: Member, form: Annotated[Submitted[Brightness], Depends(submitted(Brightness))]
) -> Response:
    answer = seen(request, "tablets.screen")
    keep_level(request, answer, USUAL_LEVEL if form.clean is None else form.clean.level)
    return answer


def _named(session: LabSession, signed: Signed, typed: ThisScreen, now: datetime) -> Screen:
    if typed.screen_id is not None:
        return take_name(session, typed.screen_id, is_staff=signed.is_staff)
    return add_screen(session, name=typed.name or "", by=signed.name, now=now)


@router.post("/screen/name", name="tablets.name_this")
def name_this(request: Request, session: Db, now: Now, signed: Member, form: ThisScreenForm) -> Response:
    if form.clean is not None and form.clean.screen_id is None and form.clean.name is None:
        form = form.refused("screen_name", "Please choose a tablet of the list, or write a name.")
    if form.clean is None:
        return _in_the_dark(request, session, now, signed, name_form=form)
    answer = seen(request, "tablets.screen")
    device, secure = _named(session, signed, form.clean, now).device, request.url.scheme == "https"
    answer.set_cookie(
        DEVICE_COOKIE, device, max_age=KEPT_FOR_S, path="/", httponly=True, samesite="lax", secure=secure
    )
    return answer


@router.post("/screen/tests", name="tablets.note_own_test")
def note_own_test(request: Request, session: Db, now: Now, signed: Member, form: TestForm) -> Response:
    this = find_screen(session, _device(request))
    if this is None:
        raise Refusal("Give this screen a name first, so that the test is its own. Nothing was kept.")
    if form.clean is None:
        return _in_the_dark(request, session, now, signed, test_form=form)
    note_test(session, this.id, **form.clean.described(), by=signed.name, now=now)
    return seen(request, "tablets.screen")


@router.get("/tablets", name="tablets.tablets")
def tablets(request: Request, session: Db, now: Now, _person: Technician) -> Response:
    estimate = asked(request, Estimate)
    return show(request, "tablets/tablets.html", tablets_page(session, USUAL_LEVEL, now, estimate))


@router.post("/tablets", name="tablets.add")
def add(request: Request, session: Db, now: Now, person: Technician, form: NameForm) -> Response:
    if form.clean is None:
        page = tablets_page(session, USUAL_LEVEL, now, Submitted(), form)
        return show(request, "tablets/tablets.html", page, status=422)
    add_screen(session, name=form.clean.name, by=person.name, now=now)
    return seen(request, "tablets.tablets")


@router.get("/tablets/{screen_id}", name="tablets.tablet")
def tablet(request: Request, session: Db, now: Now, _person: Technician, screen_id: RowId) -> Response:
    page = one_tablet_page(session, screen_id, USUAL_LEVEL, now)
    return show(request, "tablets/tablet.html", page)


@router.post("/tablets/{screen_id}/name", name="tablets.rename")
def rename(
    request: Request, session: Db, now: Now, person: Technician, screen_id: RowId, form: NameForm
) -> Response:
    if form.clean is None:
        page = one_tablet_page(session, screen_id, USUAL_LEVEL, now, name_form=form)
        return show(request, "tablets/tablet.html", page, status=422)
    rename_screen(session, screen_id, name=form.clean.name, by=person.name, now=now)
    return seen(request, "tablets.tablet", screen_id=screen_id)


@router.post("/tablets/{screen_id}/tests", name="tablets.note_test")
def note_a_test(
    request: Request, session: Db, now: Now, person: Technician, screen_id: RowId, form: TestForm
) -> Response:
    if form.clean is None:
        page = one_tablet_page(session, screen_id, USUAL_LEVEL, now, test_form=form)
        return show(request, "tablets/tablet.html", page, status=422)
    note_test(session, screen_id, **form.clean.described(), by=person.name, now=now)
    return seen(request, "tablets.tablet", screen_id=screen_id)
