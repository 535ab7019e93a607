"""Tablets in real browsers, each on a wire that a test cuts and mends."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from server.people.access import COOKIE
from tests.browser.wire import Wire
from tests.casts import TOKENS

AGAIN_MS = 30_000


class Tablets:
    """Tablets of G1 on a named address over plain HTTP as in a lab, each on a wire of its own."""

    def __init__(self, chromium: Browser) -> None:
        self.chromium = chromium
        self.wires: dict[BrowserContext, Wire] = {}
        self.faults: list[str] = []

    def new(self, port: int, script: str = "") -> tuple[Page, Wire]:
        wire = Wire(port)
        context = self.chromium.new_context(viewport={"width": 800, "height": 1200})
        context.set_default_timeout(15_000)
        address = f"http://stillroom.test:{wire.port}"
        context.add_cookies([{"name": COOKIE, "value": TOKENS["tablet"], "url": address}])
        context.add_init_script(script)
        context.on("weberror", lambda fault: self.faults.append(str(fault.error)))
        self.wires[context] = wire
        return self.tab(context), wire

    def tab(self, context: BrowserContext) -> Page:
        page = context.new_page()
        page.goto(f"http://stillroom.test:{self.wires[context].port}/tablet")
        measured(page)
        return page

    def close(self) -> None:
        for context, wire in self.wires.items():
            context.close()
            wire.close()
        assert self.faults == []


def measured(page: Page) -> None:
    """The page knows the server's clock."""
    page.wait_for_function("() => outbox.writing().anchor")


def mend(page: Page, wire: Wire) -> None:
    """The network is back, and the browser notices."""
    wire.mend()
    page.evaluate("dispatchEvent(new Event('online'))")


def when_sent(page: Page, then: Callable[[], object]) -> None:
    """Does something when the next note or photo is on its way: after the clock was asked, and before it arrives."""

    def on_its_way(route: Route) -> None:
        then()
        route.continue_()

    page.route(re.compile(r"/tablet/runs(/\d+/photos)?$"), on_its_way, times=1)


def until(page: Page, true: Callable[[], bool]) -> None:
    for _ in range(600):
        if true():
            return
        page.wait_for_timeout(100)
    pytest.fail("it did not happen within a minute")


def waiting(page: Page, number: int) -> None:
    expect(page.locator("#outbox .kept > div")).to_have_count(number)


def nothing_waits(page: Page) -> None:
    expect(page.locator("#outbox")).to_be_hidden(timeout=AGAIN_MS)
