"""Text, days and times as they are typed."""

from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from server.web.typed import FIRST_DAY, LAST_DAY, Day, Line, WallClock

LINE, DAY, CLOCK = TypeAdapter(Line), TypeAdapter(Day), TypeAdapter(WallClock)


@given(st.dates(FIRST_DAY, LAST_DAY))
def test_every_day_of_two_centuries_is_read(day: date) -> None:
    assert DAY.validate_python(day.isoformat()) == day


@pytest.mark.parametrize(
    "text", ["0", "1771200000", "16.2.2027", "2027-2-16", "2027-02-30", "0001-01-01", "9999-12-31", ""]
)
def test_what_is_no_clear_day_is_asked_back(text: str) -> None:
    with pytest.raises(ValidationError, match="Please write a da"):
        DAY.validate_python(text)


@given(st.times().map(lambda clock: clock.replace(second=0, microsecond=0)))
def test_every_minute_of_the_day_is_read(clock: time) -> None:
    assert CLOCK.validate_python(f"{clock:%H:%M}") == clock


@pytest.mark.parametrize("text", ["9:40", "9.40", "0940", "09.40"])
def test_a_time_is_read_however_it_is_separated(text: str) -> None:
    assert CLOCK.validate_python(text) == time(9, 40)


@pytest.mark.parametrize("text", ["24:00", "9:60", "12:00Z", "noon", "9", "-1:30", "09:40:30"])
def test_what_is_no_clear_time_is_asked_back(text: str) -> None:
    with pytest.raises(ValidationError, match=r"such as 09:40"):
        CLOCK.validate_python(text)


@pytest.mark.parametrize("text", ["Tuesday 9:00", "Özlem", "علی‌رضا", "S1 👩‍🔬"])
def test_names_of_every_script_are_kept(text: str) -> None:
    assert LINE.validate_python(text) == text


@pytest.mark.parametrize("text", ["S1\nS2", "S\u202e1", "S\x071", "S\u20281"])
def test_signs_that_nobody_sees_are_asked_back(text: str) -> None:
    with pytest.raises(ValidationError, match="can't be printed"):
        LINE.validate_python(text)
