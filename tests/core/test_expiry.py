"""The date on a pack, and which day of a month counts."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.expiry import MonthCounts, Printed, last_good_day, read_printed


def test_a_day_on_the_pack_is_its_last_good_day_whatever_is_said_about_months() -> None:
    printed = read_printed("2027-06-30")

    assert {last_good_day(printed, counts) for counts in (None, *MonthCounts)} == {date(2027, 6, 30)}


@pytest.mark.parametrize(
    ("typed", "first", "last"),
    [
        ("2027-06", date(2027, 6, 1), date(2027, 6, 30)),
        ("2027-12", date(2027, 12, 1), date(2027, 12, 31)),
        ("2027-02", date(2027, 2, 1), date(2027, 2, 28)),
        ("2028-02", date(2028, 2, 1), date(2028, 2, 29)),
    ],
)
def test_a_month_alone_counts_to_the_day_that_was_decided(typed: str, first: date, last: date) -> None:
    printed = read_printed(typed)

    assert last_good_day(printed, MonthCounts.FIRST_DAY) == first
    assert last_good_day(printed, MonthCounts.LAST_DAY) == last
    assert last_good_day(printed, None) is None


@pytest.mark.parametrize(
    "typed", ["2027", "06/2027", "2027-13", "2027-02-30", "1999-01", "20270630", "2027-6"]
)
def test_what_is_no_date_is_asked_back(typed: str) -> None:
    with pytest.raises(ValueError, match="2027-06-30, or a month"):
        read_printed(typed)


@given(st.dates(date(2000, 1, 1), date(2199, 12, 31)))
def test_every_day_is_read_as_it_is_written(day: date) -> None:
    assert read_printed(day.isoformat()) == Printed(day.year, day.month, day.day)
