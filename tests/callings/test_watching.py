"""Whoever listens to a called class hears everything that is new, however slowly it is taken."""

from concurrent.futures import ThreadPoolExecutor
from functools import partial

import anyio
import pytest
from starlette.datastructures import State

from server.callings.pages import Told
from server.callings.watching import Listening, stream
from server.data.session import Database
from server.people.access import Signed
from server.people.models import Role
from tests.callings.calls import ZONE, at, published
from tests.casts import Cast


@pytest.fixture
def rotation(database: Database, cast: Cast) -> int:
    with database.writing(cast.lab_id) as session:
        return published(session, cast.section_id)


async def _heard_meanwhile(database: Database, signed: Signed, rotation: int) -> list[bytes]:
    """What a device is told next, when the second of two things was said while it still took the first."""
    async with anyio.create_task_group() as tasks:
        listening = Listening(State({"tasks": tasks, "clock": partial(at, 8)}))
        feed = stream(listening, database, signed, rotation)
        while not (await anext(feed)).startswith(b"event: now"):
            pass
        (watched,) = listening.watched.values()
        told = []
        for said in ("first", "second"):
            watched.hear(Told({"title": "as before"}, {"said": said}))
            told.append(await anext(feed))
        told.append(await anext(feed))
        await feed.aclose()  # type: ignore[attr-defined]
    return told


def test_what_is_said_while_a_slow_device_is_told_is_what_it_is_told_next(
    database: Database, cast: Cast, rotation: int
) -> None:
    signed = Signed(cast.lab_id, "Cellar lab", ZONE, Role.INSTRUCTOR, "Mira", person_id=1)
    # In a thread of its own: a browser test before this one leaves a running event loop in the main one.
    with ThreadPoolExecutor(1) as thread:
        plan, first, second = thread.submit(anyio.run, _heard_meanwhile, database, signed, rotation).result()

    assert plan.startswith(b"event: plan")
    assert b"first" in first
    assert b"second" in second
