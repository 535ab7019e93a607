"""Instants stay in UTC and never lose their zone."""

from datetime import datetime, timedelta, timezone

import pytest
from sqlalchemy.exc import StatementError
from sqlmodel import select

from server.data.session import LabSession
from server.people.models import SignIn
from tests.casts import MORNING


def test_an_instant_comes_back_in_utc(session: LabSession) -> None:
    local = MORNING.astimezone(timezone(timedelta(hours=1)))
    session.add(SignIn(token_hash="x", person_id=1, made_at=local, ends_at=local))
    session.flush()
    session.expire_all()

    kept = session.exec(select(SignIn).where(SignIn.token_hash == "x")).one()

    assert kept.made_at == MORNING
    assert kept.made_at.utcoffset() == timedelta(0)


def test_a_time_without_a_zone_is_refused(session: LabSession) -> None:
    session.add(SignIn(token_hash="x", person_id=1, made_at=datetime(2027, 2, 16, 9, 0), ends_at=MORNING))  # noqa: DTZ001

    with pytest.raises(StatementError, match="has no time zone"):
        session.flush()
