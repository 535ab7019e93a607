"""Reads of safety rounds, and which are due."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import col, func, select

from server.data.session import LabSession
from server.safety.models import SafetyCheck, SafetyRound


@dataclass(frozen=True)
class Interval:
    """How often a check is wanted, and who says so. A site's own rule may be stricter."""

    days: int
    source: str


# Only checks with a source or a common practice have an interval; the others are done before a class.
INTERVALS: Mapping[SafetyCheck, Interval] = {
    SafetyCheck.EYEWASH: Interval(
        7,
        "Run it weekly: common practice, and what summaries of ANSI/ISEA Z358.1 say; the standard itself was not read.",
    ),
    SafetyCheck.WASTE_SHELF: Interval(
        7, "Assumed weekly: sites ask for weekly or monthly rounds; your waste office sets yours."
    ),
}


@dataclass(frozen=True)
class CheckState:
    """`latest` is None where the check was never recorded, `due_at` None where it has no interval or no round yet."""

    check: SafetyCheck
    latest: SafetyRound | None
    interval: Interval | None
    due_at: datetime | None

    def is_due(self, now: datetime) -> bool:
        """Whether the check must be done now: never done, or its interval has passed."""
        if self.interval is None:
            return False
        return self.due_at is None or self.due_at <= now


def list_checks(session: LabSession) -> Sequence[CheckState]:
    """Every kind of check with its latest round, in the order of the kinds."""
    latest = select(func.max(SafetyRound.id)).group_by(col(SafetyRound.check_kind))
    rounds = session.exec(select(SafetyRound).where(col(SafetyRound.id).in_(latest))).all()
    by_kind = {SafetyCheck(each.check_kind): each for each in rounds}
    states = []
    for check in SafetyCheck:
        each, interval = by_kind.get(check), INTERVALS.get(check)
        due_at = each.done_at + timedelta(days=interval.days) if each and interval else None
        states.append(CheckState(check, each, interval, due_at))
    return states


def list_rounds(session: LabSession, *, at_most: int) -> Sequence[SafetyRound]:
    """The latest rounds of all kinds, newest first."""
    return session.exec(select(SafetyRound).order_by(col(SafetyRound.id).desc()).limit(at_most)).all()
