"""Several server processes on one database tell the same class, and a server that ends lets its listeners go."""

import json
import signal
from collections.abc import Iterator
from uuid import uuid4

import httpx
import pytest

from server.data.session import Database
from tests.callings.calls import published
from tests.casts import Cast
from tests.conftest import Databases
from tests.test_many_at_once import process_of

STREAM = {"Accept": "text/event-stream"}


@pytest.fixture
def shared(databases: Databases) -> Iterator[str]:
    url = databases.filled()
    yield url
    databases.put_back(url)


@pytest.fixture
def rotation(shared: str, cast: Cast) -> int:
    database = Database(shared, connections=2)
    with database.writing(cast.lab_id) as session:
        made = published(session, cast.section_id)
    database.engine.dispose()
    return made


def _told(lines: Iterator[str], words: str) -> None:
    """Wait until the words were said to the class."""
    for line in lines:
        if line.startswith("data: {") and ((json.loads(line[6:]).get("said") or {}).get("words") == words):
            return
    pytest.fail("the feed ended before it was told")


def _call(caller: httpx.Client, rotation: int) -> int:
    cue = caller.get(f"/board/{rotation}/feed").json()["cues"][0]
    fields = {"tablet_id": str(uuid4()), "kind": "called", "answers": cue["key"]}
    return caller.post(f"/board/{rotation}/call", data=fields).status_code


def test_what_one_process_hears_whoever_listens_to_the_other_is_told(shared: str, rotation: int) -> None:
    with (
        process_of(shared) as (one, _),
        process_of(shared) as (two, _),
        two.stream("GET", f"/board/{rotation}/feed", headers=STREAM) as answer,
    ):
        lines = answer.iter_lines()
        assert next(line for line in lines if line == "event: now")
        assert _call(one, rotation) == 200
        _told(lines, "Lights off, load")


def test_a_server_that_is_told_to_end_waits_for_no_listener(shared: str, rotation: int) -> None:
    with (
        process_of(shared) as (one, process),
        one.stream("GET", f"/board/{rotation}/feed", headers=STREAM) as answer,
    ):
        lines = answer.iter_lines()
        assert next(line for line in lines if line == "event: now")
        process.terminate()
        assert process.wait(timeout=20) in {0, -signal.SIGTERM}
        assert "data: " not in list(lines)[-1:]
