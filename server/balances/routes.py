"""Addresses of the pages of balances of days, classes and terms, and of weighings."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.balances.actions import (
    answer_difference,
    answer_weighing,
    log_gone,
    log_water,
    set_figures,
    take_back_gone,
    take_back_water,
    weigh_container,
)
from server.balances.forms import (
    Chosen,
    NewAnswer,
    NewEntry,
    NewFigures,
    NewWeighing,
    NewWeighingAnswer,
    TakenBack,
    Where,
    with_time,
)
from server.balances.models import Elsewhere
from server.balances.pages import BalanceForms, balance_page, figures_page, page_of, weighings_page
from server.people.access import Db, Now, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, asked, submitted
from server.web.typed import Day

router = APIRouter()


def _back(request: Request, where: Where) -> Response:
    """Back to the balance on whose page the form stood."""
    if where.class_id is not None:
        return seen(request, "balances.of_class", rotation_id=where.class_id)
    return seen(request, "balances.of_days", first=where.first, last=where.last)


@router.get("/waste/balances", name="balances.balances")
def balances(request: Request, session: Db, signed: Technician, now: Now) -> Response:
    """Today's balance, or that of the days that the address asks for."""
    form = asked(request, Chosen)
    if form.clean is not None and form.clean.first is not None:
        days = form.clean.first, form.clean.last or form.clean.first
        return seen(request, "balances.of_days", first=days[0], last=days[1])
    page = balance_page(session, now, signed.time_zone, forms=BalanceForms(chosen=form))
    return show(request, "balances/balances.html", page, status=422 if form.errors else 200)


@router.get("/waste/balances/days/{first}/{last}", name="balances.of_days")
def of_days(request: Request, session: Db, signed: Technician, now: Now, first: Day, last: Day) -> Response:
    page = balance_page(session, now, signed.time_zone, first=first, last=last)
    return show(request, "balances/balances.html", page)


@router.get("/waste/balances/classes/{rotation_id}", name="balances.of_class")
def of_class(request: Request, session: Db, signed: Technician, now: Now, rotation_id: RowId) -> Response:
    page = balance_page(session, now, signed.time_zone, of_class=rotation_id)
    return show(request, "balances/balances.html", page)


@router.post("/waste/balances/entries", name="balances.log")
def log(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    typed: Annotated[Submitted[NewEntry], Depends(submitted(NewEntry))],
) -> Response:
    form, at = with_time(typed, now, signed.time_zone)
    if form.clean is None or at is None:
        page = page_of(session, now, signed.time_zone, form, BalanceForms(entry=form))
        return show(request, "balances/balances.html", page, status=422)
    if form.clean.what == "water":
        log_water(session, **form.clean.kept(), drawn_at=at, by=signed.name, now=now)
    else:
        went = Elsewhere(form.clean.what)
        log_gone(session, **form.clean.kept(), went=went, gone_at=at, by=signed.name, now=now)
    return _back(request, form.clean)


@router.post("/waste/balances/entries/taken-back", name="balances.take_back")
def take_back(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[TakenBack], Depends(submitted(TakenBack))],
) -> Response:
    if form.clean is None:
        page = page_of(session, now, signed.time_zone, form, BalanceForms(taken_back=form))
        return show(request, "balances/balances.html", page, status=422)
    undo = take_back_water if form.clean.is_water else take_back_gone
    undo(session, form.clean.number, reason=form.clean.reason, by=signed.name, now=now)
    return _back(request, form.clean)


@router.post("/waste/balances/answers", name="balances.answer_difference")
def answer(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    form: Annotated[Submitted[NewAnswer], Depends(submitted(NewAnswer))],
) -> Response:
    if form.clean is None:
        page = page_of(session, now, signed.time_zone, form, BalanceForms(answer=form))
        return show(request, "balances/balances.html", page, status=422)
    answer_difference(session, **form.clean.kept(), by=signed.name, now=now)
    return _back(request, form.clean)


@router.get("/waste/balances/figures", name="balances.figures")
def figures(request: Request, session: Db, _signed: Technician) -> Response:
    return show(request, "balances/figures.html", figures_page(session))


@router.post("/waste/balances/figures", name="balances.set_figures")
def set_the_figures(
    request: Request,
    session: Db,
    _signed: Technician,
    form: Annotated[Submitted[NewFigures], Depends(submitted(NewFigures))],
) -> Response:
    if form.clean is None:
        return show(request, "balances/figures.html", figures_page(session, form), status=422)
    set_figures(session, **form.clean.in_kept_units())
    return seen(request, "balances.figures")


@router.get("/waste/containers/{container_id}/weighings", name="balances.weighings")
def weighings(request: Request, session: Db, signed: Technician, container_id: RowId) -> Response:
    page = weighings_page(session, container_id, signed.time_zone)
    return show(request, "balances/weighings.html", page)


@router.post("/waste/containers/{container_id}/weighings", name="balances.weigh_container")
def weigh(
    request: Request,
    session: Db,
    signed: Technician,
    now: Now,
    container_id: RowId,
    form: Annotated[Submitted[NewWeighing], Depends(submitted(NewWeighing))],
) -> Response:
    if form.clean is None:
        page = weighings_page(session, container_id, signed.time_zone, form=form)
        return show(request, "balances/weighings.html", page, status=422)
    weigh_container(session, container_id, **form.clean.kept(), by=signed.name, now=now)
    return seen(request, "balances.weighings", container_id=container_id)


@router.post(
    "/waste/containers/{container_id}/weighings/{weighing_id}/answer", name="balances.answer_weighing"
)
def answer_a_weighing(
    request: Request,
    session: Db,
    signed: Technician,
    container_id: RowId,
    weighing_id: RowId,
    form: Annotated[Submitted[NewWeighingAnswer], Depends(submitted(NewWeighingAnswer))],
) -> Response:
    if form.clean is None:
        page = weighings_page(session, container_id, signed.time_zone, answer_form=form)
        return show(request, "balances/weighings.html", page, status=422)
    answer_weighing(session, container_id, weighing_id, answer=form.clean.answer)
    return seen(request, "balances.weighings", container_id=container_id)
