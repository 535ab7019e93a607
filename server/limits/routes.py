"""Addresses of the pages of limits, of the site's months and of determinations."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.core.moments import day_at
from server.limits.actions import count_stream_as, measure_tray, record_determination, report_site_month
from server.limits.forms import (
    AskedCarried,
    AskedDissolved,
    NewCounting,
    NewDetermination,
    NewSiteMonth,
    NewTray,
    with_past_days,
    with_sample,
)
from server.limits.pages import determinations_page, estimates_page, limits_page, months_page
from server.people.access import Db, Now, Technician
from server.web.show import seen, show
from server.web.submitted import RowId, Submitted, asked, submitted

router = APIRouter()


@router.get("/waste/limits", name="limits.limits")
def limits(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "limits/limits.html", limits_page(session, now=now, zone=signed.time_zone))


@router.post("/waste/limits/trays", name="limits.measure_tray")
def measure_one_tray(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewTray], Depends(submitted(NewTray))],
) -> Response:
    if form.clean is None:
        page = limits_page(session, now=now, zone=signed.time_zone, tray_form=form)
        return show(request, "limits/limits.html", page, status=422)
    measure_tray(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "limits.limits")


@router.post("/waste/limits/streams", name="limits.count_stream_as")
def count_one_stream_as(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    form: Annotated[Submitted[NewCounting], Depends(submitted(NewCounting))],
) -> Response:
    if form.clean is None:
        page = limits_page(session, now=now, zone=signed.time_zone, counting_form=form)
        return show(request, "limits/limits.html", page, status=422)
    count_stream_as(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "limits.limits")


@router.get("/waste/limits/months", name="limits.months")
def months(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "limits/months.html", months_page(session, now=now, zone=signed.time_zone))


@router.post("/waste/limits/months", name="limits.report_site_month")
def report_one_month(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    typed: Annotated[Submitted[NewSiteMonth], Depends(submitted(NewSiteMonth))],
) -> Response:
    form = with_past_days(typed, today=day_at(now, signed.time_zone))
    if form.clean is None:
        page = months_page(session, now=now, zone=signed.time_zone, form=form)
        return show(request, "limits/months.html", page, status=422)
    report_site_month(session, **form.clean.model_dump(), by=signed.name, now=now)
    return seen(request, "limits.months")


@router.get("/waste/limits/carried", name="limits.carried")
def carried(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    form = asked(request, AskedCarried)
    page = estimates_page(session, now=now, zone=signed.time_zone, carried_form=form)
    return show(request, "limits/estimates.html", page, status=422 if form.errors else 200)


@router.get("/waste/limits/dissolved", name="limits.dissolved")
def dissolved(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    form = asked(request, AskedDissolved)
    page = estimates_page(session, now=now, zone=signed.time_zone, dissolved_form=form)
    return show(request, "limits/estimates.html", page, status=422 if form.errors else 200)


@router.get("/waste/containers/{container_id}/determinations", name="limits.determinations")
def determinations(
    request: Request, session: Db, now: Now, signed: Technician, container_id: RowId
) -> Response:
    page = determinations_page(session, container_id, now=now, zone=signed.time_zone)
    return show(request, "limits/determinations.html", page)


@router.post("/waste/containers/{container_id}/determinations", name="limits.record_determination")
def record_one_determination(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    container_id: RowId,
    typed: Annotated[Submitted[NewDetermination], Depends(submitted(NewDetermination))],
) -> Response:
    form, sampled_at = with_sample(typed, now=now, zone=signed.time_zone)
    if form.clean is None:
        page = determinations_page(session, container_id, now=now, zone=signed.time_zone, form=form)
        return show(request, "limits/determinations.html", page, status=422)
    record_determination(
        session, container_id, **form.clean.kept(), sampled_at=sampled_at, by=signed.name, now=now
    )
    return seen(request, "limits.determinations", container_id=container_id)
