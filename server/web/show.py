"""Answering with a page, or with one part of it.

A template's context is exactly `request` and `page` (a frozen dataclass), beside the globals declared here.
"""

from http import HTTPStatus
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.templating import Jinja2Templates
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import RedirectResponse, Response

from server.web.assets import asset

ROOT = Path(__file__).resolve().parents[2]


TEMPLATES = Jinja2Templates(
    env=Environment(
        loader=FileSystemLoader(ROOT / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
)
TEMPLATES.env.globals["asset"] = asset


def wants_part(request: Request) -> bool:
    """Whether htmx asks for a fragment; the only place that decides it."""
    return request.headers.get("HX-Request-Type") == "partial"


def sent_by_htmx(request: Request) -> bool:
    """Whether the page is still open in the browser and waits for the answer."""
    return request.headers.get("HX-Request") == "true"


def show(
    request: Request, template: str, page: object, *, part: str | None = None, status: int = 200
) -> Response:
    """Answer with `template`, or with `part` alone where a fragment is wanted."""
    name = part if part is not None and wants_part(request) else template
    context: dict[str, Any] = {"page": page}
    headers = {"Vary": "HX-Request-Type", "Cache-Control": "no-store"}
    if status >= HTTPStatus.BAD_REQUEST:
        # A refused form stays at the address of the page it stands on.
        headers["HX-Push-Url"] = "false"
    return TEMPLATES.TemplateResponse(request, name, context, status_code=status, headers=headers)


def seen(request: Request, route: str, **place: object) -> Response:
    """After a write: go and look at `route` (303, so that a reload does not write again)."""
    return RedirectResponse(request.url_for(route, **place).path, status_code=303)


def own_address(address: str) -> str:
    """Only addresses of this server: anything else would send people away."""
    return address if address.startswith("/") and not address.startswith(("//", "/\\")) else "/"
