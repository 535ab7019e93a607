"""Working out what changes to a class would bring."""

from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial

import anyio
from anyio.to_thread import run_sync
from sqlmodel import col, delete

from server.core.planning import Change, Outlook, Plan, WhatIf, pairs_to_try, unchanged, what_if
from server.data.session import Database, LabSession
from server.refusal import Refusal
from server.rotations.actions import SEED
from server.rotations.models import Rotation
from server.what_ifs.models import WhatIfLine, WhatIfSet
from server.what_ifs.queries import Weighed, find_set, find_weighed, is_going_on, map_outlooks
from server.workers import Workers

# All changes of a class share this time.
TOGETHER_S = 20.0
# So many are planned at once: a process is left to whoever plans a rotation meanwhile.
AT_ONCE = 2
LONGEST_S, SHORTEST_S = 4.0, 0.5
# A solve takes longer than its search: its class is taken apart, and plans are made without a search first.
SHARE_OF_SEARCH = 0.6
# Pairs of changes that let everybody make every plate; more would not help anybody to choose.
PAIRS = 3


@dataclass(frozen=True)
class Begun:
    """What is to be worked out, and the set whose lines are filled."""

    set_id: int
    asked_at: datetime
    weighed: Weighed


def begin_what_ifs(session: LabSession, rotation_id: int, *, now: datetime) -> Begun | None:
    """Open a set for the rotation's plan, in the place of an older one; None where it is being worked out, or was, already."""
    session.hold(Rotation, rotation_id)
    weighed = find_weighed(session, rotation_id)
    if weighed is None:
        raise Refusal(
            "There is no plan of the rotation as it stands. Press Plan first, then ask what would change it."
        )
    known = find_set(session, rotation_id)
    if known is not None:
        if known.digest == weighed.digest and (is_going_on(known, now) or _is_whole(session, known, weighed)):
            return None
        session.exec(delete(WhatIfLine).where(col(WhatIfLine.set_id) == known.id))
        session.delete(known)
        session.flush()  # the new set takes its place
    begun = WhatIfSet(rotation_id=rotation_id, digest=weighed.digest, asked_at=now)
    session.add(begun)
    session.flush()  # its lines name its id
    return Begun(begun.id, now, weighed)


def _is_whole(session: LabSession, known: WhatIfSet, weighed: Weighed) -> bool:
    return map_outlooks(session, known.id).keys() >= {change.key for change in weighed.asked}


def keep_outlook(session: LabSession, begun: Begun, key: str, outlook: Outlook) -> None:
    """Keep what was found, unless the set was given up since."""
    if _hold_set(session, begun) is None:
        return
    session.add(
        WhatIfLine(
            set_id=begun.set_id,
            key=key,
            placed=outlook.placed,
            plates=outlook.plates,
            makespan_s=outlook.makespan_s,
            bound_s=outlook.bound_s,
            most=outlook.most,
        )
    )


def end_what_ifs(session: LabSession, begun: Begun, *, now: datetime) -> None:
    asked = _hold_set(session, begun)
    if asked is not None:
        asked.done_at = now


def _hold_set(session: LabSession, begun: Begun) -> WhatIfSet | None:
    """The set that was begun; None where another one, perhaps of the same id, has taken its place."""
    asked = session.hold(WhatIfSet, begun.set_id)
    if asked is None or (asked.digest, asked.asked_at) != (begun.weighed.digest, begun.asked_at):
        return None
    return asked


@dataclass
class _Search:
    """The solves of one set: who computes, where answers are kept, and until when."""

    database: Database
    workers: Workers
    lab_id: int
    begun: Begun
    ends: float
    before: Plan
    left: int
    places: anyio.Semaphore = field(default_factory=lambda: anyio.Semaphore(AT_ONCE))
    found: dict[str, Outlook] = field(default_factory=dict)

    def seconds(self) -> float:
        """What one of the solves that are left may take, so that all of them end in time."""
        share = (self.ends - anyio.current_time()) * AT_ONCE * SHARE_OF_SEARCH / max(self.left, AT_ONCE)
        return min(max(share, SHORTEST_S), LONGEST_S)

    @property
    def is_late(self) -> bool:
        return anyio.current_time() + SHORTEST_S >= self.ends

    async def solve(self, change: Change, *, keeps: Callable[[Outlook], bool]) -> WhatIf | None:
        """Plan one changed class and keep what comes out; None where no process had time for it."""
        async with self.places:
            self.left -= 1
            if self.is_late:
                return None
            problem, seconds = self.begun.weighed.problem, self.seconds()
            try:
                found = await self.workers.ask(
                    what_if, problem, change, self.before, seconds=seconds, seed=SEED
                )
            except Refusal:
                # The line stays empty, and the page says so.
                return None
        self.found[change.key] = found.outlook
        if keeps(found.outlook):
            async with self.writing() as session:
                await run_sync(keep_outlook, session, self.begun, change.key, found.outlook)
        return found

    async def solve_all(self, changes: Sequence[Change], *, keeps: Callable[[Outlook], bool]) -> None:
        async with anyio.create_task_group() as group:
            for change in changes:
                group.start_soon(partial(self.solve, change, keeps=keeps))

    @asynccontextmanager
    async def writing(self) -> AsyncIterator[LabSession]:
        async with self.database.turn(self.lab_id, writes=True) as session:
            yield session


async def work_out(
    database: Database, workers: Workers, begun: Begun, *, lab_id: int, clock: Callable[[], datetime]
) -> None:
    """Plan every changed class in processes beside the server, and keep each answer as it comes.

    First the class as it is, where its plan isn't proven: the better plan is what every change begins from and is weighed
    against. Then the changes, and then pairs of them where no easier change lets everybody make every plate.
    """
    weighed = begun.weighed
    ends = anyio.current_time() + TOGETHER_S
    search = _Search(database, workers, lab_id, begun, ends, weighed.plan, left=len(weighed.asked))
    before = weighed.before
    if not before.proven:
        again = await search.solve(unchanged(weighed.problem), keeps=_always)
        if again is not None:
            search.before, before = again.plan, again.outlook
    await search.solve_all(weighed.changes, keeps=_always)
    pairs = pairs_to_try(weighed.problem, before, search.found, weighed.changes, talk_s=weighed.talk_s)
    await _solve_pairs(search, before, pairs)
    async with search.writing() as session:
        await run_sync(partial(end_what_ifs, session, begun, now=clock()))


async def _solve_pairs(search: _Search, before: Outlook, pairs: Sequence[Change]) -> None:
    """Plan pairs of changes, the easiest first, until some of them let everybody make every plate or time is up."""
    for first in range(0, len(pairs), AT_ONCE):
        if search.is_late or _enough(search.found, before) >= PAIRS:
            return
        search.left = len(pairs) - first
        some = pairs[first : first + AT_ONCE]
        await search.solve_all(some, keeps=lambda outlook: outlook.placed == before.plates)


def _enough(found: Mapping[str, Outlook], before: Outlook) -> int:
    return sum("+" in key and outlook.placed == before.plates for key, outlook in found.items())


def _always(_outlook: Outlook) -> bool:
    return True
