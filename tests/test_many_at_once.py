"""Many people at once: nothing is lost, nothing locks up, and two processes serve one class."""

import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import httpx
import pytest

from server.people.access import COOKIE
from server.web.show import ROOT
from tests.casts import TOKENS, Cast
from tests.conftest import Databases, Running, Visitor

ALL_AT_ONCE = 40


def _at_once(work: Callable[[int], int], count: int) -> list[int]:
    ready = threading.Barrier(count)

    def _together(number: int) -> int:
        ready.wait(timeout=30)
        return work(number)

    with ThreadPoolExecutor(count) as pool:
        return list(pool.map(_together, range(count)))


def test_forty_writes_at_once_are_all_kept(server: Running, mira: Visitor) -> None:
    """More than there are connections and threads together, so that each must wait for its turn."""

    def _write(number: int) -> int:
        return mira.post("/people/sections", data={"name": f"Section {number:02}"}).status_code

    assert _at_once(_write, ALL_AT_ONCE) == [200] * ALL_AT_ONCE
    kept = mira.page("/people").get_text()

    assert all(f"Section {number:02}" in kept for number in range(ALL_AT_ONCE))
    assert server.app.state.database.engine.pool.checkedout() == 0


def test_the_same_name_sent_twenty_times_at_once_is_one_section(mira: Visitor) -> None:
    def _write(_number: int) -> int:
        return mira.post("/people/sections", data={"name": "Once"}).status_code

    answers = _at_once(_write, 20)

    assert answers.count(200) == 1
    assert set(answers) <= {200, 409}


@contextmanager
def process_of(url: str) -> Iterator[tuple[httpx.Client, subprocess.Popen[str]]]:
    """One server process of its own on the database at `url`, and the instructor's browser on it."""
    environment = {**os.environ, "STILLROOM_DATABASE_URL": url, "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "-m", "tests.one_process"]
    with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            address = process.stdout.readline().strip()
            with httpx.Client(
                base_url=address,
                headers={"Origin": address},
                cookies={COOKIE: TOKENS["mira"]},
                follow_redirects=True,
                timeout=30,
                trust_env=False,
            ) as client:
                yield client, process
        finally:
            process.terminate()
            process.wait(timeout=20)


@pytest.fixture
def shared(databases: Databases) -> Iterator[str]:
    url = databases.filled()
    yield url
    databases.put_back(url)


def test_two_processes_serve_one_class(shared: str, cast: Cast) -> None:
    """What one process wrote the other shows at once: nothing is kept in a process."""
    with process_of(shared) as (one, _), process_of(shared) as (two, _):
        one.post(f"/people/sections/{cast.section_id}/students", data={"names": "Gus Tamm"})
        assert "Gus Tamm" in two.get(f"/people/sections/{cast.section_id}").text

        two.post(f"/people/sections/{cast.section_id}/groups", data={"size": "7"})
        assert "Gus Tamm" in one.get(f"/people/sections/{cast.section_id}").text.split("Groups", 1)[1]

        two.post("/sign-out")
        assert str(one.get("/people").url).endswith("/sign-in?next=%2Fpeople")
