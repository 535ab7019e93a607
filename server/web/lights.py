"""The light of screens near open plates: the one colour that a device keeps, and the gate before paper-white pages.

Whether lights are allowed is known above this floor: the application hands in `app.state.lights_allowed`.
"""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import cast
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.core.board_state import Colour
from server.core.codes import ALPHABET
from server.core.screen_light import LEVELS, USUAL_LEVEL, Level
from server.web.dark_style import dark_style
from server.web.show import TEMPLATES, own_address, sent_by_htmx, show

# Kept by a device that showed a page near plates: the one colour of its screen.
LIGHT_COOKIE = "light"
# A tablet that loses its browser in the middle of a class still knows; the next day anybody may have it.
COLOUR_KEPT_S = 86400
NEAR_PLATES = frozenset({"tablet", "board", "join", "screen"})
# The tablet's own white pages.
LIT = "/tablet/lit/"

# Kept by a device whose brightness was chosen.
LEVEL_COOKIE = "level"
KEPT_FOR_S = 400 * 86400

LightsAllowed = Callable[[Request], Awaitable[bool]]


def is_near_plates(path: str) -> bool:
    """Whether the page at this address may stand beside open plates."""
    return path.split("/")[1] in NEAR_PLATES and not path.startswith(LIT)


def kept_colour(request: Request) -> Colour | None:
    """The colour that this device keeps, None where it never showed a page near plates. What can't be read emits nothing."""
    kept = request.cookies.get(LIGHT_COOKIE)
    if kept is None:
        return None
    return cast("Colour", kept) if kept in {"green", "red"} else "none"


def keep_colour(request: Request, answer: Response, colour: str) -> None:
    """From now on the device shows everything in this colour, until somebody says that it is out of the dark room, or for a day."""
    secure = request.url.scheme == "https"
    answer.set_cookie(
        LIGHT_COOKIE, colour, max_age=COLOUR_KEPT_S, path="/", httponly=True, samesite="lax", secure=secure
    )


def put_colour_away(answer: Response) -> None:
    answer.delete_cookie(LIGHT_COOKIE, path="/")


@dataclass(frozen=True)
class ShutPage:
    """Instead of a white page: `next` is its address, `back` the page near plates that was left, if that is known.

    `is_asked` is set where a screen that shows nothing was touched once: only the second touch lets white pages open.
    """

    light: Colour
    next: str
    back: str
    is_asked: bool


def shut(request: Request, *, following: str, is_asked: bool = False) -> Response:
    """The dark page that stands where a white one was asked for."""
    page = ShutPage(kept_colour(request) or "green", own_address(following), _back(request), is_asked)
    return show(request, "shut.html", page, status=409)


def _back(request: Request) -> str:
    came_from = urlsplit(request.headers.get("referer", ""))
    own = came_from.netloc == request.headers.get("host") and is_near_plates(came_from.path or "/")
    return came_from.path if own else ""


def _is_white(message: Message, request: Request) -> bool:
    """Whether an answer lights up the screen: a page, or anything else that a browser was sent to look at."""
    headers = Headers(raw=message["headers"])
    if 300 <= message["status"] < 400 or headers.get("content-disposition", "").startswith("attachment"):  # noqa: PLR2004 - it leads elsewhere
        return False
    return "text/html" in headers.get("content-type", "") or "text/html" in request.headers.get("accept", "")


class WhitePagesShut:
    """Puts a dark page in the place of every white one while plates may be open near the device that asks."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not await self._is_shut(Request(scope)):
            await self.app(scope, receive, send)
            return
        request, replaced = Request(scope), False

        async def send_dark(message: Message) -> None:
            nonlocal replaced
            if message["type"] == "http.response.start" and _is_white(message, request):
                replaced = True
                address = f"{request.url.path}?{request.url.query}".removesuffix("?")
                await shut(request, following=address)(scope, receive, send)
            elif not replaced:
                await send(message)

        await self.app(scope, receive, send_dark)

    async def _is_shut(self, request: Request) -> bool:
        # A part that htmx fetches lands on a page that is white already.
        if request.method not in {"GET", "HEAD"} or sent_by_htmx(request):
            return False
        path = request.url.path
        if is_near_plates(path) or path.startswith("/static/") or kept_colour(request) is None:
            return False
        lights_allowed: LightsAllowed = request.app.state.lights_allowed
        return not await lights_allowed(request)


def level_of(request: Request) -> Level:
    """The brightness that was chosen on this device, or the usual one."""
    kept = request.cookies.get(LEVEL_COOKIE, "")
    return next((level for level in LEVELS if str(level) == kept), USUAL_LEVEL)


def keep_level(request: Request, answer: Response, level: int) -> None:
    secure = request.url.scheme == "https"
    answer.set_cookie(
        LEVEL_COOKIE, str(level), max_age=KEPT_FOR_S, path="/", httponly=True, samesite="lax", secure=secure
    )


def screen_of(request: Request, page: object) -> Colour:
    """The colour of a page near plates: what the page says, or else what the device keeps, or else what most plates do not see."""
    said: Colour | None = getattr(page, "light", None)
    return said or kept_colour(request) or "green"


TEMPLATES.env.globals |= {
    "screen_of": screen_of,
    "kept_colour": kept_colour,
    "level_of": level_of,
    "dark_style": dark_style,
    "code_signs": ALPHABET,
}
