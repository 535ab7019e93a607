"""Headers on every answer, the refusal of writes that another site sends, and the reading of what is sent. Plain ASGI."""

from urllib.parse import urlsplit

import anyio
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect, Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.web.headers import add_headers
from server.web.problems import Problem, answer_with

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

# More than any form of ours needs; what comes beyond it is thrown away as it arrives.
LARGEST_FORM_BYTES = 1_000_000
# A form is a few thousand bytes: a network that needs longer has gone.
LONGEST_SENDING_S = 30.0


def comes_from_our_own_page(headers: Headers) -> bool:
    """Whether a write was sent by a page of this server.

    Browsers say so with `Sec-Fetch-Site` on secure addresses and with `Origin` on every form they send; what says
    neither is no browser's form.
    """
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site == "same-origin"
    try:
        return urlsplit(headers["origin"]).netloc == headers["host"]
    except (KeyError, ValueError):
        return False


class OwnPagesOnly:
    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                add_headers(MutableHeaders(scope=message))
            await send(message)

        if scope["method"] in SAFE_METHODS or comes_from_our_own_page(Headers(scope=scope)):
            await self.app(scope, receive, send_with_headers)
            return
        sentence = (
            "This was sent from another site, so nothing was done. Open the page here and send it again."
        )
        answer = answer_with(Request(scope), Problem("Not from here", sentence), 403)
        await answer(scope, receive, send_with_headers)


class _NotTaken(Exception):  # noqa: N818 - it is said to a person
    def __init__(self, problem: Problem, status: int) -> None:
        super().__init__(problem.sentence)
        self.problem = problem
        self.status = status


async def _whole_body(receive: Receive) -> bytes:
    body, length, more = bytearray(), 0, True
    with anyio.move_on_after(LONGEST_SENDING_S):
        while more:
            message = await receive()
            if message["type"] == "http.disconnect":
                raise ClientDisconnect
            length += len(message.get("body", b""))
            if length <= LARGEST_FORM_BYTES:
                body += message.get("body", b"")
            more = message.get("more_body", False)
    if more:
        raise _NotTaken(Problem("Too slow", "This did not arrive in time. Please send it once more."), 408)
    if length > LARGEST_FORM_BYTES:
        sentence = "That is more than one form can carry. Please send it in smaller parts."
        raise _NotTaken(Problem("Too much", sentence), 413)
    return bytes(body)


class WholeForms:
    """Reads a form to its end before anything else begins.

    A route waits for its turn at the database first and for its form second, so a tablet at the edge of the network
    would keep everybody else from writing for as long as its form is on the way.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in SAFE_METHODS:
            await self.app(scope, receive, send)
            return
        try:
            body = await _whole_body(receive)
        except ClientDisconnect:
            return
        except _NotTaken as fault:
            await answer_with(Request(scope), fault.problem, fault.status)(scope, receive, send)
            return
        whole: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

        async def receive_whole() -> Message:
            return whole.pop() if whole else await receive()

        await self.app(scope, receive_whole, send)
