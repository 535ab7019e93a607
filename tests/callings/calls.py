"""A published class at 09:00 on the cellar lab's clock, and what devices say to it."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import uuid4

from server.callings.actions import say
from server.callings.models import CallEvent
from server.callings.queries import Called, find_called
from server.core.calling import EventKind
from server.core.standing import pending
from server.data.session import LabSession
from tests.casts import MORNING
from tests.prep.days import furnish, publish_rounds, stock

NINE = MORNING + timedelta(hours=1)
ZONE = "Europe/Berlin"


def at(minutes: float) -> datetime:
    """So many minutes after nine."""
    return NINE + timedelta(minutes=minutes)


def published(session: LabSession, section_id: int, *, rounds: int = 4) -> int:
    furnish(session)
    stock(session)
    return publish_rounds(session, section_id, name="first", starts_at=NINE, rounds=rounds)


def stands(session: LabSession, rotation_id: int, now: datetime = NINE) -> Called:
    found = find_called(session, rotation_id, now)
    assert found is not None
    return found


def next_key(session: LabSession, rotation_id: int, now: datetime = NINE) -> str:
    found = stands(session, rotation_id, now)
    return pending(found.replayed.standing)[0].key


def said(
    session: LabSession,
    rotation_id: int,
    kind: EventKind,
    minutes: float,
    answers: str = "",
    *,
    tablet_id: str = "",
    by: str = "Mira",
    repeats: Sequence[str] = (),
    into: str = "",
    heard: float | None = None,
) -> CallEvent:
    """Something said so many minutes after nine, of which the server heard at once or later."""
    return say(
        session,
        rotation_id,
        tablet_id=tablet_id or str(uuid4()),
        kind=kind,
        answers=answers,
        repeats="\n".join(repeats),
        into=into,
        happened_at=at(minutes),
        by=by,
        zone=ZONE,
        now=at(minutes if heard is None else heard),
    )


def called(session: LabSession, rotation_id: int, minutes: float, **other: object) -> CallEvent:
    """What is next is called."""
    key = next_key(session, rotation_id, at(minutes))
    return said(session, rotation_id, EventKind.CALLED, minutes, key, **other)  # type: ignore[arg-type]
