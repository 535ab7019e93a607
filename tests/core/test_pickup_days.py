"""Days of a repeating pickup and their cut-offs, on the wall clock of a lab."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.pickup_days import MOST_DAYS, cut_off, days_before, repeated_days

BERLIN = "Europe/Berlin"


def test_alternate_fridays_end_with_the_last_day_that_counts() -> None:
    days = repeated_days(first=date(2027, 2, 19), every_weeks=2, until=date(2027, 4, 2))

    assert days == (date(2027, 2, 19), date(2027, 3, 5), date(2027, 3, 19), date(2027, 4, 2))


def test_a_day_before_the_first_leaves_nothing() -> None:
    assert repeated_days(first=date(2027, 2, 19), every_weeks=1, until=date(2027, 2, 18)) == ()


@given(
    first=st.dates(date(2026, 1, 1), date(2040, 1, 1)),
    every_weeks=st.integers(1, 2),
    weeks=st.integers(0, 300),
)
def test_every_day_is_on_the_first_one_s_weekday_and_there_are_not_too_many(
    first: date, every_weeks: int, weeks: int
) -> None:
    days = repeated_days(first=first, every_weeks=every_weeks, until=first + timedelta(weeks=weeks))

    assert {day.weekday() for day in days} == {first.weekday()}
    assert len(days) == min(weeks // every_weeks + 1, MOST_DAYS)
    assert {later - day for day, later in pairwise(days)} <= {timedelta(weeks=every_weeks)}


@pytest.mark.parametrize(("weekday", "days"), [(2, 2), (3, 1), (4, 7), (5, 6), (0, 4)])
def test_the_weekday_of_a_cut_off_is_the_last_one_before_a_friday(weekday: int, days: int) -> None:
    friday = date(2027, 2, 19)

    assert days_before(pickup=friday, weekday=weekday) == days
    assert (friday - timedelta(days=days)).weekday() == weekday


def test_a_cut_off_stays_at_noon_through_the_change_of_the_clocks() -> None:
    """Berlin's clocks go forward on 28 March 2027: noon is 11:00 UTC before it and 10:00 UTC after it."""
    noons = [
        cut_off(pickup=day, days_before=2, clock=time(12), zone=BERLIN).at
        for day in (date(2027, 3, 26), date(2027, 4, 2))
    ]

    assert noons == [datetime(2027, 3, 24, 11, tzinfo=UTC), datetime(2027, 3, 31, 10, tzinfo=UTC)]


def test_a_cut_off_that_the_clocks_skip_is_earlier_and_says_so() -> None:
    """Half past two does not exist on 28 March 2027; half past one, before the clocks are put forward, does."""
    found = cut_off(pickup=date(2027, 3, 30), days_before=2, clock=time(2, 30), zone=BERLIN)

    assert (found.at, found.moved) == (datetime(2027, 3, 28, 0, 30, tzinfo=UTC), True)


def test_of_a_cut_off_that_comes_twice_the_first_is_meant() -> None:
    found = cut_off(pickup=date(2027, 11, 1), days_before=1, clock=time(2, 30), zone=BERLIN)

    assert (found.at, found.moved) == (datetime(2027, 10, 31, 0, 30, tzinfo=UTC), False)
