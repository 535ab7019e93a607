"""Reads of safety rounds, what they found, and which are due."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy import ColumnElement
from sqlmodel import col, func, select

from server.containers.models import WasteContainer
from server.containers.queries import list_containers
from server.core.container_life import ContainerState
from server.core.waste_rules.rule import Key
from server.data.session import LabSession
from server.refusal import NotFound
from server.rules.queries import find_rules
from server.safety.models import SafetyCheck, SafetyRound, ShelfFinding, ShelfPoint

# Rounds on one page of their history.
LATEST = 20


@dataclass(frozen=True)
class Interval:
    """How often a check is wanted, and who says so. A site's own rule may be stricter."""

    days: int
    source: str


@dataclass(frozen=True)
class Found:
    """A finding with the container and the round that it belongs to."""

    finding: ShelfFinding
    container: WasteContainer
    round: SafetyRound


# Only checks with a source or a common practice have an interval; the others are done before a class. The waste shelf's is a rule.
EYEWASH_INTERVAL = Interval(
    7,
    "Run it weekly: common practice, and what summaries of ANSI/ISEA Z358.1 say; the standard itself was not read.",
)


@dataclass(frozen=True)
class CheckState:
    """`latest` is None where the check was never recorded, `due_at` None where it has no interval or no round yet.

    `still_open` counts what was found of waste containers, in any round, and is not put right.
    """

    check: SafetyCheck
    latest: SafetyRound | None
    interval: Interval | None
    due_at: datetime | None
    still_open: int = 0

    def is_due(self, now: datetime) -> bool:
        """Whether the check must be done now: never done, or its interval has passed."""
        if self.interval is None:
            return False
        return self.due_at is None or self.due_at <= now


def _intervals(session: LabSession, day: date) -> Mapping[SafetyCheck, Interval]:
    rule = find_rules(session, day).book.find(Key.INSPECTION_DAYS)
    intervals = {SafetyCheck.EYEWASH: EYEWASH_INTERVAL}
    if rule.amount is not None:
        says = f"{rule.says} {rule.edition}; source: {rule.source}."
        intervals[SafetyCheck.WASTE_SHELF] = Interval(int(rule.amount.exact), says)
    return intervals


def list_checks(session: LabSession, day: date) -> Sequence[CheckState]:
    """Every kind of check with its latest round and the interval that holds on a day, in the order of the kinds."""
    latest = select(func.max(SafetyRound.id)).group_by(col(SafetyRound.check_kind))
    rounds = session.exec(select(SafetyRound).where(col(SafetyRound.id).in_(latest))).all()
    by_kind = {SafetyCheck(each.check_kind): each for each in rounds}
    intervals = _intervals(session, day)
    states = []
    for check in SafetyCheck:
        each, interval = by_kind.get(check), intervals.get(check)
        due_at = each.done_at + timedelta(days=interval.days) if each and interval else None
        still_open = count_open_findings(session) if check is SafetyCheck.WASTE_SHELF else 0
        states.append(CheckState(check, each, interval, due_at, still_open))
    return states


def list_rounds(
    session: LabSession, *, before: int | None = None, at_most: int = LATEST
) -> Sequence[SafetyRound]:
    """The latest rounds of all kinds, or the latest before round `before`, newest first."""
    wanted = select(SafetyRound)
    if before is not None:
        wanted = wanted.where(col(SafetyRound.id) < before)
    return session.exec(wanted.order_by(col(SafetyRound.id).desc()).limit(at_most)).all()


def find_round(session: LabSession, tablet_id: str) -> SafetyRound | None:
    return session.exec(select(SafetyRound).where(SafetyRound.tablet_id == tablet_id)).first()


def _found(session: LabSession, *conditions: ColumnElement[bool]) -> Sequence[Found]:
    rows = session.exec(
        select(ShelfFinding, WasteContainer, SafetyRound)
        .join(WasteContainer, col(WasteContainer.id) == col(ShelfFinding.container_id))
        .join(SafetyRound, col(SafetyRound.id) == col(ShelfFinding.safety_round_id))
        .where(*conditions)
        .order_by(col(ShelfFinding.id))
    ).all()
    return [Found(finding, container, each) for finding, container, each in rows]


def list_findings(session: LabSession, *, first_round: int, last_round: int) -> Sequence[Found]:
    """What was looked at in a stretch of rounds, container by container and point by point, in the order of the look."""
    return _found(session, col(ShelfFinding.safety_round_id).between(first_round, last_round))


def list_open_findings(session: LabSession) -> Sequence[Found]:
    """What was found of waste containers and is not put right, oldest first."""
    return _found(session, *_OPEN)


def list_looks_at(session: LabSession, container_id: int, *, at_most: int = LATEST) -> Sequence[Found]:
    """The latest looks at one container, point by point, newest round first."""
    rows = session.exec(
        select(ShelfFinding, WasteContainer, SafetyRound)
        .join(WasteContainer, col(WasteContainer.id) == col(ShelfFinding.container_id))
        .join(SafetyRound, col(SafetyRound.id) == col(ShelfFinding.safety_round_id))
        .where(ShelfFinding.container_id == container_id)
        .order_by(col(ShelfFinding.id).desc())
        .limit(at_most * len(ShelfPoint))
    ).all()
    return [Found(finding, container, each) for finding, container, each in rows]


_OPEN = (col(ShelfFinding.found) != "", col(ShelfFinding.put_right_at).is_(None))


def count_open_findings(session: LabSession) -> int:
    return int(session.exec(select(func.count(col(ShelfFinding.id))).where(*_OPEN)).one())


def hold_finding(session: LabSession, finding_id: int) -> ShelfFinding:
    """The finding, kept from others until the transaction ends."""
    finding = session.hold(ShelfFinding, finding_id)
    if finding is None:
        raise NotFound("There is no such finding in this lab. Choose one from Safety.")
    return finding


def list_on_shelf(session: LabSession) -> Sequence[WasteContainer]:
    """The containers that a round of the waste shelf looks at: those that stand in the lab."""
    return [one for one in list_containers(session) if one.state != ContainerState.ORDERED]
