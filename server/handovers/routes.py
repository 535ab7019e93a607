"""Addresses of hand-overs and of the records of pickups."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.handovers.actions import hand_over, mark_missed, take_back_hand_over
from server.handovers.forms import (
    HandedLine,
    HandOver,
    HandOverTable,
    Missed,
    Span,
    TakenBack,
    with_handed_at,
)
from server.handovers.pages import hand_over_page, judged_lines, records_file, records_page, usual_span
from server.people.access import Db, Now, Technician
from server.web.downloads import download
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, asked, read_lines, submitted

router = APIRouter()


@router.get("/waste/pickups/records", name="handovers.records")
def records(request: Request, session: Db, signed: Technician, now: Now) -> Response:
    span = asked(request, Span)
    page = records_page(session, span, now=now, zone=signed.time_zone)
    return show(request, "handovers/records.html", page, status=422 if span.errors else 200)


@router.get("/waste/pickups/records.csv", name="handovers.records_file")
def file_of_records(request: Request, session: Db, signed: Technician, now: Now) -> Response:
    span = asked(request, Span).clean
    first, last = usual_span(now, signed.time_zone) if span is None else span.days
    text = records_file(session, first, last, now=now, zone=signed.time_zone)
    return download(text, name=f"pickups {first} to {last}.csv", media_type="text/csv; header=present")


@router.get("/waste/pickups/{pickup_id}/hand-over", name="handovers.handing_over")
def handing_over(request: Request, session: Db, signed: Technician, now: Now, pickup_id: RowId) -> Response:
    page = hand_over_page(session, pickup_id, now=now, zone=signed.time_zone)
    return show(request, "handovers/hand_over.html", page)


@router.post("/waste/pickups/{pickup_id}/hand-over", name="handovers.hand_over")
def enter_hand_over(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    pickup_id: RowId,
    form: Annotated[Submitted[HandOver], Depends(submitted(HandOver))],
) -> Response:
    form, at = with_handed_at(form, zone=signed.time_zone, now=now)
    lines = judged_lines(
        session, pickup_id, read_lines(HandedLine, HandOverTable.model_validate(form.values))
    )
    if form.clean is None or any(line.errors for line in lines):
        page = hand_over_page(session, pickup_id, now=now, zone=signed.time_zone, form=form, typed=lines)
        return show(request, "handovers/hand_over.html", page, status=422)
    said = [line.clean for line in lines if line.clean is not None]
    hand_over(session, pickup_id, **form.clean.said_of(said), happened_at=at, by=signed.name, now=now)
    return seen(request, "pickups.pickup", pickup_id=pickup_id)


@router.post("/waste/pickups/{pickup_id}/missed", name="handovers.mark_missed")
def missed(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    pickup_id: RowId,
    form: Annotated[Submitted[Missed], Depends(submitted(Missed))],
) -> Response:
    if form.clean is None:
        page = hand_over_page(session, pickup_id, now=now, zone=signed.time_zone, missed_form=form)
        return show(request, "handovers/hand_over.html", page, status=422)
    mark_missed(session, pickup_id, said=form.clean.said, by=signed.name, now=now)
    return seen(request, "pickups.pickup", pickup_id=pickup_id)


@router.post("/waste/pickups/{pickup_id}/take-back", name="handovers.take_back_hand_over")
def take_back(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    pickup_id: RowId,
    form: Annotated[Submitted[TakenBack], Depends(submitted(TakenBack))],
) -> Response:
    if form.clean is None:
        page = hand_over_page(session, pickup_id, now=now, zone=signed.time_zone, taken_back_form=form)
        return show(request, "handovers/hand_over.html", page, status=422)
    take_back_hand_over(session, pickup_id, reason=form.clean.take_back_reason, by=signed.name, now=now)
    return seen(request, "pickups.pickup", pickup_id=pickup_id)
