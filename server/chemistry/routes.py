"""Addresses of the chemistry pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.chemistry.actions import (
    correct_batch,
    discard_batch,
    mix_bleach,
    mix_developer,
    set_usual_quantities,
)
from server.chemistry.forms import (
    BleachMix,
    DeveloperMix,
    DiscardedRest,
    MeasuredRest,
    Quantities,
    with_mixing_time,
)
from server.chemistry.pages import batch_page, chemistry_page, quantities_page
from server.people.access import Db, Now, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, submitted

router = APIRouter()


@router.get("/chemistry", name="chemistry.chemistry")
def chemistry(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "chemistry/chemistry.html", chemistry_page(session, now, signed.time_zone))


@router.post("/chemistry/developer", name="chemistry.mix_developer")
def mix_the_developer(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    typed: Annotated[Submitted[DeveloperMix], Depends(submitted(DeveloperMix))],
) -> Response:
    form, mixed_at = with_mixing_time(typed, "mixed_at", now, signed.time_zone)
    if form.clean is None or mixed_at is None:
        page = chemistry_page(session, now, signed.time_zone, developer_form=form)
        return show(request, "chemistry/chemistry.html", page, status=422)
    drawn = form.clean.model_dump(exclude={"mixed_at"})
    batch = mix_developer(session, **drawn, mixed_at=mixed_at, by=signed.name, now=now)
    return seen(request, "chemistry.batch", batch_id=batch.id)


@router.post("/chemistry/bleach", name="chemistry.mix_bleach")
def mix_the_bleach(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    typed: Annotated[Submitted[BleachMix], Depends(submitted(BleachMix))],
) -> Response:
    form, mixed_at = with_mixing_time(typed, "bleach_mixed_at", now, signed.time_zone)
    if form.clean is None or mixed_at is None:
        page = chemistry_page(session, now, signed.time_zone, bleach_form=form)
        return show(request, "chemistry/chemistry.html", page, status=422)
    drawn = form.clean.model_dump(exclude={"mixed_at"})
    batch = mix_bleach(session, **drawn, mixed_at=mixed_at, by=signed.name, now=now)
    return seen(request, "chemistry.batch", batch_id=batch.id)


@router.get("/chemistry/batches/{batch_id}", name="chemistry.batch")
def batch(request: Request, session: Db, now: Now, signed: Technician, batch_id: RowId) -> Response:
    return show(request, "chemistry/batch.html", batch_page(session, batch_id, now, signed.time_zone))


@router.post("/chemistry/batches/{batch_id}/discard", name="chemistry.discard_batch")
def discard_the_batch(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    batch_id: RowId,
    form: Annotated[Submitted[DiscardedRest], Depends(submitted(DiscardedRest))],
) -> Response:
    if form.clean is None:
        page = batch_page(session, batch_id, now, signed.time_zone, discard_form=form)
        return show(request, "chemistry/batch.html", page, status=422)
    discard_batch(session, batch_id, note=form.clean.note, by=signed.name, now=now)
    return seen(request, "chemistry.batch", batch_id=batch_id)


@router.post("/chemistry/batches/{batch_id}/corrections", name="chemistry.correct_batch")
def correct_the_batch(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    batch_id: RowId,
    form: Annotated[Submitted[MeasuredRest], Depends(submitted(MeasuredRest))],
) -> Response:
    if form.clean is None:
        page = batch_page(session, batch_id, now, signed.time_zone, measure_form=form)
        return show(request, "chemistry/batch.html", page, status=422)
    correct_batch(session, batch_id, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "chemistry.batch", batch_id=batch_id)


@router.get("/chemistry/quantities", name="chemistry.quantities")
def quantities(request: Request, session: Db, _signed: Technician) -> Response:
    return show(request, "chemistry/quantities.html", quantities_page(session))


@router.post("/chemistry/quantities", name="chemistry.set_usual_quantities")
def set_the_quantities(
    request: Request,
    session: Db,
    _signed: Technician,
    form: Annotated[Submitted[Quantities], Depends(submitted(Quantities))],
) -> Response:
    if form.clean is None:
        return show(request, "chemistry/quantities.html", quantities_page(session, form), status=422)
    set_usual_quantities(session, **form.clean.in_kept_units())
    return seen(request, "chemistry.quantities")
