"""Addresses of the pages of the forecast."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.forecasts.pages import forecast_page
from server.people.access import Db, Now, Technician
from server.web.show import show

router = APIRouter()


@router.get("/waste/forecast", name="forecasts.forecast")
def forecast(request: Request, session: Db, signed: Technician, now: Now) -> Response:
    return show(request, "forecasts/forecast.html", forecast_page(session, now=now, zone=signed.time_zone))
