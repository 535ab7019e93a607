"""Addresses of a rotation's page for changes in the middle of a class."""

from datetime import datetime
from functools import partial
from typing import Annotated

from anyio.to_thread import run_sync
from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.core.planning.replanning import replan_after
from server.data.session import Database
from server.people.access import Base, Db, Instructor, Now, Signed, Technician
from server.replans.actions import drop, keep_proposal, question_about, take
from server.replans.forms import Minutes, WhatHappened, said
from server.replans.pages import Shown, change_page, proposal_page
from server.rotations.actions import SEED
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()

# A class waits for the answer.
SECONDS = 1.5


@router.get("/rotations/{rotation_id}/change", name="replans.change")
def change(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    rotation_id: RowId,
    late_minutes: Minutes | None = None,
) -> Response:
    form: Submitted[WhatHappened] = Submitted({"late_minutes": late_minutes} if late_minutes else {})
    page = change_page(session, rotation_id, now=now, zone=signed.time_zone, form=form)
    return show(request, "replans/change.html", page)


async def _said(
    typed: Annotated[Submitted[WhatHappened], Depends(submitted(WhatHappened))],
) -> Submitted[WhatHappened]:
    return said(typed)


@router.post("/rotations/{rotation_id}/change", name="replans.propose")
async def propose(
    request: Request,
    database: Base,
    signed: Instructor,
    now: Now,
    rotation_id: RowId,
    form: Annotated[Submitted[WhatHappened], Depends(_said)],
) -> Response:
    if form.clean is None:
        return await _asked_back(request, database, signed, now, rotation_id, form)
    ask = partial(question_about, happened=form.clean, now=now, zone=signed.time_zone)
    # No transaction is open while the solver works, and it works in a process of its own: pages keep theirs.
    async with database.turn(signed.lab_id, writes=False) as session:
        question = await run_sync(partial(ask, session, rotation_id))
    found = await request.app.state.workers.ask(replan_after, **question.asked, seconds=SECONDS, seed=SEED)
    async with database.turn(signed.lab_id, writes=True) as session:
        keep = partial(keep_proposal, session, rotation_id, question, found, now=now, by=signed.name)
        return seen(request, "replans.proposal", rotation_id=rotation_id, proposal_id=await run_sync(keep))


async def _asked_back(
    request: Request,
    database: Database,
    signed: Signed,
    now: datetime,
    rotation_id: int,
    form: Submitted[WhatHappened],
) -> Response:
    async with database.turn(signed.lab_id, writes=False) as session:
        fill = partial(change_page, session, rotation_id, now=now, zone=signed.time_zone, form=form)
        return show(request, "replans/change.html", await run_sync(fill), status=422)


@router.get("/rotations/{rotation_id}/change/{proposal_id}", name="replans.proposal")
def proposal(
    request: Request,
    session: Db,
    signed: Technician,
    rotation_id: RowId,
    proposal_id: RowId,
    plan: Shown = "new",
) -> Response:
    page = proposal_page(session, rotation_id, proposal_id, signed.time_zone, shown=plan)
    return show(request, "replans/proposal.html", page)


@router.post("/rotations/{rotation_id}/change/{proposal_id}/take", name="replans.take")
def take_proposal(
    request: Request, session: Db, signed: Instructor, now: Now, rotation_id: RowId, proposal_id: RowId
) -> Response:
    take(session, rotation_id, proposal_id, now=now, by=signed.name)
    return seen(request, "replans.change", rotation_id=rotation_id)


@router.post("/rotations/{rotation_id}/change/{proposal_id}/drop", name="replans.drop")
def drop_proposal(
    request: Request, session: Db, signed: Instructor, now: Now, rotation_id: RowId, proposal_id: RowId
) -> Response:
    drop(session, rotation_id, proposal_id, now=now, by=signed.name)
    return seen(request, "replans.change", rotation_id=rotation_id)
