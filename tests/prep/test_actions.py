"""Ticking lines."""

from datetime import date

import pytest

from server.data.session import LabSession
from server.prep.actions import tick_line
from server.prep.queries import list_ticks
from server.refusal import NotFound
from tests.casts import MORNING

TUESDAY = date(2027, 2, 16)


def _tick(session: LabSession, line: str = "rinse", *, done: bool = True) -> list[str]:
    tick_line(session, TUESDAY, line, lines={"rinse", "bleach"}, done=done, by="Tomas", now=MORNING)
    session.flush()
    return sorted(list_ticks(session, TUESDAY))


def test_a_tick_is_kept_with_its_name_and_time(session: LabSession) -> None:
    assert _tick(session) == ["rinse"]

    kept = list_ticks(session, TUESDAY)["rinse"]
    assert (kept.ticked_by, kept.ticked_at) == ("Tomas", MORNING)


def test_a_tick_sent_twice_is_one_tick(session: LabSession) -> None:
    _tick(session)

    assert _tick(session) == ["rinse"]


def test_a_line_is_unticked_and_unticking_again_changes_nothing(session: LabSession) -> None:
    _tick(session)

    assert _tick(session, done=False) == []
    assert _tick(session, done=False) == []


def test_another_days_ticks_are_not_this_days(session: LabSession) -> None:
    _tick(session)

    assert list_ticks(session, date(2027, 2, 17)) == {}


def test_a_line_that_is_not_on_the_sheet_is_refused(session: LabSession) -> None:
    with pytest.raises(NotFound, match="Load the sheet again"):
        _tick(session, "champagne")
