"""Addresses of searches, and those of planning and publishing a rotation, which a search stands between."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Base, Db, Instructor, Now, Technician
from server.refusal import Refusal
from server.searches.actions import ask_to_stop, publish_planned
from server.searches.forms import SearchTime
from server.searches.pages import search_page
from server.searches.watching import begin_search
from server.web.show import seen, show, wants_part
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.post("/rotations/{rotation_id}/plan", name="rotations.plan")
async def make_plan(
    request: Request,
    database: Base,
    signed: Instructor,
    rotation_id: RowId,
    form: Annotated[Submitted[SearchTime], Depends(submitted(SearchTime))],
) -> Response:
    if form.clean is None:
        raise Refusal(f"How long to search: {form.error('seconds')} Choose a time and press Plan again.")
    server = request.app.state
    searching = await begin_search(server, database, signed, rotation_id, seconds=form.clean.seconds)
    # Small classes are proven at once, and their plan is the answer; of others the search is watched.
    over = searching is not None and await searching.is_over_within(server.settings.answer_within_s)
    return seen(request, "rotations.rotation" if over else "searches.search", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/publish", name="rotations.publish")
def publish(request: Request, session: Db, _person: Instructor, now: Now, rotation_id: RowId) -> Response:
    publish_planned(session, rotation_id, now=now)
    return seen(request, "rotations.rotation", rotation_id=rotation_id)


@router.get("/rotations/{rotation_id}/search", name="searches.search")
def search(request: Request, session: Db, now: Now, signed: Technician, rotation_id: RowId) -> Response:
    whole = not wants_part(request)
    page = search_page(session, rotation_id, signed.time_zone, now, drawn=whole)
    return show(request, "searches/search.html", page, part="searches/_search_state.html")


@router.get("/rotations/{rotation_id}/search/progress", name="searches.progress")
def progress(request: Request, session: Db, now: Now, signed: Technician, rotation_id: RowId) -> Response:
    page = search_page(session, rotation_id, signed.time_zone, now, watched=wants_part(request))
    return show(request, "searches/search.html", page, part="searches/_search.html")


@router.get("/rotations/{rotation_id}/search/drawing", name="searches.drawing")
def drawing(request: Request, session: Db, now: Now, signed: Technician, rotation_id: RowId) -> Response:
    page = search_page(session, rotation_id, signed.time_zone, now, drawn=True)
    return show(request, "searches/search.html", page, part="searches/_search_drawing.html")


@router.post("/rotations/{rotation_id}/search/stop", name="searches.stop")
def stop(request: Request, session: Db, _person: Instructor, now: Now, rotation_id: RowId) -> Response:
    ask_to_stop(session, rotation_id, now=now)
    return seen(request, "searches.search", rotation_id=rotation_id)
