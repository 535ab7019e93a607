"""Addresses of the pages of the rules of waste law."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.people.access import Db, Instructor, Now, Technician
from server.rules.actions import choose_rule_set, lay_over
from server.rules.forms import AskedRule, NewChoice, NewOverride
from server.rules.pages import rule_set_page, rules_page
from server.web.show import seen, show
from server.web.submitted import Submitted, asked, submitted

router = APIRouter()


@router.get("/waste/rules", name="rules.rules")
def rules(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    form = asked(request, AskedRule)
    rule = None if form.clean is None else form.clean.rule
    page = rules_page(session, now=now, zone=signed.time_zone, asked=rule)
    return show(request, "rules/rules.html", page)


@router.get("/waste/rules/{rule_set}", name="rules.rule_set")
def rule_set(request: Request, _session: Db, now: Now, signed: Technician, rule_set: str) -> Response:
    page = rule_set_page(rule_set, now=now, zone=signed.time_zone)
    return show(request, "rules/rule_set.html", page)


@router.post("/waste/rules", name="rules.choose")
def choose(
    request: Request,
    session: Db,
    now: Now,
    signed: Instructor,
    form: Annotated[Submitted[NewChoice], Depends(submitted(NewChoice))],
) -> Response:
    if form.clean is None:
        page = rules_page(session, now=now, zone=signed.time_zone, choice_form=form)
        return show(request, "rules/rules.html", page, status=422)
    choose_rule_set(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "rules.rules")


@router.post("/waste/rules/campus", name="rules.lay_over")
def lay_one_over(
    request: Request,
    session: Db,
    now: Now,
    signed: Instructor,
    form: Annotated[Submitted[NewOverride], Depends(submitted(NewOverride))],
) -> Response:
    if form.clean is None:
        page = rules_page(session, now=now, zone=signed.time_zone, override_form=form)
        return show(request, "rules/rules.html", page, status=422)
    lay_over(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "rules.rules")
