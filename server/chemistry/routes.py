"""Addresses of the chemistry pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.chemistry.actions import (
    check_batch,
    correct_batch,
    discard_batch,
    mix_batch,
    override_end,
    set_usual_quantities,
)
from server.chemistry.forms import (
    Asked,
    DiscardedRest,
    MeasuredRest,
    NewCheck,
    NewEnd,
    NewMix,
    Quantities,
    SourceTable,
    read_sources,
    with_end,
    with_mixing_time,
)
from server.chemistry.pages import batch_page, chemistry_page, mix_page, quantities_page
from server.chemistry.queries import get_making
from server.people.access import Db, Instructor, Now, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, read, submitted

router = APIRouter()


@router.get("/chemistry", name="chemistry.chemistry")
def chemistry(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "chemistry/chemistry.html", chemistry_page(session, now, signed.time_zone))


@router.get("/chemistry/mix", name="chemistry.mix")
def mix(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    page = mix_page(session, now, signed.time_zone, read(Asked, request.query_params))
    return show(request, "chemistry/mix.html", page)


@router.post("/chemistry/mix", name="chemistry.mix_batch")
def mix_the_batch(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    typed: Annotated[Submitted[NewMix], Depends(submitted(NewMix))],
    table: Annotated[Submitted[SourceTable], Depends(submitted(SourceTable))],
) -> Response:
    form, mixed_at = with_mixing_time(typed, now, signed.time_zone)
    lines, chosen = read_sources(table.clean or SourceTable())
    if form.clean is None or mixed_at is None or any(line.errors for line in lines):
        page = mix_page(session, now, signed.time_zone, read(Asked, form.values), form, lines)
        return show(request, "chemistry/mix.html", page, status=422)
    making = get_making(session, form.clean.recipe)
    batch = mix_batch(
        session, making, chosen, **form.clean.kept(), mixed_at=mixed_at, by=signed.name, now=now
    )
    return seen(request, "chemistry.batch", batch_id=batch.id)


@router.get("/chemistry/batches/{batch_id}", name="chemistry.batch")
def batch(request: Request, session: Db, now: Now, signed: Technician, batch_id: RowId) -> Response:
    page = batch_page(session, batch_id, now, signed.time_zone, decides=signed.is_instructor)
    return show(request, "chemistry/batch.html", page)


@router.post("/chemistry/batches/{batch_id}/checks", name="chemistry.check_batch")
def check_the_batch(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    batch_id: RowId,
    form: Annotated[Submitted[NewCheck], Depends(submitted(NewCheck))],
) -> Response:
    if form.clean is None:
        decides = signed.is_instructor
        page = batch_page(session, batch_id, now, signed.time_zone, decides=decides, check_form=form)
        return show(request, "chemistry/batch.html", page, status=422)
    check_batch(session, batch_id, **form.clean.kept(), by=signed.name, now=now)
    return seen(request, "chemistry.batch", batch_id=batch_id)


@router.post("/chemistry/batches/{batch_id}/override", name="chemistry.override_end")
def override_the_end(
    request: Request,
    session: Db,
    now: Now,
    signed: Instructor,
    batch_id: RowId,
    typed: Annotated[Submitted[NewEnd], Depends(submitted(NewEnd))],
) -> Response:
    form, until = with_end(typed, signed.time_zone)
    if form.clean is None or until is None:
        page = batch_page(session, batch_id, now, signed.time_zone, decides=True, end_form=form)
        return show(request, "chemistry/batch.html", page, status=422)
    override_end(session, batch_id, until=until, reason=form.clean.override_reason, by=signed.name, now=now)
    return seen(request, "chemistry.batch", batch_id=batch_id)


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
        decides = signed.is_instructor
        page = batch_page(session, batch_id, now, signed.time_zone, decides=decides, discard_form=form)
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
        decides = signed.is_instructor
        page = batch_page(session, batch_id, now, signed.time_zone, decides=decides, measure_form=form)
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
