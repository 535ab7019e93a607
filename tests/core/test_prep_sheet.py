"""The prep sheet's arithmetic."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.prep_sheet import BoxOnShelf, BoxPick, pick_plates, when_at_work


def test_plates_come_from_the_box_that_expires_first() -> None:
    boxes = [
        BoxOnShelf(1, 30, None),
        BoxOnShelf(2, 9, date(2027, 3, 31)),
        BoxOnShelf(3, 5, date(2027, 2, 28)),
    ]

    picked = pick_plates(boxes, plates=20, day=date(2027, 2, 16))

    assert picked.picks == (BoxPick(3, 5), BoxPick(2, 9), BoxPick(1, 6))
    assert picked.short == 0


def test_a_box_past_its_day_is_not_counted_for_the_class() -> None:
    """House example: the box expires on 31 March and the class is on 14 April."""
    picked = pick_plates([BoxOnShelf(1, 30, date(2027, 3, 31))], plates=12, day=date(2027, 4, 14))

    assert (picked.picks, picked.short, picked.expired) == ((), 12, 30)
    assert pick_plates([BoxOnShelf(1, 30, date(2027, 3, 31))], plates=12, day=date(2027, 3, 31)).short == 0


@given(
    st.lists(
        st.tuples(st.integers(0, 40), st.none() | st.dates(date(2027, 1, 1), date(2027, 4, 1))), max_size=5
    ),
    st.integers(0, 90),
)
def test_plates_picked_and_short_are_the_plates_wanted(
    shelf: list[tuple[int, date | None]], plates: int
) -> None:
    boxes = [BoxOnShelf(number, held, expires) for number, (held, expires) in enumerate(shelf)]

    picked = pick_plates(boxes, plates=plates, day=date(2027, 2, 16))

    assert sum(pick.plates for pick in picked.picks) + picked.short == plates
    assert all(0 < pick.plates <= boxes[pick.box_id].plates for pick in picked.picks)


@pytest.mark.parametrize(
    ("needed", "done"),
    [
        # A Tuesday at 06:59, 07:00 and 08:40 in Berlin's winter, an hour ahead of UTC; work begins at 07:00.
        ("2027-02-16T05:59+00:00", "2027-02-15T14:00+00:00"),
        ("2027-02-16T06:00+00:00", "2027-02-16T06:00+00:00"),
        ("2027-02-16T07:40+00:00", "2027-02-16T07:40+00:00"),
        # A Monday: the working day before is Friday.
        ("2027-02-15T05:00+00:00", "2027-02-12T14:00+00:00"),
        # The Monday after the clocks went forward: 06:30 in summer time, and Friday still in winter time.
        ("2027-03-29T04:30+00:00", "2027-03-26T14:00+00:00"),
    ],
)
def test_what_comes_before_work_begins_is_done_the_working_day_before(needed: str, done: str) -> None:
    at = when_at_work(
        datetime.fromisoformat(needed), zone="Europe/Berlin", opens_s=7 * 3600, day_before_s=15 * 3600
    )

    assert at == datetime.fromisoformat(done)


@given(st.datetimes(datetime(2027, 1, 1), datetime(2027, 12, 31), timezones=st.just(UTC)))  # noqa: DTZ001
def test_nothing_is_done_later_than_it_is_needed_or_before_work_begins(needed_at: datetime) -> None:
    at = when_at_work(needed_at, zone="Europe/Berlin", opens_s=7 * 3600, day_before_s=15 * 3600)

    assert at <= needed_at
    assert at.astimezone(ZoneInfo("Europe/Berlin")).hour >= 7
