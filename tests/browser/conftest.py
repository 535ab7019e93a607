"""A real Chromium on the real server."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from server.people.access import COOKIE
from tests.casts import TOKENS
from tests.conftest import Running

CHROMIUM = Path(os.environ.get("STILLROOM_CHROMIUM", "/usr/bin/chromium"))
# Nothing but the page under test may use the network.
QUIET = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--no-proxy-server",
    # A lab's server is reached by its name over plain HTTP, where browsers withhold what secure addresses get.
    "--host-resolver-rules=MAP stillroom.test 127.0.0.1",
)  # fmt: skip

# What Chromium and htmx report when a form is refused or a test takes the network away.
MEANT = (
    "the server responded with a status of 4",
    "net::ERR_INTERNET_DISCONNECTED",
    "htmx:error",
    "htmx:response:error",
)

Open = Callable[..., Page]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    if not CHROMIUM.exists():
        pytest.skip(f"there is no Chromium at {CHROMIUM}; STILLROOM_CHROMIUM names another")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
        yield browser
        browser.close()


@pytest.fixture
def opened(chromium: Browser, server: Running) -> Iterator[Open]:
    """Opens a browser of somebody's own: `opened("mira", width=390)`. What it complains about fails the test."""
    contexts = []
    complaints: list[str] = []

    def _open(name: str = "", *, width: int = 1440, height: int = 900) -> Page:
        context = chromium.new_context(
            base_url=server.address, viewport={"width": width, "height": height}, locale="en-GB"
        )
        context.set_default_timeout(15_000)
        if name:
            context.add_cookies([{"name": COOKIE, "value": TOKENS[name], "url": server.address}])
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda told: complaints.append(told.text) if told.type == "error" else None)
        page.on("pageerror", lambda fault: complaints.append(str(fault)))
        return page

    yield _open
    for context in contexts:
        context.close()
    assert [words for words in complaints if not any(meant in words for meant in MEANT)] == []
