"""By which day waste must be gone."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.waste_rules.clocks import (
    Change,
    area_clock,
    central_clock,
    crossed_on,
    determination_clock,
    full_clock,
    laboratory_clock,
    months_after,
    removal_clock,
    site_clock,
)
from server.core.waste_rules.finding import Verdict
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import Override, RuleBook, book_on, read_value
from server.core.waste_rules.united_states import ACADEMIC_LABORATORIES, LARGE, SMALL, VERY_SMALL

TODAY = date(2026, 9, 1)
SMALL_BOOK, LARGE_BOOK, ACADEMIC_BOOK = (book_on(one, TODAY) for one in (SMALL, LARGE, ACADEMIC_LABORATORIES))


def _campus(key: Key, typed: str) -> RuleBook:
    return book_on(SMALL, TODAY, [Override(key, read_value(key, typed), "campus", date(2026, 1, 1))])


def test_what_is_over_a_satellite_area_s_most_leaves_within_three_calendar_days() -> None:
    """EPA's letter: exceeded on Thursday 10 May 2012, out by Sunday the 13th. The numbers are those of 40 CFR 262.15 since 2017."""
    clock = area_clock(SMALL_BOOK, exceeded_on=date(2012, 5, 10))

    assert clock.due == date(2012, 5, 13)
    assert clock.days_left(date(2012, 5, 12)) == 1
    assert "consecutive calendar days" in clock.rules[0].says


def test_no_clock_runs_from_the_first_drop_in_a_satellite_area() -> None:
    clock = area_clock(SMALL_BOOK, exceeded_on=None)

    assert (clock.due, clock.verdict, clock.days_left(TODAY)) == (None, Verdict.WAITS, None)
    assert "first drop starts none" in clock.says
    assert removal_clock(SMALL_BOOK, started_on=date(2020, 1, 1)).due is None


@pytest.mark.parametrize(
    ("next_removal", "due"),
    [
        (date(2026, 3, 9), date(2026, 3, 9)),
        (date(2026, 3, 20), date(2026, 3, 12)),
        (None, date(2026, 3, 12)),
        (date(2026, 3, 2), date(2026, 3, 2)),
        (date(2026, 3, 1), date(2026, 3, 12)),
    ],
)
def test_an_academic_laboratory_is_cleared_in_ten_days_or_at_the_next_removal(
    next_removal: date | None, due: date
) -> None:
    """40 CFR 262.208(d)(1): exceeded on 2 March 2026."""
    clock = laboratory_clock(ACADEMIC_BOOK, exceeded_on=date(2026, 3, 2), next_removal=next_removal)

    assert clock.due == due


@given(st.dates(date(2020, 1, 1), date(2040, 1, 1)), st.none() | st.dates(date(2020, 1, 1), date(2040, 1, 1)))
def test_a_booked_removal_never_makes_a_laboratory_s_clock_longer(day: date, removal: date | None) -> None:
    due = laboratory_clock(ACADEMIC_BOOK, exceeded_on=day, next_removal=removal).due

    assert due is not None
    assert day <= due <= day + timedelta(days=10)


def test_a_laboratory_that_is_not_over_its_most_has_no_clock() -> None:
    assert laboratory_clock(ACADEMIC_BOOK, exceeded_on=None, next_removal=TODAY).due is None
    assert laboratory_clock(SMALL_BOOK, exceeded_on=TODAY, next_removal=TODAY).verdict == Verdict.NO_NUMBER


@pytest.mark.parametrize(
    ("book", "is_far", "due"),
    [
        (SMALL_BOOK, False, date(2026, 7, 14)),
        (SMALL_BOOK, True, date(2026, 10, 12)),
        (LARGE_BOOK, False, date(2026, 4, 15)),
        (LARGE_BOOK, True, date(2026, 4, 15)),
    ],
    ids=["small", "small and far", "large", "large has no far"],
)
def test_a_central_area_s_clock_runs_from_arrival(book: RuleBook, is_far: bool, due: date) -> None:
    """40 CFR 262.16(b) and 262.17(a): from 15 January 2026, 180 days are 14 July, 90 days 15 April."""
    assert central_clock(book, arrived_on=date(2026, 1, 15), is_far=is_far).due == due
    assert central_clock(book, arrived_on=None).due is None


@pytest.mark.parametrize(("is_far", "due"), [(False, date(2026, 7, 14)), (True, date(2026, 10, 12))])
def test_a_very_small_generator_s_site_is_cleared_in_180_or_270_days(is_far: bool, due: date) -> None:
    """40 CFR 262.14(a)(4)."""
    book = book_on(VERY_SMALL, TODAY)

    assert site_clock(book, exceeded_on=date(2026, 1, 15), is_far=is_far).due == due
    assert site_clock(book, exceeded_on=None).due is None


def test_what_arrives_in_a_central_area_is_determined_within_four_days() -> None:
    """40 CFR 262.211."""
    assert determination_clock(ACADEMIC_BOOK, arrived_on=date(2026, 3, 2)).due == date(2026, 3, 6)
    assert determination_clock(SMALL_BOOK, arrived_on=date(2026, 3, 2)).verdict == Verdict.NO_NUMBER


def test_twelve_months_from_the_29th_of_february_end_on_the_28th() -> None:
    assert removal_clock(ACADEMIC_BOOK, started_on=date(2024, 2, 29)).due == date(2025, 2, 28)
    assert removal_clock(ACADEMIC_BOOK, started_on=date(2026, 2, 28)).due == date(2027, 2, 28)
    assert removal_clock(ACADEMIC_BOOK, started_on=None).due is None


def test_the_removal_interval_was_six_months_in_the_edition_of_2015() -> None:
    """40 CFR 262.208(a)."""
    before = book_on(ACADEMIC_LABORATORIES, date(2015, 7, 1))

    assert removal_clock(before, started_on=date(2015, 7, 1)).due == date(2016, 1, 1)
    assert removal_clock(ACADEMIC_BOOK, started_on=date(2026, 7, 1)).due == date(2027, 7, 1)


@given(st.dates(date(1990, 1, 1), date(2100, 1, 1)), st.integers(1, 120))
def test_months_later_is_never_past_the_same_day_of_its_month(day: date, months: int) -> None:
    later = months_after(day, months)

    assert (later.year - day.year) * 12 + later.month - day.month == months
    assert later.day == day.day or (later.day < day.day and (later + timedelta(days=1)).day == 1)


def test_a_campus_s_days_count_where_they_come_first() -> None:
    """Policies in use: full, three days; taken away within 90 days, or within six months."""
    start = date(2026, 1, 15)

    assert full_clock(_campus(Key.FULL_DAYS, "3"), full_on=start).due == date(2026, 1, 18)
    assert full_clock(SMALL_BOOK, full_on=start).due is None
    assert removal_clock(_campus(Key.REMOVAL_DAYS, "90"), started_on=start).due == date(2026, 4, 15)
    assert removal_clock(_campus(Key.REMOVAL_MONTHS, "6"), started_on=start).due == date(2026, 7, 15)
    both = book_on(
        ACADEMIC_LABORATORIES,
        TODAY,
        [Override(Key.REMOVAL_DAYS, read_value(Key.REMOVAL_DAYS, "90"), "campus", start)],
    )
    assert removal_clock(both, started_on=start).due == date(2026, 4, 15)
    assert removal_clock(both, started_on=start).rules[0].source == "campus"


@pytest.mark.parametrize(
    ("total", "changes", "day"),
    [
        (56, [(4, 2), (3, 54)], 4),
        (55, [(4, 2), (3, 53)], None),
        (60, [(6, 10), (5, -10), (4, 10), (3, 50)], 6),
        (60, [(6, -1), (5, 6), (4, 5), (3, 50)], 5),
        (60, [(6, 2)], None),
        (60, [], None),
    ],
)
def test_a_total_is_over_since_it_last_went_over(
    total: int, changes: Sequence[tuple[int, int]], day: int | None
) -> None:
    latest_first = [Change(date(2026, 3, on), amount) for on, amount in changes]
    found = crossed_on(total=total, latest_first=latest_first, limit=Decimal(55))

    assert found == (None if day is None else date(2026, 3, day))
