"""Addresses of the pages of kits."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.kits.actions import (
    correct_bottle,
    describe_bottle,
    discard_from_bottle,
    keep_sheet,
    open_bottle,
    take_in_kit,
    use_up_bottle,
)
from server.kits.forms import (
    BottleDescription,
    BottleTable,
    DiscardedAmount,
    MeasuredAmount,
    NewKit,
    NewSheet,
    OpenedBottle,
    UsedUpBottle,
    read_bottles,
)
from server.kits.pages import kit_page, kits_page
from server.kits.queries import get_sheet_of_kit
from server.people.access import Db, Now, Technician
from server.web.downloads import download
from server.web.show import seen, show
from server.web.submitted import RowId, SentFile, Submitted, submitted, submitted_with_file

router = APIRouter()


@router.get("/stock/kits", name="kits.kits")
def kits(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "kits/kits.html", kits_page(session, now, signed.time_zone))


@router.post("/stock/kits", name="kits.take_in_kit")
def take_in_the_kit(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewKit], Depends(submitted(NewKit))],
    table: Annotated[Submitted[BottleTable], Depends(submitted(BottleTable))],
) -> Response:
    lines, contents = read_bottles(table.clean or BottleTable())
    if form.clean is None or any(line.errors for line in lines):
        page = kits_page(session, now, signed.time_zone, form, lines)
        return show(request, "kits/kits.html", page, status=422)
    kit = take_in_kit(session, **form.clean.kept(), contents=contents, by=signed.name, now=now)
    return seen(request, "kits.kit", kit_id=kit.id)


@router.get("/stock/kits/{kit_id}", name="kits.kit")
def kit(request: Request, session: Db, now: Now, signed: Technician, kit_id: RowId) -> Response:
    return show(request, "kits/kit.html", kit_page(session, kit_id, now, signed.time_zone))


@router.post("/stock/kits/{kit_id}/discards", name="kits.discard_from_bottle")
def discard(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    kit_id: RowId,
    form: Annotated[Submitted[DiscardedAmount], Depends(submitted(DiscardedAmount))],
) -> Response:
    if form.clean is None:
        page = kit_page(session, kit_id, now, signed.time_zone, discard_form=form)
        return show(request, "kits/kit.html", page, status=422)
    discard_from_bottle(session, **form.clean.kept(), by=signed.name, now=now)
    return seen(request, "kits.kit", kit_id=kit_id)


@router.post("/stock/kits/{kit_id}/corrections", name="kits.correct_bottle")
def correct_the_bottle(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    kit_id: RowId,
    form: Annotated[Submitted[MeasuredAmount], Depends(submitted(MeasuredAmount))],
) -> Response:
    if form.clean is None:
        page = kit_page(session, kit_id, now, signed.time_zone, measure_form=form)
        return show(request, "kits/kit.html", page, status=422)
    correct_bottle(session, **form.clean.kept(), by=signed.name, now=now)
    return seen(request, "kits.kit", kit_id=kit_id)


@router.post("/stock/kits/{kit_id}/opening", name="kits.open_bottle")
def open_the_bottle(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    kit_id: RowId,
    form: Annotated[Submitted[OpenedBottle], Depends(submitted(OpenedBottle))],
) -> Response:
    if form.clean is None:
        page = kit_page(session, kit_id, now, signed.time_zone, opening_form=form)
        return show(request, "kits/kit.html", page, status=422)
    open_bottle(session, form.clean.bottle_id, now=now)
    return seen(request, "kits.kit", kit_id=kit_id)


@router.post("/stock/kits/{kit_id}/used-up", name="kits.use_up_bottle")
def use_up_the_bottle(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    kit_id: RowId,
    form: Annotated[Submitted[UsedUpBottle], Depends(submitted(UsedUpBottle))],
) -> Response:
    if form.clean is None:
        page = kit_page(session, kit_id, now, signed.time_zone, used_up_form=form)
        return show(request, "kits/kit.html", page, status=422)
    use_up_bottle(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "kits.kit", kit_id=kit_id)


@router.post("/stock/kits/{kit_id}/descriptions", name="kits.describe_bottle")
def describe_the_bottle(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    kit_id: RowId,
    form: Annotated[Submitted[BottleDescription], Depends(submitted(BottleDescription))],
) -> Response:
    if form.clean is None:
        page = kit_page(session, kit_id, now, signed.time_zone, description_form=form)
        return show(request, "kits/kit.html", page, status=422)
    describe_bottle(session, form.clean.bottle_id, form.clean.kept())
    return seen(request, "kits.kit", kit_id=kit_id)


@router.post("/stock/kits/{kit_id}/sheets", name="kits.keep_sheet")
def keep_the_sheet(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    kit_id: RowId,
    sent: Annotated[
        tuple[Submitted[NewSheet], SentFile | None], Depends(submitted_with_file(NewSheet, "sheet_file"))
    ],
) -> Response:
    form, file = sent
    if form.clean is None:
        page = kit_page(session, kit_id, now, signed.time_zone, sheet_form=form)
        return show(request, "kits/kit.html", page, status=422)
    given = form.clean.model_dump()
    keep_sheet(session, kit_id, **given, file=file, by=signed.name, now=now)
    return seen(request, "kits.kit", kit_id=kit_id)


@router.get("/stock/kits/{kit_id}/sheets/{sheet_id}", name="kits.sheet")
def sheet(session: Db, _signed: Technician, kit_id: RowId, sheet_id: RowId) -> Response:
    found = get_sheet_of_kit(session, kit_id, sheet_id)
    return download(
        found.content, name=f"{found.name.removesuffix('.pdf')}.pdf", media_type="application/pdf"
    )
