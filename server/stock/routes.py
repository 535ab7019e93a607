"""Addresses of the stock pages."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.people.access import Db, Now, Technician
from server.stock.pages import account_page, stock_page
from server.web.show import show

router = APIRouter()


@router.get("/stock", name="stock.stock")
def stock(request: Request, session: Db, now: Now, signed: Technician) -> Response:
    return show(request, "stock/stock.html", stock_page(session, now, signed.time_zone))


@router.get("/stock/account", name="stock.account")
def account(request: Request, session: Db, _signed: Technician) -> Response:
    return show(request, "stock/account.html", account_page(session))
