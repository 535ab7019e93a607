"""Ticking the lines of a prep sheet."""

from collections.abc import Collection
from datetime import date, datetime

from server.data.session import LabSession
from server.prep.models import PrepTick
from server.prep.queries import list_ticks
from server.refusal import NotFound


def tick_line(
    session: LabSession, day: date, line: str, *, lines: Collection[str], done: bool, by: str, now: datetime
) -> None:
    """Say that a line of the day's sheet is done, or not done after all. Saying it again changes nothing.

    `lines` are the lines of the sheet as it is now.
    """
    if line not in lines:
        raise NotFound(
            "This line is not on the sheet any more, because the plans have changed. Load the sheet again."
        )
    kept = list_ticks(session, day).get(line)
    if done and kept is None:
        session.add(PrepTick(on_day=day, line=line, ticked_at=now, ticked_by=by))
    elif not done and kept is not None:
        session.delete(kept)
