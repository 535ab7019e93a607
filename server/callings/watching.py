"""What goes on after an answer was begun: telling everybody who looks at a called class what is said to it.

Runs on the event loop; whoever waits holds neither a thread nor a session. One look at the database a few times a second serves
all who listen in this process, so that what another process heard is told here too; without listeners nobody looks.
"""

import asyncio
import json
import logging
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from typing import Protocol, TypeVar

import anyio
from anyio.abc import TaskGroup
from anyio.to_thread import run_sync

from server.callings.pages import Told, told
from server.callings.queries import Mark, list_marks
from server.data.session import Database, LabSession
from server.people.access import Signed
from server.refusal import Refusal

LOOK_EVERY_S = 0.2
# The screen's colour and what is in danger change without a word being said.
LOOK_WHOLE_EVERY_S = 5.0
BEAT_EVERY_S = 2.0
LONGEST_STREAM_S = 600.0

Result = TypeVar("Result")

_log = logging.getLogger("stillroom")


def message(event: str, data: str) -> bytes:
    """A server-sent event."""
    return f"event: {event}\ndata: {data}\n\n".encode()


class Server(Protocol):
    """What the application holds for whoever looks."""

    tasks: TaskGroup
    clock: Callable[[], datetime]


@dataclass
class Watched:
    """One class that somebody listens to: what was told last, counted, so that each listener knows what is new to it."""

    lab_id: int
    zone: str
    listeners: set[asyncio.Event] = field(default_factory=set)
    mark: Mark | None = None
    looked: float = float("-inf")
    plan: str = ""
    now: str = ""
    plans: int = 0
    nows: int = 0
    _known: tuple[str, str] = ("", "")

    def hear(self, news: Told) -> None:
        """Wake the listeners if anything but the moment it was made is new."""
        known = json.dumps(news.plan), json.dumps({**news.now, "made": 0})
        if known == self._known:
            return
        self.plans += known[0] != self._known[0]
        self.nows += 1
        self.plan, self.now, self._known = known[0], json.dumps(news.now), known
        self.wake()

    def wake(self) -> None:
        for listener in self.listeners:
            listener.set()


@dataclass
class Listening:
    """Everybody in this process who looks at a called class, by database and rotation."""

    server: Server
    watched: dict[tuple[int, int], Watched] = field(default_factory=dict)
    closing: bool = False
    _said: asyncio.Event = field(default_factory=asyncio.Event)
    _looking: dict[int, anyio.CancelScope] = field(default_factory=dict)

    async def said(self) -> None:
        """Something was said in this process: look at once. On the loop, where whoever looks waits."""
        self._said.set()

    def close(self) -> None:
        """The server ends: let everybody go."""
        self.closing = True
        for watched in self.watched.values():
            watched.wake()

    @asynccontextmanager
    async def joined(
        self, database: Database, lab_id: int, rotation_id: int, zone: str
    ) -> AsyncIterator[tuple[Watched, asyncio.Event]]:
        """What a listener hears as long as it listens. The first one begins the looking, the last one ends it."""
        key, listener = (id(database), rotation_id), asyncio.Event()
        watched = self.watched.setdefault(key, Watched(lab_id, zone))
        watched.listeners.add(listener)
        if id(database) not in self._looking:
            self._looking[id(database)] = anyio.CancelScope()
            self.server.tasks.start_soon(self._look, database, self._looking[id(database)])
        else:
            self._said.set()
        try:
            yield watched, listener
        finally:
            watched.listeners.discard(listener)
            if not watched.listeners:
                self.watched.pop(key, None)
            if not any(base == id(database) for base, _rotation in self.watched):
                self._looking.pop(id(database)).cancel()

    async def _look(self, database: Database, scope: anyio.CancelScope) -> None:
        with scope:
            while True:
                try:
                    await self._look_once(database)
                except Exception:  # noqa: BLE001 - the database may be back the next time
                    _log.exception("the board could not be read")
                with anyio.move_on_after(LOOK_EVERY_S):
                    await self._said.wait()
                self._said.clear()

    async def _look_once(self, database: Database) -> None:
        mine = {rotation: one for (base, rotation), one in self.watched.items() if base == id(database)}
        marks = await self._read(database, None, partial(list_marks, rotation_ids=list(mine)))
        now_s = asyncio.get_running_loop().time()
        for rotation_id, watched in mine.items():
            mark = marks.get(rotation_id)
            if mark == watched.mark and now_s - watched.looked < LOOK_WHOLE_EVERY_S:
                continue
            watched.mark, watched.looked = mark, now_s
            tell = partial(told, rotation_id=rotation_id, now=self.server.clock(), zone=watched.zone)
            try:
                watched.hear(await self._read(database, watched.lab_id, tell))
            except Refusal:  # withdrawn since: what was told last stays
                _log.info("rotation %s has no board any more", rotation_id)

    async def _read(
        self, database: Database, lab_id: int | None, reading: Callable[[LabSession], Result]
    ) -> Result:
        async with database.turn(lab_id, writes=False) as session:
            return await run_sync(reading, session)


async def stream(
    listening: Listening, database: Database, signed: Signed, rotation_id: int
) -> AsyncIterator[bytes]:
    """Server-sent events: `plan` when there is something else to do, `now` whenever something is new, and a beat in between.

    It ends by itself after some minutes, so that whoever listens is asked again who they are.
    """
    ends = asyncio.get_running_loop().time() + LONGEST_STREAM_S
    plans = nows = 0
    yield b"retry: 1000\n\n"
    async with listening.joined(database, signed.lab_id, rotation_id, signed.time_zone) as (watched, news):
        while not listening.closing and asyncio.get_running_loop().time() < ends:
            news.clear()
            # Read at one moment: more may be heard while a slow device still takes what it is told.
            told_plans, plan, told_nows, now = watched.plans, watched.plan, watched.nows, watched.now
            if told_plans != plans:
                yield message("plan", plan)
            if told_nows != nows:
                yield message("now", now)
            plans, nows = told_plans, told_nows
            with anyio.move_on_after(BEAT_EVERY_S) as waited:
                await news.wait()
            if waited.cancelled_caught:
                yield message("beat", "")
