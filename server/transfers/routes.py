"""Addresses of the pages of transfers and losses."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.pours.forms import with_moment
from server.transfers.actions import take_out, transfer
from server.transfers.forms import NewLoss, NewTransfer
from server.transfers.pages import loss_page, transfer_page
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/waste/containers/{container_id}/transfers", name="transfers.transferring")
def transferring(request: Request, session: Db, _signed: Technician, container_id: RowId) -> Response:
    return show(request, "transfers/transfer.html", transfer_page(session, container_id))


@router.post("/waste/containers/{container_id}/transfers", name="transfers.transfer")
def log_transfer(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId,
    typed: Annotated[Submitted[NewTransfer], Depends(submitted(NewTransfer))],
) -> Response:
    form, happened_at = with_moment(typed, now, signed.time_zone)
    if form.clean is None:
        page = transfer_page(session, container_id, form)
        return show(request, "transfers/transfer.html", page, status=422)
    transfer(session, container_id, **form.clean.kept(), happened_at=happened_at, by=signed.name, now=now)
    return seen(request, "containers.container", container_id=container_id)


@router.get("/waste/containers/{container_id}/losses", name="transfers.taking_out")
def taking_out(request: Request, session: Db, _signed: Technician, container_id: RowId) -> Response:
    return show(request, "transfers/loss.html", loss_page(session, container_id))


@router.post("/waste/containers/{container_id}/losses", name="transfers.take_out")
def log_loss(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId,
    typed: Annotated[Submitted[NewLoss], Depends(submitted(NewLoss))],
) -> Response:
    form, happened_at = with_moment(typed, now, signed.time_zone)
    if form.clean is None:
        return show(request, "transfers/loss.html", loss_page(session, container_id, form), status=422)
    take_out(session, container_id, **form.clean.kept(), happened_at=happened_at, by=signed.name, now=now)
    return seen(request, "containers.container", container_id=container_id)
