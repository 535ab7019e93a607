"""How quick pages are while a large class is planned, beside how quick they are on an idle server of the same minute.

One server process on a database file of its own, asked over HTTP on this machine: one page after the other with a short pause, as a
busy lab would, while another browser watches the search.
"""

import subprocess
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from datetime import time as wall_clock
from os import environ
from pathlib import Path
from statistics import quantiles
from tempfile import TemporaryDirectory

import httpx

from server.core.planning import write_class_file
from server.data.schema import migrate
from server.data.session import Database
from server.demo import furnish
from server.people.access import COOKIE
from server.questions.actions import take_in_class_file
from server.settings import Settings
from server.web.show import ROOT
from tests.bench.classes import CLASSES
from tests.casts import MORNING, TOKENS, fill

TURNS = 3
# Of each page, in each half of a turn.
REQUESTS = 80
PAUSE_S = 0.02
SEARCH_S = 300
ZONE = "Europe/Berlin"
PART = {"HX-Request": "true", "HX-Request-Type": "partial"}
LARGE = next(problem for problem, _seconds in CLASSES if problem.name.startswith("20 groups"))

Times = dict[str, list[float]]


def _filled(url: str) -> tuple[dict[str, str], list[str]]:
    """Write the invented lab; return the addresses of the pages that are asked, and of rotations to be planned."""
    settings = Settings(database_url=url)
    migrate(settings)
    database = Database(settings.url)
    cast = fill(database)
    with database.writing(cast.lab_id) as session:
        things = furnish(session, cast.section_id, zone=ZONE, now=MORNING, seconds=1)
        rotations = [
            take_in_class_file(
                session,
                section_id=cast.section_id,
                day=date(2027, 3, 1 + turn),
                starts=wall_clock(9),
                class_file=write_class_file(LARGE),
                now=MORNING,
                zone=ZONE,
            ).id
            for turn in range(TURNS)
        ]
    database.engine.dispose()
    pages = {"Today": "/", "a container": f"/waste/containers/{things.container_ids[0]}"}
    return pages, [f"/rotations/{number}" for number in rotations]


@contextmanager
def serving(url: str) -> Iterator[str]:
    """The address of a server process that runs as long as it is needed."""
    command = [sys.executable, "-m", "tests.one_process"]
    environment = {**environ, "STILLROOM_DATABASE_URL": url, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            yield process.stdout.readline().strip()
        finally:
            process.terminate()


def browser_of(address: str) -> httpx.Client:
    cookies = {COOKIE: TOKENS["mira"]}
    return httpx.Client(
        base_url=address, headers={"Origin": address}, cookies=cookies, follow_redirects=True, timeout=60,
        trust_env=False,
    )  # fmt: skip


def _asked(browser: httpx.Client, pages: dict[str, str], times: Times) -> None:
    for _ in range(REQUESTS):
        for name, address in pages.items():
            began = time.perf_counter()
            browser.get(address).raise_for_status()
            times[name].append(1000 * (time.perf_counter() - began))
            time.sleep(PAUSE_S)


def _watch(address: str, rotation: str, over: threading.Event) -> None:
    """What a browser asks that shows the search."""
    drawn = ""
    with browser_of(address) as browser:
        while not over.wait(1):
            told = browser.get(f"{rotation}/search/progress", headers=PART).text
            newest = told.partition('id="newest-')[2].partition('"')[0]
            if newest != drawn:
                drawn = newest
                browser.get(f"{rotation}/search/drawing", headers=PART)


def _planned(address: str, rotation: str, pages: dict[str, str], times: Times) -> bool:
    """Ask for pages while the rotation is planned; return whether it was planned to the end of it."""
    over = threading.Event()
    watcher = threading.Thread(target=_watch, args=(address, rotation, over))
    with browser_of(address) as browser:
        browser.post(f"{rotation}/plan", data={"seconds": SEARCH_S}).raise_for_status()
        watcher.start()
        _asked(browser, pages, times)
        still = "Stop and keep" in browser.get(f"{rotation}/search").text
        over.set()
        watcher.join()
        browser.post(f"{rotation}/search/stop").raise_for_status()
        while "Stop and keep" in browser.get(f"{rotation}/search").text:
            time.sleep(0.2)
    return still


def measured() -> Iterator[str]:
    """The table, line by line."""
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.sqlite3'}"
        pages, rotations = _filled(url)
        idle, busy = defaultdict[str, list[float]](list), defaultdict[str, list[float]](list)
        with serving(url) as address:
            with browser_of(address) as browser:
                _asked(browser, pages, defaultdict(list))
            for rotation in rotations:
                with browser_of(address) as browser:
                    _asked(browser, pages, idle)
                if not _planned(address, rotation, pages, busy):
                    yield f"The search was over before the pages were asked: {rotation}"
    yield f"{'page':12} {'asked':>6} {'idle p50':>9} {'p99':>7} {'planning p50':>13} {'p99':>7} {'p50 ratio':>10} {'p99 ratio':>10}"
    for name in pages:
        (p50, p99), (busy50, busy99) = _middle_and_worst(idle[name]), _middle_and_worst(busy[name])
        yield (
            f"{name:12} {len(idle[name]):6} {p50:6.1f} ms {p99:4.1f} ms {busy50:10.1f} ms {busy99:4.1f} ms "
            f"{busy50 / p50:10.2f} {busy99 / p99:10.2f}"
        )


def _middle_and_worst(times: list[float]) -> tuple[float, float]:
    cuts = quantiles(times, n=100)
    return cuts[49], cuts[98]
