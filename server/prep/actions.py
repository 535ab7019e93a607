"""Ticking the lines of a prep sheet, and setting its times and assignments."""

from collections.abc import Collection, Mapping
from datetime import date, datetime

from sqlmodel import select

from server.chemistry.actions import set_mixing_times
from server.core.prep_sheet import LineKind, Who
from server.data.session import LabSession
from server.prep.models import PrepAssignment, PrepTick
from server.prep.queries import get_prep_times, list_ticks
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


def set_prep_times(
    session: LabSession, *, mix_lead_s: int, late_start_s: int, change_s: int, **times: int
) -> None:
    """Set the lab's own times, in seconds, by the columns of `PrepTimes`; what a mix plan needs is a usual quantity."""
    set_mixing_times(session, mix_lead_s=mix_lead_s, late_start_s=late_start_s, change_s=change_s)
    kept = get_prep_times(session)
    for name, seconds in times.items():
        setattr(kept, name, seconds)
    kept.assumed = False
    session.add(kept)
    session.flush()  # a second transaction at once meets the one row per lab here


def assign_lines(session: LabSession, assignments: Mapping[LineKind, Who]) -> None:
    """Say who does the lines of each kind."""
    kept = {assignment.kind: assignment for assignment in session.exec(select(PrepAssignment)).all()}
    for kind, who in assignments.items():
        assignment = kept.get(kind) or PrepAssignment(kind=kind, who=who)
        assignment.who = who
        session.add(assignment)
