"""Addresses of the stock pages."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from server.core.moments import day_at
from server.people.access import Db, Now, Technician
from server.plates.actions import Count, count_plate_boxes
from server.stock.forms import CountedBox, CountTable
from server.stock.pages import account_file, account_page, judged_counts, stock_page
from server.web.downloads import download
from server.web.show import seen, show
from server.web.submitted import Submitted, read_lines, submitted

router = APIRouter()


@router.get("/stock", name="stock.stock")
def stock(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "stock/stock.html", stock_page(session, now, signed.time_zone))


@router.get("/stock/account", name="stock.account")
def account(request: Request, session: Db, signed: Technician) -> Response:
    return show(request, "stock/account.html", account_page(session, signed.time_zone))


@router.post("/stock/account/counts", name="stock.count_plate_boxes")
def count_the_plate_boxes(
    request: Request,
    session: Db,
    now: Now,
    signed: Technician,
    table: Annotated[Submitted[CountTable], Depends(submitted(CountTable))],
) -> Response:
    lines = judged_counts(session, read_lines(CountedBox, table.clean or CountTable()))
    if any(line.errors for line in lines):
        page = account_page(session, signed.time_zone, lines)
        return show(request, "stock/account.html", page, status=422)
    typed = [line.clean for line in lines if line.clean is not None]
    counts = [Count(box.plate_box_id, box.counted, box.reason) for box in typed if box.counted is not None]
    count_plate_boxes(session, counts, by=signed.name, now=now)
    return seen(request, "stock.account")


@router.get("/stock/account/plates.csv", name="stock.plates_file")
def plates_file(session: Db, now: Now, signed: Technician) -> Response:
    name = f"plates by box {day_at(now, signed.time_zone)}.csv"
    text = account_file(session, signed.time_zone)
    return download(text, name=name, media_type="text/csv; header=present")
