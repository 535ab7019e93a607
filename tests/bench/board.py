"""How soon sixty devices see what is called, and how quick pages are meanwhile, on one server process of this machine.

Every device is a listener of its own on the live feed. A caller calls through the class, takes back and calls again; each time the
delay counts from the moment the press leaves to the moment the last device has read what was said. Meanwhile another browser asks for
Today, one page after the other with a short pause.
"""

import json
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import median, quantiles
from tempfile import TemporaryDirectory
from uuid import uuid4

import httpx

from server.data.schema import migrate
from server.data.session import Database
from server.settings import Settings
from tests.bench.pages import browser_of, serving
from tests.callings.calls import published
from tests.casts import fill

DEVICES = 60
PRESSES = 200
PAUSE_S = 0.1
PAGE_PAUSE_S = 0.02
PATIENCE_S = 30


def _filled(url: str) -> int:
    settings = Settings(database_url=url)
    migrate(settings)
    database = Database(settings.url)
    cast = fill(database)
    with database.writing(cast.lab_id) as session:
        rotation = published(session, cast.section_id)
    database.engine.dispose()
    return rotation


class Device(threading.Thread):
    """Listens, and notes when it read of each event, by the event's id."""

    def __init__(self, address: str, rotation: int) -> None:
        super().__init__(daemon=True)
        self.address, self.rotation = address, rotation
        self.read: dict[str, float] = {}
        self.listens = threading.Event()

    def run(self) -> None:
        with (
            browser_of(self.address) as browser,
            browser.stream(
                "GET", f"/board/{self.rotation}/feed", headers={"Accept": "text/event-stream"}
            ) as answer,
        ):
            name = ""
            try:
                for line in answer.iter_lines():
                    if line.startswith("event: "):
                        name = line.removeprefix("event: ")
                    elif line.startswith("data: ") and name == "now":
                        for known in json.loads(line.removeprefix("data: "))["ids"]:
                            self.read.setdefault(known, time.perf_counter())
                        self.listens.set()
            except httpx.HTTPError:
                return  # the bench is over


def _pages(address: str, over: threading.Event, times: list[float]) -> None:
    with browser_of(address) as browser:
        while not over.wait(PAGE_PAUSE_S):
            began = time.perf_counter()
            browser.get("/").raise_for_status()
            times.append(1000 * (time.perf_counter() - began))


def _asked(address: str, seconds: float) -> list[float]:
    """How quick pages are for a while."""
    over, times = threading.Event(), list[float]()
    asking = threading.Thread(target=_pages, args=(address, over, times))
    asking.start()
    time.sleep(seconds)
    over.set()
    asking.join()
    return times


def _presses(caller: httpx.Client, rotation: int, devices: list[Device]) -> Iterator[float]:
    """The delay of each press to the last device, in milliseconds; every other press takes the one before back."""
    last = ""
    for number in range(PRESSES):
        told = caller.get(f"/board/{rotation}/feed").json()
        press = {"tablet_id": str(uuid4()), "kind": "called", "answers": told["cues"][0]["key"]}
        if number % 2:
            press |= {"kind": "undone", "answers": last}
        last, began = press["tablet_id"], time.perf_counter()
        caller.post(
            f"/board/{rotation}/call", data=press, headers={"Accept": "application/json"}
        ).raise_for_status()
        while not all(last in device.read for device in devices):
            if time.perf_counter() - began > PATIENCE_S:
                raise SystemExit("a device never heard of a press")
            time.sleep(0.001)
        yield 1000 * (max(device.read[last] for device in devices) - began)
        time.sleep(PAUSE_S)


def measured() -> Iterator[str]:
    """The table, line by line."""
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.sqlite3'}"
        rotation = _filled(url)
        with serving(url) as address, browser_of(address) as caller:
            _asked(address, 2)
            idle = _asked(address, 10)
            devices = [Device(address, rotation) for _ in range(DEVICES)]
            for device in devices:
                device.start()
            for device in devices:
                device.listens.wait(PATIENCE_S)
            over, busy = threading.Event(), list[float]()
            asking = threading.Thread(target=_pages, args=(address, over, busy))
            asking.start()
            delays = list(_presses(caller, rotation, devices))
            over.set()
            asking.join()
    yield f"{len(devices)} devices, {len(delays)} presses, from the press to the last device:"
    yield f"median {median(delays):.0f} ms, p99 {quantiles(delays, n=100)[98]:.0f} ms, worst {max(delays):.0f} ms"
    for name, times in (("nobody listens", idle), ("meanwhile", busy)):
        cuts = quantiles(times, n=100)
        yield f"Today, {name}: {len(times)} asked, p50 {cuts[49]:.1f} ms, p99 {cuts[98]:.1f} ms"
