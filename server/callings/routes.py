"""Addresses of the board, of calling, and of what devices listen to."""

from datetime import datetime, timedelta
from typing import Annotated

from anyio.to_thread import run_sync
from fastapi import APIRouter, Depends, Request
from starlette.background import BackgroundTask
from starlette.responses import JSONResponse, RedirectResponse, Response, StreamingResponse

from server.callings.actions import end_class, say
from server.callings.forms import Said
from server.callings.pages import (
    BoardPage,
    CallPage,
    NoBoardPage,
    board_page,
    call_page,
    called_page,
    shown_to_group,
    told,
    visible_to,
)
from server.callings.queries import get_to_call
from server.callings.watching import stream
from server.data.session import LabSession
from server.people.access import Anyone, Base, Db, Member, Now, Signed, Student, Technician
from server.refusal import Refusal
from server.web.lights import keep_colour
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()

# A board that is loaded again without a network comes from where the browser keeps it; what it shows it then counts by itself.
KEPT_S = 4 * 3600


def _in_the_dark(request: Request, template: str, page: BoardPage | CallPage, colour: str) -> Response:
    """A page near open plates, which keeps its colour from then on, and which the browser keeps for when the network is gone."""
    answer = show(request, template, page)
    answer.headers["Cache-Control"] = f"private, max-age={KEPT_S}"
    keep_colour(request, answer, colour)
    return answer


@router.get("/clock", name="callings.clock")
def clock(now: Now, _anyone: Anyone) -> Response:
    """The server's clock, against which a device measures its own."""
    return JSONResponse({"now": round(now.timestamp() * 1000)}, headers={"Cache-Control": "no-store"})


@router.get("/board/{rotation_id}", name="callings.board")
def board(request: Request, session: Db, now: Now, person: Technician, rotation_id: RowId) -> Response:
    page = board_page(session, rotation_id, person, now)
    return _in_the_dark(request, "callings/board.html", page, page.colour)


@router.get("/board/{rotation_id}/call", name="callings.call")
def call(request: Request, session: Db, now: Now, person: Technician, rotation_id: RowId) -> Response:
    page = call_page(session, rotation_id, person, now)
    return _in_the_dark(request, "callings/call.html", page, page.board.colour)


def _said(
    session: LabSession, rotation_id: int, form: Submitted[Said], person: Signed, now: datetime
) -> None:
    get_to_call(session, rotation_id)
    if form.clean is None:
        raise Refusal("This can't be read, so nothing was called. Load the page again and call once more.")
    typed = form.clean
    say(
        session,
        rotation_id,
        tablet_id=typed.tablet_id,
        kind=typed.kind,
        answers=typed.answers,
        repeats="\n".join(typed.repeats),
        into=typed.into,
        happened_at=now - timedelta(milliseconds=typed.ago_ms),
        by=person.name,
        zone=person.time_zone,
        now=now,
    )


def _wants_json(request: Request) -> bool:
    """Whether the page's own script asks, which goes on counting with the answer."""
    return "application/json" in request.headers.get("accept", "")


@router.post("/board/{rotation_id}/call", name="callings.say")
def say_it(
    request: Request, session: Db, now: Now, person: Technician, rotation_id: RowId,
    form: Annotated[Submitted[Said], Depends(submitted(Said))],
) -> Response:  # fmt: skip
    _said(session, rotation_id, form, person, now)
    if _wants_json(request):
        news = told(session, rotation_id, now, person.time_zone)
        answer: Response = JSONResponse({**news.plan, **news.now})
    else:
        answer = seen(request, "callings.call", rotation_id=rotation_id)
    answer.background = BackgroundTask(request.app.state.listening.said)
    return answer


@router.post("/board/{rotation_id}/anew", name="callings.begin_anew")
def begin_anew(request: Request, session: Db, now: Now, person: Technician, rotation_id: RowId) -> Response:
    end_class(session, rotation_id, by=person.name, now=now)
    return seen(request, "callings.called", rotation_id=rotation_id)


def _look(session: LabSession, rotation_id: int, signed: Signed) -> None:
    """Whoever may not listen hears why."""
    visible_to(session, signed, rotation_id)
    get_to_call(session, rotation_id)


@router.get("/board/{rotation_id}/feed", name="callings.feed")
async def feed(request: Request, database: Base, now: Now, signed: Member, rotation_id: RowId) -> Response:
    """What is told to devices: once, or as server-sent events to whoever asks for these."""
    live = "text/event-stream" in request.headers.get("accept", "")
    async with database.turn(signed.lab_id, writes=False) as session:
        await run_sync(_look, session, rotation_id, signed)
        if not live:
            news = await run_sync(told, session, rotation_id, now, signed.time_zone)
            return JSONResponse({**news.plan, **news.now}, headers={"Cache-Control": "no-store"})
    told_live = stream(request.app.state.listening, database, signed, rotation_id)
    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(told_live, media_type="text/event-stream", headers=headers)


def _shown_to_group(
    request: Request, session: LabSession, now: datetime, signed: Signed, view: str
) -> Response:
    """The class that a tablet shows stands at an address of its own, so that it can be loaded again without a network."""
    found = shown_to_group(session, signed, now)
    if isinstance(found, NoBoardPage):
        return show(request, "callings/no_board.html", found)
    address = request.url_for(f"callings.{view}", rotation_id=found, group_id=signed.group_id or 0)
    return RedirectResponse(address.path, status_code=303)


@router.get("/tablet/board", name="callings.tablet_boards")
def tablet_boards(request: Request, session: Db, now: Now, signed: Student) -> Response:
    return _shown_to_group(request, session, now, signed, "tablet_board")


@router.get("/tablet/wrist", name="callings.wrists")
def wrists(request: Request, session: Db, now: Now, signed: Student) -> Response:
    return _shown_to_group(request, session, now, signed, "wrist")


@router.get("/tablet/board/{rotation_id}/{group_id}", name="callings.tablet_board")
def tablet_board(
    request: Request, session: Db, now: Now, signed: Student, rotation_id: RowId, group_id: RowId
) -> Response:
    page = board_page(session, rotation_id, signed, now, group_id=group_id)
    return _in_the_dark(request, "callings/tablet_board.html", page, page.colour)


@router.get("/tablet/wrist/{rotation_id}/{group_id}", name="callings.wrist")
def wrist(
    request: Request, session: Db, now: Now, signed: Student, rotation_id: RowId, group_id: RowId
) -> Response:
    page = board_page(session, rotation_id, signed, now, group_id=group_id)
    return _in_the_dark(request, "callings/wrist.html", page, page.colour)


@router.get("/rotations/{rotation_id}/called", name="callings.called")
def called(request: Request, session: Db, now: Now, person: Technician, rotation_id: RowId) -> Response:
    page = called_page(session, rotation_id, person.time_zone, now)
    return show(request, "callings/called.html", page)
