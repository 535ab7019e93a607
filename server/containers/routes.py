"""Addresses of the pages of streams and containers."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.containers.actions import (
    add_dichromate_stream,
    add_stream,
    add_usual_streams,
    describe_stream,
)
from server.containers.forms import NewStream, StreamDescription, UsualStreams
from server.containers.pages import container_page, stream_page, streams_page
from server.people.access import Db, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/waste/streams", name="containers.streams")
def streams(request: Request, session: Db, _signed: Technician) -> Response:
    return show(request, "containers/streams.html", streams_page(session))


@router.post("/waste/streams", name="containers.add_stream")
def add_one_stream(
    request: Request,
    session: Db,
    _signed: Technician,
    form: Annotated[Submitted[NewStream], Depends(submitted(NewStream))],
) -> Response:
    if form.clean is None:
        return show(request, "containers/streams.html", streams_page(session, form), status=422)
    added = add_stream(session, **form.clean.model_dump())
    return seen(request, "containers.stream", stream_id=added.id)


@router.post("/waste/streams/usual", name="containers.add_usual_streams")
def add_the_usual_streams(
    request: Request,
    session: Db,
    _signed: Technician,
    form: Annotated[Submitted[UsualStreams], Depends(submitted(UsualStreams))],
) -> Response:
    add_usual_streams(session, with_sulfite=form.clean is not None and form.clean.with_sulfite)
    return seen(request, "waste.waste")


@router.post("/waste/streams/dichromate", name="containers.add_dichromate_stream")
def add_the_dichromate_stream(request: Request, session: Db, _signed: Technician) -> Response:
    return seen(request, "containers.stream", stream_id=add_dichromate_stream(session).id)


@router.get("/waste/streams/{stream_id}", name="containers.stream")
def stream(request: Request, session: Db, _signed: Technician, stream_id: RowId) -> Response:
    return show(request, "containers/stream.html", stream_page(session, stream_id))


@router.post("/waste/streams/{stream_id}", name="containers.describe_stream")
def describe(
    request: Request,
    session: Db,
    _signed: Technician,
    stream_id: RowId,
    form: Annotated[Submitted[StreamDescription], Depends(submitted(StreamDescription))],
) -> Response:
    if form.clean is None:
        return show(request, "containers/stream.html", stream_page(session, stream_id, form), status=422)
    describe_stream(session, stream_id, **form.clean.model_dump())
    return seen(request, "containers.stream", stream_id=stream_id)


@router.get("/waste/containers/{container_id}", name="containers.container")
def container(
    request: Request, session: Db, signed: Technician, container_id: RowId, before: RowId | None = None
) -> Response:
    page = container_page(session, container_id, zone=signed.time_zone, before=before)
    return show(request, "containers/container.html", page)
