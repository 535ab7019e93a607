"""Addresses of the runs pages: the tablet's and the staff's."""

from datetime import datetime
from functools import partial
from typing import Annotated

from anyio import CapacityLimiter
from anyio.to_thread import run_sync
from fastapi import APIRouter, Depends, Path, Request
from starlette.responses import RedirectResponse, Response

from server.core.picture import NoPicture, Picture, picture_from
from server.data.session import LabSession
from server.people.access import Db, Now, Signed, Student, Technician
from server.photos.actions import keep_photo
from server.photos.pages import photo_page
from server.photos.queries import get_shown_photo
from server.refusal import NotSignedIn, Refusal
from server.runs.actions import file_run, give_verdict, leave_to_dry
from server.runs.forms import NewPhoto, NewRun, NewVerdict, OwnSlot, OwnVerdict
from server.runs.models import Run
from server.runs.pages import (
    TabletPage,
    TabletRunPage,
    run_page,
    runs_file,
    runs_page,
    tablet_page,
    tablet_run_page,
)
from server.runs.queries import find_rotation_at, get_run, get_run_of_group, get_run_of_note
from server.web.downloads import download, unchanging
from server.web.lights import keep_colour
from server.web.show import seen, sent_by_htmx, show
from server.web.submitted import RowId, Submitted, submitted, submitted_with_file

router = APIRouter()

RunForm = Annotated[Submitted[NewRun], Depends(submitted(NewRun))]
VerdictForm = Annotated[Submitted[NewVerdict], Depends(submitted(NewVerdict))]
SlotForm = Annotated[Submitted[OwnSlot], Depends(submitted(OwnSlot))]
OwnVerdictForm = Annotated[Submitted[OwnVerdict], Depends(submitted(OwnVerdict))]

# The id that a tablet gave to a run note, in an address.
NoteId = Annotated[str, Path(pattern=r"^[0-9a-z-]{1,40}$")]

# Reading a large picture takes much memory, and a second or two of a processor.
_PICTURES_AT_ONCE = CapacityLimiter(2)


async def sent_photo(request: Request) -> tuple[Submitted[NewPhoto], Picture | NoPicture]:
    """The form and its picture, made ready before the route waits for its turn at the database."""
    form, file = await submitted_with_file(NewPhoto, "photo")(request)
    reading = partial(picture_from, b"" if file is None else file.content)
    return form, await run_sync(reading, limiter=_PICTURES_AT_ONCE)


SentPhoto = Annotated[tuple[Submitted[NewPhoto], Picture | NoPicture], Depends(sent_photo)]


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
    exposed_at = note.written_at(now)
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


def _give(
    request: Request,
    session: LabSession,
    now: datetime,
    signed: Signed,
    run: Run,
    form: Submitted[OwnVerdict],
) -> Response:
    typed = form.clean
    if typed is None:
        page = tablet_run_page(session, run.id, run.group_id, now, signed.time_zone, form)
        return _in_the_dark(request, "runs/tablet_run.html", page, status=422)
    given = typed.model_dump(exclude={"group_id", "kept_s"})
    give_verdict(session, run.id, **given, now=typed.written_at(now))
    return RedirectResponse(f"{request.url_for('runs.tablet').path}?rated={run.id}", status_code=303)


def _in_the_dark(
    request: Request, template: str, page: TabletPage | TabletRunPage, *, status: int = 200
) -> Response:
    """A page of the tablet, which keeps its colour from then on."""
    answer = show(request, template, page, status=status)
    keep_colour(request, answer, page.light)
    return answer


def _picture(request: Request, session: LabSession, run: Run, photo_id: int) -> Response:
    """What a browser shows of a photo, and may keep."""
    found = get_shown_photo(session, run.id, photo_id, run.group_id)
    return unchanging(request, found.jpeg or b"", tag=found.sha256, media_type="image/jpeg")


@router.get("/tablet", name="runs.tablet")
def tablet(request: Request, session: Db, now: Now, signed: Student, rated: RowId | None = None) -> Response:
    if sent_by_htmx(request):
        # After joining, the paper pages' document must go: this page brings its own black one.
        return Response(headers={"HX-Redirect": request.url.path})
    page = tablet_page(session, *_joined(signed), now, signed.time_zone, rated=rated)
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
    page = tablet_run_page(session, run_id, group_id, now, signed.time_zone)
    return _in_the_dark(request, "runs/tablet_run.html", page)


@router.post("/tablet/runs/{run_id}/verdict", name="runs.give_own_verdict")
def give_own(
    request: Request, session: Db, now: Now, signed: Student, run_id: RowId, form: OwnVerdictForm
) -> Response:
    _section_id, group_id = _joined(signed, form.clean.group_id if form.clean else None)
    return _give(request, session, now, signed, get_run_of_group(session, run_id, group_id), form)


@router.post("/tablet/notes/{tablet_id}/verdict", name="runs.give_early_verdict")
def give_early(
    request: Request, session: Db, now: Now, signed: Student, tablet_id: NoteId, form: OwnVerdictForm
) -> Response:
    """Given when the run's own note still waited on the tablet, so that nobody knew the run's number."""
    _section_id, group_id = _joined(signed, form.clean.group_id if form.clean else None)
    return _give(request, session, now, signed, get_run_of_note(session, tablet_id, group_id), form)


@router.post("/tablet/runs/{run_id}/slip", name="runs.leave_to_dry")
def leave(
    request: Request, session: Db, now: Now, signed: Student, run_id: RowId, form: SlotForm
) -> Response:
    typed = form.clean
    _section_id, group_id = _joined(signed, typed.group_id if typed else None)
    run = get_run_of_group(session, run_id, group_id)
    if typed is None:
        raise Refusal(form.error("slot_id") or "Please choose one of the free slots.")
    left_at = typed.written_at(now)
    leave_to_dry(session, run.id, place_id=typed.place_id, slot=typed.number, by=signed.name, now=left_at)
    return seen(request, "runs.tablet")


@router.get("/tablet/lit/runs/{run_id}/photo", name="runs.photo")
def photo(request: Request, session: Db, signed: Student, run_id: RowId) -> Response:
    """A white page, for when lights are allowed: cameras and their pictures are not for the dark."""
    _section_id, group_id = _joined(signed)
    name = f"Run {get_run_of_group(session, run_id, group_id).number}"
    page = photo_page(session, run_id, group_id=group_id, name=name, zone=signed.time_zone)
    return show(request, "photos/photo.html", page)


@router.get("/tablet/lit/runs/{run_id}/photos/{photo_id}", name="runs.own_photo")
def own_photo(request: Request, session: Db, signed: Student, run_id: RowId, photo_id: RowId) -> Response:
    return _picture(request, session, get_run_of_group(session, run_id, _joined(signed)[1]), photo_id)


@router.post("/tablet/runs/{run_id}/photos", name="runs.keep_photo")
def keep(
    request: Request, now: Now, signed: Student, sent: SentPhoto, session: Db, run_id: RowId
) -> Response:
    """Sent also from the dark, where the outbox sends what waited, so that the answer is a page for the dark."""
    typed, picture = sent[0].clean, sent[1]
    run = get_run_of_group(session, run_id, _joined(signed, typed.group_id if typed else None)[1])
    if typed is None:
        raise Refusal("This photo has lost its number. Load the page again and take it once more.")
    taken_at = typed.written_at(now)
    keep_photo(
        session, run.id, tablet_id=typed.tablet_id, group_id=run.group_id, picture=picture, taken_at=taken_at, by=signed.name, now=now
    )  # fmt: skip
    return seen(request, "runs.tablet")


@router.get("/runs", name="runs.runs")
def runs(
    request: Request, session: Db, now: Now, signed: Technician, section: RowId | None = None
) -> Response:
    return show(request, "runs/runs.html", runs_page(session, now, signed.time_zone, section))


@router.get("/runs/rows", name="runs.rows")
def rows(
    request: Request, session: Db, now: Now, signed: Technician, section: RowId | None = None
) -> Response:
    return show(request, "runs/_run_rows.html", runs_page(session, now, signed.time_zone, section))


@router.get("/runs/runs.csv", name="runs.file_of_runs")
def file_of_runs(session: Db, signed: Technician, section: RowId | None = None) -> Response:
    text = runs_file(session, signed.time_zone, section)
    return download(text, name="runs.csv", media_type="text/csv; header=present")


@router.get("/runs/{run_id}", name="runs.run")
def run(request: Request, session: Db, signed: Technician, run_id: RowId) -> Response:
    return show(request, "runs/run.html", run_page(session, run_id, signed.time_zone))


@router.get("/runs/{run_id}/photos/{photo_id}", name="runs.staffs_photo")
def staffs_photo(
    request: Request, session: Db, _signed: Technician, run_id: RowId, photo_id: RowId
) -> Response:
    return _picture(request, session, get_run(session, run_id), photo_id)


@router.post("/runs/{run_id}/verdict", name="runs.give_verdict")
def give(
    request: Request, session: Db, now: Now, signed: Technician, run_id: RowId, form: VerdictForm
) -> Response:
    if form.clean is None:
        page = run_page(session, run_id, signed.time_zone, form)
        return show(request, "runs/run.html", page, status=422)
    give_verdict(session, run_id, **form.clean.model_dump(), now=now)
    return seen(request, "runs.run", run_id=run_id)
