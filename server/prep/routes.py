"""Addresses of the prep pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.prep.actions import assign_lines, set_prep_times, tick_line
from server.prep.forms import PrepSettings, Tick
from server.prep.pages import next_sheet, prep_page, settings_page
from server.web.show import seen, show
from server.web.submitted import Submitted, submitted
from server.web.typed import Day

router = APIRouter()


@router.get("/prep", name="prep.next")
def next_day(request: Request, session: Db, now: Now, person: Technician) -> Response:
    return show(request, "prep/prep.html", next_sheet(session, person, now))


@router.get("/prep/settings", name="prep.settings")
def settings(request: Request, session: Db, _person: Technician) -> Response:
    return show(request, "prep/settings.html", settings_page(session))


@router.post("/prep/settings", name="prep.set")
def set_times_and_who_does_what(
    request: Request,
    session: Db,
    _person: Technician,
    form: Annotated[Submitted[PrepSettings], Depends(submitted(PrepSettings))],
) -> Response:
    if form.clean is None:
        return show(request, "prep/settings.html", settings_page(session, form), status=422)
    set_prep_times(session, **form.clean.times())
    assign_lines(session, form.clean.assignments())
    return seen(request, "prep.settings")


@router.get("/prep/{day}", name="prep.sheet")
def sheet(request: Request, session: Db, now: Now, person: Technician, day: Day) -> Response:
    return show(request, "prep/prep.html", prep_page(session, day, person, now), part="prep/_prep_lines.html")


@router.post("/prep/{day}/ticks/{line}", name="prep.tick")
def tick(
    request: Request,
    session: Db,
    now: Now,
    person: Technician,
    day: Day,
    line: str,
    form: Annotated[Submitted[Tick], Depends(submitted(Tick))],
) -> Response:
    page = prep_page(session, day, person, now)
    if form.clean is None:
        return show(request, "prep/prep.html", page, status=422)
    lines = {one.key for one in page.lines if not one.settled}
    tick_line(session, day, line, lines=lines, done=form.clean.done, by=person.name, now=now)
    return seen(request, "prep.sheet", day=day)
