"""The lab's wall clock, across the changes of spring and autumn."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.moments import (
    NoSuchTime,
    clock_at,
    day_at,
    day_begins,
    exact_clock_at,
    instant_of,
    instants_of,
    is_time_zone,
    moment_words,
    stamp,
)


def test_the_wall_clock_is_turned_into_utc() -> None:
    found = instant_of(day=date(2027, 2, 16), clock=time(9, 0), zone="Europe/Berlin")

    assert found == datetime(2027, 2, 16, 8, 0, tzinfo=UTC)


def test_a_file_of_records_is_stamped_with_the_wall_clock() -> None:
    assert stamp(datetime(2027, 2, 16, 23, 5, tzinfo=UTC), "Europe/Berlin") == "2027-02-17 00:05"
    assert stamp(None, "Europe/Berlin") == ""


def test_a_time_the_spring_change_skips_does_not_exist() -> None:
    """Central Europe's clocks go from 02:00 to 03:00 on the last Sunday of March (tz database)."""
    found = instant_of(day=date(2027, 3, 28), clock=time(2, 30), zone="Europe/Berlin")

    assert isinstance(found, NoSuchTime)
    assert "skip 02:30" in found.sentence


def test_in_the_hour_that_comes_twice_the_first_is_meant() -> None:
    found = instant_of(day=date(2027, 10, 31), clock=time(2, 30), zone="Europe/Berlin")

    assert found == datetime(2027, 10, 31, 0, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("day", "instants"),
    [
        (date(2027, 2, 16), ["01:30"]),
        (date(2027, 3, 28), []),
        (date(2027, 10, 31), ["00:30", "01:30"]),
    ],
)
def test_a_clock_time_is_one_instant_none_or_two(day: date, instants: list[str]) -> None:
    """Central Europe's clocks skip the hour from 02:00 in March and show it twice in October (tz database)."""
    found = instants_of(day=day, clock=time(2, 30), zone="Europe/Berlin")

    assert [f"{instant:%H:%M}" for instant in found] == instants


@pytest.mark.parametrize(
    ("day", "zone", "begins"),
    [
        (date(2027, 2, 16), "Europe/Berlin", datetime(2027, 2, 15, 23, 0, tzinfo=UTC)),
        (date(2026, 4, 24), "Africa/Cairo", datetime(2026, 4, 23, 22, 0, tzinfo=UTC)),
    ],
)
def test_a_day_begins_also_where_the_clocks_skip_midnight(day: date, zone: str, begins: datetime) -> None:
    """Egypt's clocks go from 00:00 to 01:00 on the last Friday of April (tz database)."""
    assert day_begins(day, zone) == begins
    assert day_at(begins, zone) == day
    assert day_at(begins - timedelta(seconds=1), zone) == day - timedelta(days=1)


def test_eight_hours_over_the_autumn_night_end_an_hour_earlier_on_the_wall() -> None:
    mixed = instant_of(day=date(2027, 10, 30), clock=time(23, 0), zone="Europe/Berlin")
    assert isinstance(mixed, datetime)

    assert clock_at(mixed + timedelta(hours=8), "Europe/Berlin") == "06:00"


@given(
    st.datetimes(datetime(2000, 1, 1), datetime(2060, 1, 1)),  # noqa: DTZ001 - wall clock times have no zone yet
    st.sampled_from(["Europe/Berlin", "America/Chicago", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"]),
)
def test_every_wall_clock_time_that_exists_comes_back(local: datetime, zone: str) -> None:
    found = instant_of(day=local.date(), clock=local.time(), zone=zone)

    if isinstance(found, datetime):
        assert found.astimezone(ZoneInfo(zone)).replace(tzinfo=None) == local


def test_the_wall_clock_shows_seconds_where_there_are_any() -> None:
    assert exact_clock_at(datetime(2027, 2, 16, 8, 40, tzinfo=UTC), "Europe/Berlin") == "09:40"
    assert exact_clock_at(datetime(2027, 2, 16, 8, 40, 5, tzinfo=UTC), "Europe/Berlin") == "09:40:05"


def test_a_moment_in_words() -> None:
    instant = datetime(2027, 2, 16, 23, 30, tzinfo=UTC)

    assert moment_words(instant, "Europe/Berlin") == "Wed 17 Feb 2027, 00:30"
    assert day_at(instant, "America/Chicago") == date(2027, 2, 16)


@pytest.mark.parametrize(
    ("name", "known"), [("Europe/Berlin", True), ("Europe/Atlantis", False), ("../etc", False)]
)
def test_time_zones_are_known_by_name(name: str, known: bool) -> None:
    assert is_time_zone(name) is known
