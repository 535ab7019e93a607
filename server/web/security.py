"""Headers on every answer, the refusal of writes that another site sends, and the reading of what is sent. Plain ASGI."""

import re
from urllib.parse import urlsplit

import anyio
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect, Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.core.picture import LARGEST_BYTES
from server.web.headers import add_headers
from server.web.problems import Problem, answer_with

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

# More than any form of ours needs; what comes beyond it is thrown away as it arrives.
LARGEST_FORM_BYTES = 1_000_000
# A form is a few thousand bytes: a network that needs longer has gone.
LONGEST_SENDING_S = 30.0

# Addresses that take a picture as it comes from a camera, with the little that surrounds it.
TAKES_PICTURES = re.compile(r"/tablet/runs/[0-9]+/photos")
LARGEST_WITH_PICTURE_BYTES = LARGEST_BYTES + 100_000
LONGEST_SENDING_PICTURE_S = 120.0
# Each is kept in memory until it is whole; a tablet's page makes its pictures smaller than a form may be.
LARGE_ONES_AT_ONCE = 8


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


async def _whole_body(receive: Receive, *, largest_bytes: int, longest_s: float) -> bytes:
    body, length, more = bytearray(), 0, True
    with anyio.move_on_after(longest_s):
        while more:
            message = await receive()
            if message["type"] == "http.disconnect":
                raise ClientDisconnect
            length += len(message.get("body", b""))
            if length <= largest_bytes:
                body += message.get("body", b"")
            more = message.get("more_body", False)
    if more:
        raise _NotTaken(Problem("Too slow", "This did not arrive in time. Please send it once more."), 408)
    if length > largest_bytes:
        sentence = "That is more than one form can carry. Please send it in smaller parts."
        raise _NotTaken(Problem("Too much", sentence), 413)
    return bytes(body)


def _said_bytes(scope: Scope) -> int:
    said = Headers(scope=scope).get("content-length", "")
    return int(said) if said.isdecimal() else 0


class WholeForms:
    """Reads a form to its end before anything else begins.

    A route waits for its turn at the database first and for its form second, so a tablet at the edge of the network
    would keep everybody else from writing for as long as its form is on the way.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self.large_ones = 0

    async def _body_of(self, scope: Scope, receive: Receive) -> bytes:
        """What does not say that it is larger than a form is held to that; few that are larger are read at a time."""
        takes_pictures = TAKES_PICTURES.fullmatch(scope["path"]) is not None
        longest_s = LONGEST_SENDING_PICTURE_S if takes_pictures else LONGEST_SENDING_S
        if not takes_pictures or _said_bytes(scope) <= LARGEST_FORM_BYTES:
            return await _whole_body(receive, largest_bytes=LARGEST_FORM_BYTES, longest_s=longest_s)
        if self.large_ones >= LARGE_ONES_AT_ONCE:
            sentence = "Many photos are being sent just now. Please send this one again in a minute."
            raise _NotTaken(Problem("Too much at once", sentence), 503)
        self.large_ones += 1
        try:
            return await _whole_body(receive, largest_bytes=LARGEST_WITH_PICTURE_BYTES, longest_s=longest_s)
        finally:
            self.large_ones -= 1

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in SAFE_METHODS:
            await self.app(scope, receive, send)
            return
        try:
            body = await self._body_of(scope, receive)
        except ClientDisconnect:
            return
        except _NotTaken as fault:
            await answer_with(Request(scope), fault.problem, fault.status)(scope, receive, send)
            return
        whole: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

        async def receive_whole() -> Message:
            return whole.pop() if whole else await receive()

        await self.app(scope, receive_whole, send)
