"""Addresses of the runs pages: the tablet's and the staff's."""

from datetime import datetime, timedelta
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.data.session import LabSession
from server.people.access import Db, Now, Signed, Student, Technician
from server.refusal import NotSignedIn
from server.runs.actions import file_run, give_verdict
from server.runs.forms import NewRun, NewVerdict, OwnVerdict
from server.runs.pages import TabletPage, TabletRunPage, run_page, runs_page, tablet_page, tablet_run_page
from server.runs.queries import find_rotation_at, get_run_of_group
from server.web.lights import keep_colour
from server.web.show import seen, sent_by_htmx, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()

RunForm = Annotated[Submitted[NewRun], Depends(submitted(NewRun))]
VerdictForm = Annotated[Submitted[NewVerdict], Depends(submitted(NewVerdict))]
OwnVerdictForm = Annotated[Submitted[OwnVerdict], Depends(submitted(OwnVerdict))]


def _joined(signed: Signed, written_by: int | None = None) -> tuple[int, int]:
    """The section and the group that a tablet joined. What another group wrote on it before waits until they join again."""
    assert signed.section_id is not None
    assert signed.group_id is not None
    if written_by not in {None, signed.group_id}:
        raise NotSignedIn(
            f"Another group wrote this, and the tablet has joined {signed.name} since. Join your own group again "
            "with the class code to send it."
        )
    return signed.section_id, signed.group_id


def _file(session: LabSession, signed: Signed, note: NewRun, now: datetime) -> None:
    section_id, group_id = _joined(signed, note.group_id)
    exposed_at = now - timedelta(seconds=note.kept_s)
    file_run(
        session,
        **note.model_dump(exclude={"group_id", "kept_s"}),
        section_id=section_id,
        group_id=group_id,
        rotation_id=find_rotation_at(session, section_id, exposed_at),
        exposed_at=exposed_at,
        by=signed.name,
        now=now,
    )


def _in_the_dark(
    request: Request, template: str, page: TabletPage | TabletRunPage, *, status: int = 200
) -> Response:
    """A page of the tablet, which keeps its colour from then on."""
    answer = show(request, template, page, status=status)
    keep_colour(request, answer, page.light)
    return answer


@router.get("/tablet", name="runs.tablet")
def tablet(request: Request, session: Db, now: Now, signed: Student) -> Response:
    if sent_by_htmx(request):
        # After joining, the paper pages' document must go: this page brings its own black one.
        return Response(headers={"HX-Redirect": request.url.path})
    page = tablet_page(session, *_joined(signed), now, signed.time_zone)
    return _in_the_dark(request, "runs/tablet.html", page)


@router.post("/tablet/runs", name="runs.file")
def file(request: Request, session: Db, now: Now, signed: Student, form: RunForm) -> Response:
    if form.clean is None:
        page = tablet_page(session, *_joined(signed), now, signed.time_zone, form)
        return _in_the_dark(request, "runs/tablet.html", page, status=422)
    _file(session, signed, form.clean, now)
    return seen(request, "runs.tablet")


@router.get("/tablet/runs/{run_id}", name="runs.tablet_run")
def tablet_run(request: Request, session: Db, now: Now, signed: Student, run_id: RowId) -> Response:
    _section_id, group_id = _joined(signed)
    page = tablet_run_page(session, run_id, group_id, now)
    return _in_the_dark(request, "runs/tablet_run.html", page)


@router.post("/tablet/runs/{run_id}/verdict", name="runs.give_own_verdict")
def give_own(
    request: Request, session: Db, now: Now, signed: Student, run_id: RowId, form: OwnVerdictForm
) -> Response:
    typed = form.clean
    _section_id, group_id = _joined(signed, typed.group_id if typed else None)
    run = get_run_of_group(session, run_id, group_id)
    if typed is None:
        page = tablet_run_page(session, run.id, group_id, now, form)
        return _in_the_dark(request, "runs/tablet_run.html", page, status=422)
    given_at = now - timedelta(seconds=typed.kept_s)
    give_verdict(session, run.id, verdict=typed.verdict, comment=typed.comment, now=given_at)
    return seen(request, "runs.tablet")


@router.get("/runs", name="runs.runs")
def runs(request: Request, session: Db, signed: Technician, section: RowId | None = None) -> Response:
    return show(request, "runs/runs.html", runs_page(session, signed.time_zone, section))


@router.get("/runs/rows", name="runs.rows")
def rows(request: Request, session: Db, signed: Technician, section: RowId | None = None) -> Response:
    return show(request, "runs/_run_rows.html", runs_page(session, signed.time_zone, section))


@router.get("/runs/{run_id}", name="runs.run")
def run(request: Request, session: Db, signed: Technician, run_id: RowId) -> Response:
    return show(request, "runs/run.html", run_page(session, run_id, signed.time_zone))


@router.post("/runs/{run_id}/verdict", name="runs.give_verdict")
def give(
    request: Request, session: Db, now: Now, signed: Technician, run_id: RowId, form: VerdictForm
) -> Response:
    if form.clean is None:
        page = run_page(session, run_id, signed.time_zone, form)
        return show(request, "runs/run.html", page, status=422)
    give_verdict(session, run_id, **form.clean.model_dump(), now=now)
    return seen(request, "runs.run", run_id=run_id)
