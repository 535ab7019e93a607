"""Which checks are due."""

from datetime import timedelta

import pytest

from server.data.session import Database, LabSession
from server.refusal import Refusal
from server.safety.actions import record_round
from server.safety.models import SafetyCheck
from server.safety.queries import CheckState, list_checks, list_rounds
from tests.casts import MORNING, Cast


def _record(session: LabSession, check: SafetyCheck, *, days_ago: int = 0, in_order: bool = True) -> None:
    found = "" if in_order else "one jet is dry"
    record_round(
        session,
        check_kind=check,
        in_order=in_order,
        found=found,
        by="Tomas",
        now=MORNING - timedelta(days=days_ago),
    )
    session.flush()  # the next round must get a later id


def _state(session: LabSession, check: SafetyCheck) -> CheckState:
    return next(state for state in list_checks(session, MORNING.date()) if state.check is check)


def test_an_eyewash_that_was_never_checked_is_due(session: LabSession) -> None:
    assert _state(session, SafetyCheck.EYEWASH).is_due(MORNING)


@pytest.mark.parametrize("check", [SafetyCheck.EYEWASH, SafetyCheck.WASTE_SHELF])
def test_a_weekly_check_is_due_after_seven_days_and_not_before(
    session: LabSession, check: SafetyCheck
) -> None:
    """Weekly activation of an eyewash: summaries of ANSI/ISEA Z358.1; weekly shelf rounds: common practice."""
    _record(session, check)
    state = _state(session, check)

    assert not state.is_due(MORNING + timedelta(days=7) - timedelta(seconds=1))
    assert state.is_due(MORNING + timedelta(days=7))


def test_a_check_without_an_interval_is_never_due_by_the_calendar(session: LabSession) -> None:
    assert not _state(session, SafetyCheck.LASERS).is_due(MORNING)


def test_the_latest_round_of_each_kind_counts(session: LabSession) -> None:
    _record(session, SafetyCheck.EYEWASH, days_ago=9)
    _record(session, SafetyCheck.EYEWASH, days_ago=1, in_order=False)
    _record(session, SafetyCheck.LASERS)

    latest = _state(session, SafetyCheck.EYEWASH).latest

    assert latest is not None
    assert latest.found == "one jet is dry"
    assert [each.check_kind for each in list_rounds(session, at_most=2)] == ["lasers", "eyewash"]


def test_what_was_not_in_order_must_be_said(session: LabSession) -> None:
    with pytest.raises(Refusal, match="Say what was not in order"):
        record_round(
            session, check_kind=SafetyCheck.LASERS, in_order=False, found="", by="Tomas", now=MORNING
        )


def test_the_other_labs_rounds_do_not_count(database: Database, cast: Cast) -> None:
    with database.writing(cast.lab_id) as session:
        _record(session, SafetyCheck.EYEWASH)
    with database.reading(cast.other_lab_id) as session:
        assert _state(session, SafetyCheck.EYEWASH).latest is None
