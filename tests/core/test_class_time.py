"""Dividing a class's time into talk, plates and clean-up."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from server.core.class_time import ClassTime, Stretch, divide_class_time

BERLIN = "Europe/Berlin"


def _at(clock: str, day: int = 16) -> datetime:
    hour, minute = clock.split(":")
    return datetime(2027, 2, day, int(hour), int(minute), tzinfo=UTC)


def _stretch(starts: str, ends: str, day: int = 16) -> Stretch:
    return Stretch(_at(starts, day), _at(ends, day))


def test_a_class_without_talk_breaks_and_clean_up_is_all_for_plates() -> None:
    period = _stretch("09:00", "09:50")

    assert divide_class_time(periods=[period], breaks=[], talk_s=0, clean_up_s=0, zone=BERLIN) == ClassTime(
        (), (period,), ()
    )


def test_fifty_minutes_with_a_talk_of_eight_and_a_clean_up_of_five_leave_thirty_seven() -> None:
    """House figures: talk 8, clean-up 5 of a section of 50 min."""
    found = divide_class_time(
        periods=[_stretch("09:00", "09:50")], breaks=[], talk_s=480, clean_up_s=300, zone=BERLIN
    )

    assert found == ClassTime(
        (_stretch("09:00", "09:08"),), (_stretch("09:08", "09:45"),), (_stretch("09:45", "09:50"),)
    )


def test_a_break_splits_a_period_in_two() -> None:
    found = divide_class_time(
        periods=[_stretch("09:00", "13:00")],
        breaks=[_stretch("11:00", "11:30")],
        talk_s=0,
        clean_up_s=0,
        zone=BERLIN,
    )

    assert found.plates == (_stretch("09:00", "11:00"), _stretch("11:30", "13:00"))


def test_the_talk_is_on_the_first_day_and_the_clean_up_on_each() -> None:
    found = divide_class_time(
        periods=[_stretch("09:00", "10:00"), _stretch("11:00", "12:00"), _stretch("09:00", "10:00", 17)],
        breaks=[],
        talk_s=600,
        clean_up_s=300,
        zone=BERLIN,
    )

    assert found.talk == (_stretch("09:00", "09:10"),)
    assert found.clean_up == (_stretch("11:55", "12:00"), _stretch("09:55", "10:00", 17))
    assert found.plates == (
        _stretch("09:10", "10:00"),
        _stretch("11:00", "11:55"),
        _stretch("09:00", "09:55", 17),
    )


def test_a_day_is_the_one_of_the_labs_wall_clock() -> None:
    """22:00 and 23:30 UTC of one day are two days in Berlin's winter: 23:00 and 00:30."""
    late, night = _stretch("22:00", "22:30"), _stretch("23:30", "23:50")

    found = divide_class_time(periods=[late, night], breaks=[], talk_s=0, clean_up_s=300, zone=BERLIN)

    assert found.clean_up == (_stretch("22:25", "22:30"), _stretch("23:45", "23:50"))


def test_a_talk_that_reaches_a_break_goes_on_after_it() -> None:
    found = divide_class_time(
        periods=[_stretch("09:00", "12:00")],
        breaks=[_stretch("09:05", "09:15")],
        talk_s=600,
        clean_up_s=0,
        zone=BERLIN,
    )

    assert found.talk == (_stretch("09:00", "09:05"), _stretch("09:15", "09:20"))
    assert found.plates == (_stretch("09:20", "12:00"),)


def test_a_talk_longer_than_its_day_leaves_only_the_next_day() -> None:
    found = divide_class_time(
        periods=[_stretch("09:00", "09:30"), _stretch("09:00", "10:00", 17)],
        breaks=[],
        talk_s=7200,
        clean_up_s=0,
        zone=BERLIN,
    )

    assert found.talk == (_stretch("09:00", "09:30"),)
    assert found.plates == (_stretch("09:00", "10:00", 17),)


MINUTES = st.integers(0, 600)


@given(
    edges=st.lists(MINUTES, min_size=2, max_size=6, unique=True),
    break_edges=st.lists(MINUTES, max_size=6, unique=True),
    talk_min=st.integers(0, 120),
    clean_up_min=st.integers(0, 120),
)
def test_no_minute_is_lost_or_counted_twice(
    edges: list[int], break_edges: list[int], talk_min: int, clean_up_min: int
) -> None:
    """Talk, plates and clean-up together are the periods without their breaks."""

    def stretches(minutes: list[int]) -> list[Stretch]:
        begins = _at("06:00")
        ordered = sorted(minutes)
        return [
            Stretch(begins + timedelta(minutes=one), begins + timedelta(minutes=other))
            for one, other in zip(ordered[::2], ordered[1::2], strict=False)
        ]

    def covered(found: list[Stretch]) -> list[datetime]:
        return [
            one.starts_at + timedelta(minutes=minute)
            for one in found
            for minute in range(round(one.length.total_seconds() / 60))
        ]

    periods, breaks = stretches(edges), stretches(break_edges)
    found = divide_class_time(
        periods=periods, breaks=breaks, talk_s=60 * talk_min, clean_up_s=60 * clean_up_min, zone=BERLIN
    )

    free = sorted(set(covered(periods)) - set(covered(breaks)))
    assert sorted(covered([*found.talk, *found.plates, *found.clean_up])) == free
    assert covered(list(found.talk)) == free[:talk_min]
    assert len(covered(list(found.clean_up))) == min(clean_up_min, len(free) - len(covered(list(found.talk))))
