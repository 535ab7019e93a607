"""The style of pages near plates, which stands inside the page: it is there with the first frame, or there is no page.

The content security policy lets in exactly these texts, by their hashes.
"""

import base64
from functools import lru_cache
from hashlib import sha256

from markupsafe import Markup

from server.core.screen_light import LEVELS, Channel, Level, palette
from server.web.assets import STATIC

CHANNELS: tuple[Channel, ...] = ("green", "red")
# A page brings one of these along: the tablet's own pages and every problem, or a board.
STYLES = ("tablet", "board")


def _named(channel: Channel, value: int) -> str:
    return f"#00{value:02x}00" if channel == "green" else f"#{value:02x}0000"


def _values(channel: Channel, level: Level) -> str:
    shown = palette(channel, level)
    values = (
        ("ink", shown.ink),
        ("quiet", shown.quiet),
        ("edge", shown.edge),
        ("chosen", shown.chosen),
    )
    named = "".join(f"--{name}:{_named(channel, value)};" for name, value in values)
    return f':root[data-light="{channel}"][data-level="{level}"]{{{named}}}\n'


@lru_cache(maxsize=len(STYLES))
def _text(name: str) -> str:
    nothing = ":root{--ink:#000;--quiet:#000;--edge:#000;--chosen:#000;}\n"
    shown = "".join(_values(channel, level) for channel in CHANNELS for level in LEVELS)
    sheets = ("dark", name)
    return nothing + shown + "".join((STATIC / "css" / f"{sheet}.css").read_text() for sheet in sheets)


def dark_style(name: str) -> Markup:
    """One of `STYLES` as the element that a page carries in its head."""
    return Markup(f"<style>{_text(name)}</style>")  # noqa: S704 - our own files, and numbers


@lru_cache(maxsize=1)
def style_hashes() -> str:
    """What the content security policy says of them (CSP 3, `'sha256-…'`)."""
    hashes = (base64.b64encode(sha256(_text(name).encode()).digest()).decode() for name in STYLES)
    return " ".join(f"'sha256-{found}'" for found in hashes)
