"""The address at which changes to a rotation are weighed."""

from functools import partial

from anyio.to_thread import run_sync
from fastapi import APIRouter, Request
from starlette.background import BackgroundTask
from starlette.responses import Response

from server.people.access import Base, Db, Instructor, Now, Technician
from server.web.show import seen, show
from server.web.submitted import RowId
from server.what_ifs.actions import begin_what_ifs, work_out
from server.what_ifs.pages import what_if_page

router = APIRouter()


@router.get("/rotations/{rotation_id}/what-if", name="what_ifs.what_if")
def what_if(request: Request, session: Db, signed: Technician, now: Now, rotation_id: RowId) -> Response:
    page = what_if_page(session, rotation_id, signed.time_zone, now=now)
    return show(request, "what_ifs/what_if.html", page, part="what_ifs/_what_if.html")


@router.post("/rotations/{rotation_id}/what-if", name="what_ifs.work_out")
async def ask(request: Request, database: Base, signed: Instructor, now: Now, rotation_id: RowId) -> Response:
    async with database.turn(signed.lab_id, writes=True) as session:
        begun = await run_sync(partial(begin_what_ifs, session, rotation_id, now=now))
    answer = seen(request, "what_ifs.what_if", rotation_id=rotation_id)
    if begun is not None:
        # The answer leaves at once; the page then asks every second what has come in.
        state, lab_id = request.app.state, signed.lab_id
        work = partial(work_out, database, state.workers, begun, lab_id=lab_id, clock=state.clock)
        answer.background = BackgroundTask(work)
    return answer
