"""Headers on every answer, and the refusal of writes that another site sends. Plain ASGI."""

from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.web.problems import Problem
from server.web.show import show

_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)

_HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    # Not `no-referrer`: with it browsers send `Origin: null` and our own forms would look foreign.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})


def comes_from_our_own_page(headers: Headers) -> bool:
    """Whether a write was sent by a page of this server.

    Browsers say so with `Sec-Fetch-Site` on secure addresses and with `Origin` on every form they send; what says
    neither is no browser's form.
    """
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site == "same-origin"
    origin = headers.get("origin")
    return origin is not None and urlsplit(origin).netloc == headers.get("host")


class OwnPagesOnly:
    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        if scope["method"] in SAFE_METHODS or comes_from_our_own_page(Headers(scope=scope)):
            await self.app(scope, receive, send_with_headers)
            return
        sentence = (
            "This was sent from another site, so nothing was done. Open the page here and send it again."
        )
        answer = show(Request(scope), "problem.html", Problem("Not from here", sentence), status=403)
        await answer(scope, receive, send_with_headers)
