"""What goes on after the answer has been sent: a search in a process of its own, heard and kept as it improves.

Runs on the event loop, where waiting for a turn at the database holds no thread.
"""

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from typing import Protocol

import anyio
from anyio.abc import TaskGroup
from anyio.to_thread import run_sync

from server.core.planning import Plan, Progress, plan_aloud
from server.data.session import Database
from server.people.access import Signed
from server.refusal import Refusal
from server.searches.actions import Asked, ask_search, end_search, hear_of_search
from server.searches.models import SearchState
from server.searches.queries import LOST, is_wanted
from server.settings import Settings
from server.workers import Job, Workers, WorkStopped

LOOK_EVERY_S = 0.5
KEEP_AT_MOST_EVERY_S = 1.0
HEARD_EVERY_S = 4.0
# Where nothing is proven soon, the first plan is worth waiting for a little longer.
FIRST_PLAN_S = 4.0

BROKE_OFF = "The planner broke off, so the search ended early. The best plan found until then is kept: press Plan to search on."

_log = logging.getLogger("stillroom")


class Server(Protocol):
    """What the application holds for its routes."""

    workers: Workers
    tasks: TaskGroup
    clock: Callable[[], datetime]
    settings: Settings


class News:
    """What a job tells in its thread, for those who wait on the event loop."""

    def __init__(self) -> None:
        self.latest: Progress | None = None
        self._loop = asyncio.get_running_loop()
        self._came = asyncio.Event()

    def hear(self, progress: Progress) -> None:
        self.latest = progress
        self._loop.call_soon_threadsafe(self._came.set)

    def wake(self, _future: Future[Plan]) -> None:
        """Called in the job's thread when the job has ended."""
        self._loop.call_soon_threadsafe(self._came.set)

    async def wait(self, seconds: float) -> None:
        """Wait for the next news, so long at most."""
        with anyio.move_on_after(seconds):
            await self._came.wait()
        self._came.clear()


@dataclass
class Searching:
    """One search that this process runs. `first` is set when a plan is kept, `over` when all is."""

    database: Database
    clock: Callable[[], datetime]
    lab_id: int
    asked: Asked
    job: Job[Plan]
    news: News
    first: asyncio.Event = field(default_factory=asyncio.Event)
    over: asyncio.Event = field(default_factory=asyncio.Event)

    async def is_over_within(self, seconds: float) -> bool:
        """Wait for the end so long, and then a little for a first plan; return whether the search has ended."""
        with anyio.move_on_after(seconds):
            await self.over.wait()
        with anyio.move_on_after(FIRST_PLAN_S):
            await self.first.wait()
        return self.over.is_set()

    async def follow(self) -> None:
        """Keep what is better until the job ends, then say how it ended. Whatever goes wrong ends this search alone."""
        try:
            await self._keep_up()
            await self._end()
        except Refusal as refusal:
            await self._end_early(refusal.sentence)
        except Exception:  # noqa: BLE001 - it must not end the searches of others
            _log.exception("search %s was given up", self.asked.search_id)
            await self._end_early(BROKE_OFF)
        finally:
            self.job.stop()
            self.first.set()
            self.over.set()

    async def _keep_up(self) -> None:
        now = asyncio.get_running_loop().time
        kept: Progress | None = None
        begun, written = False, now()
        while not self.job.done:
            await self.news.wait(LOOK_EVERY_S)
            if not await self._is_wanted():
                self.job.stop()
                return
            latest = self.news.latest
            changed = latest is not kept or self.job.begun != begun
            if now() - written < (HEARD_EVERY_S if not changed else KEEP_AT_MOST_EVERY_S if kept else 0):
                continue
            is_new = latest is not None and (kept is None or latest.plan.visits != kept.plan.visits)
            begun, kept, written = self.job.begun, latest, now()
            await self._write(hear_of_search, latest, is_new=is_new, has_begun=begun)
            if kept is not None:
                self.first.set()

    async def _end(self) -> None:
        state, sentence, best = SearchState.DONE, "", self.news.latest
        try:
            plan = await self.job.result()
            best = Progress(plan.makespan_s, plan.bound_s, plan)
        except WorkStopped:
            state, sentence = SearchState.STOPPED, ""
            if await self._is_wanted():  # nobody asked for it: the server is being shut down
                state, sentence = SearchState.FAILED, LOST
        except Refusal:
            state, sentence = SearchState.FAILED, BROKE_OFF
        await self._write(end_search, best, state=state, sentence=sentence)

    async def _end_early(self, sentence: str) -> None:
        try:
            await self._write(end_search, None, state=SearchState.FAILED, sentence=sentence)
        except Exception:  # noqa: BLE001 - it must not end the searches of others
            _log.exception("the end of search %s could not be written", self.asked.search_id)

    async def _is_wanted(self) -> bool:
        async with self.database.turn(self.lab_id, writes=False) as session:
            return await run_sync(is_wanted, session, self.asked.search_id)

    async def _write(self, action: Callable[..., None], best: Progress | None, **how: object) -> None:
        if best is not None and best.bound_s < self.asked.known_bound_s and not best.plan.unplaced:
            best = _with_bound(best, min(self.asked.known_bound_s, best.makespan_s))
        async with self.database.turn(self.lab_id, writes=True) as session:
            await run_sync(partial(action, session, self.asked, best, now=self.clock(), **how))


def _with_bound(best: Progress, bound_s: int) -> Progress:
    """What was ruled out by an earlier search of the same question stays ruled out."""
    status = "optimal" if bound_s == best.makespan_s else best.plan.status
    return Progress(best.makespan_s, bound_s, replace(best.plan, bound_s=bound_s, status=status))


async def begin_search(
    server: Server, database: Database, signed: Signed, rotation_id: int, *, seconds: float | None
) -> Searching | None:
    """Begin a search and return it; None where one is going on already."""
    ask = partial(
        ask_search, seconds=seconds or server.settings.plan_seconds, by=signed.name, now=server.clock()
    )
    job: Job[Plan] | None = None
    try:
        async with database.turn(signed.lab_id, writes=True) as session:
            asked = await run_sync(ask, session, rotation_id)
            if asked is None:
                return None
            news = News()
            job = server.workers.start(
                plan_aloud,
                asked.problem,
                seconds=asked.seconds,
                seed=asked.seed,
                start=asked.start,
                heard=news.hear,
            )
    except BaseException:
        if job is not None:
            job.stop()
        raise
    job.future.add_done_callback(news.wake)
    searching = Searching(database, server.clock, signed.lab_id, asked, job, news)
    server.tasks.start_soon(searching.follow)
    return searching
