"""A plate box's state, worked out from its events by hand."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.plate_box import (
    BoxEvent,
    BoxEventKind,
    BoxState,
    Keeping,
    OpenSpan,
    is_kept_too_warm,
    may_have_been_out,
    open_spans,
    state_of,
    was_open,
)

KIND = BoxEventKind


def _at(clock: str) -> datetime:
    """A time of one day, with seconds where they matter."""
    return datetime.fromisoformat(f"2027-02-16T{clock}").replace(tzinfo=UTC)


ARRIVED = _at("06:00")


def _events(*happened: tuple[BoxEventKind, str]) -> list[BoxEvent]:
    return [BoxEvent(kind, _at(clock)) for kind, clock in happened]


def _state(*happened: tuple[BoxEventKind, str], is_kept_cold: bool = True) -> BoxState:
    return state_of(_events(*happened), warm_up_s=3600, is_kept_cold=is_kept_cold)


def _is_warm(clock: str, *happened: tuple[BoxEventKind, str]) -> bool:
    return _state(*happened).is_warm(_at(clock))


def test_a_box_from_the_cold_is_warm_an_hour_after_it_was_taken_out() -> None:
    out = (KIND.TAKEN_OUT, "08:00")

    assert not _is_warm("08:30")
    assert not _is_warm("08:59:59", out)
    assert _is_warm("09:00", out)
    assert _state(out).warm_at == _at("09:00")


def test_a_box_kept_at_room_temperature_is_always_warm() -> None:
    assert _state(is_kept_cold=False).is_warm(_at("08:00"))


def test_a_box_that_was_only_sealed_is_still_warm_and_one_put_back_is_cold_again() -> None:
    opened = ((KIND.TAKEN_OUT, "08:00"), (KIND.OPENED, "09:10"), (KIND.SEALED, "10:00"))
    back = (KIND.PUT_BACK, "10:05")

    assert _is_warm("10:01", *opened)
    assert not _is_warm("23:00", *opened, back)
    assert not _is_warm("11:59", *opened, back, (KIND.TAKEN_OUT, "11:00"))
    assert _is_warm("12:00", *opened, back, (KIND.TAKEN_OUT, "11:00"))


def test_whoever_opened_a_box_said_that_it_was_warm() -> None:
    assert _is_warm("09:11", (KIND.OPENED, "09:10"))
    assert _is_warm("09:11", (KIND.TAKEN_OUT, "09:00"), (KIND.OPENED, "09:10"))


def test_a_box_taken_out_twice_is_warm_from_the_first_time_on() -> None:
    assert _is_warm("09:00", (KIND.TAKEN_OUT, "08:00"), (KIND.TAKEN_OUT, "08:50"))


def test_a_box_is_open_from_its_opening_until_it_is_sealed() -> None:
    assert _state((KIND.OPENED, "09:00")).opened_at == _at("09:00")
    assert _state((KIND.OPENED, "09:00"), (KIND.SEALED, "10:00")).opened_at is None
    assert _state((KIND.OPENED, "09:00"), (KIND.SEALED, "10:00"), (KIND.OPENED, "11:00")).opened_at == _at(
        "11:00"
    )


def test_opening_an_open_box_and_sealing_a_sealed_one_begin_no_span() -> None:
    events = _events(
        (KIND.SEALED, "08:00"), (KIND.OPENED, "09:00"), (KIND.OPENED, "09:30"), (KIND.SEALED, "10:00"),
        (KIND.SEALED, "10:30"),
    )  # fmt: skip

    assert open_spans(events) == (OpenSpan(_at("09:00"), _at("10:00"), None),)


@pytest.mark.parametrize(
    ("minute", "caught"),
    [("10:29", False), ("10:30", True), ("10:42", True), ("10:50", True), ("10:51", False)],
)
def test_a_box_is_caught_in_every_minute_it_was_open_in_the_first_and_the_last_one_too(
    minute: str, caught: bool
) -> None:
    """Opened 30 s into 10:30 and sealed 1 s into 10:50: nobody knows whether the light was before or after."""
    spans = open_spans(_events((KIND.OPENED, "10:30:30"), (KIND.SEALED, "10:50:01")))

    assert was_open(spans, minute=_at(minute), light_zone_id=None) is caught


def test_a_box_that_is_still_open_is_caught_and_one_between_two_openings_is_not() -> None:
    spans = open_spans(_events((KIND.OPENED, "09:00"), (KIND.SEALED, "09:30"), (KIND.OPENED, "11:00")))

    assert was_open(spans, minute=_at("23:59"), light_zone_id=None)
    assert not was_open(spans, minute=_at("10:00"), light_zone_id=None)


@pytest.mark.parametrize(
    ("opened_in", "lit", "caught"), [(1, 1, True), (1, 2, False), (1, None, True), (None, 2, True)]
)
def test_light_reaches_boxes_of_its_zone_and_those_of_which_nobody_said_where_they_were_opened(
    opened_in: int | None, lit: int | None, caught: bool
) -> None:
    spans = open_spans([BoxEvent(KIND.OPENED, _at("10:00"), opened_in)])

    assert was_open(spans, minute=_at("10:42"), light_zone_id=lit) is caught


def test_a_fog_test_after_the_minute_of_the_light_answers_it() -> None:
    lit = ((KIND.OPENED, "10:00"), (KIND.LIGHT, "10:42"))

    assert _state(*lit).light_at == _at("10:42")
    assert _state(*lit, (KIND.CLEAR, "10:43")).light_at is None
    assert _state(*lit, (KIND.CLEAR, "10:42:59")).light_at == _at("10:42")


def test_light_after_a_fog_test_asks_for_another() -> None:
    assert _state((KIND.LIGHT, "10:42"), (KIND.CLEAR, "10:50"), (KIND.LIGHT, "11:00")).light_at == _at(
        "11:00"
    )


def test_a_box_is_fogged_until_a_later_fog_test_comes_out_clear() -> None:
    fogged = ((KIND.LIGHT, "10:42"), (KIND.FOGGED, "11:00"))

    assert (_state(*fogged).fogged_at, _state(*fogged).light_at) == (_at("11:00"), None)
    assert _state(*fogged, (KIND.CLEAR, "12:00")).fogged_at is None


def test_counting_changes_nothing_about_a_box() -> None:
    assert _state((KIND.OPENED, "09:00"), (KIND.COUNTED, "10:00")) == _state((KIND.OPENED, "09:00"))


@pytest.mark.parametrize(
    ("minute", "out"),
    [("09:54", False), ("09:55", True), ("10:00", True), ("10:02", True), ("10:03", False)],
)
def test_a_plate_may_have_been_out_on_its_way_before_and_after_its_note(minute: str, out: bool) -> None:
    """Worked by hand: 10 s exposure, at most 120 s of waiting, 20 s of carrying and 20 s of developing are 170 s after the
    shutter opens; with 60 s of loading and 60 s of settling 290 s before a note written when developing ended. Noted at 10:00.
    """
    told = may_have_been_out(
        noted_at=_at("10:00"), settle_s=60, exposure_s=10, develop_s=20, minute=_at(minute)
    )

    assert told is out


def test_developing_that_nobody_noted_takes_what_is_assumed() -> None:
    told = [
        may_have_been_out(
            noted_at=_at("10:00"), settle_s=0, exposure_s=10, develop_s=develop_s, minute=_at("10:02")
        )
        for develop_s in (None, 20)
    ]

    assert told == [True, True]


@pytest.mark.parametrize(
    ("kept", "asked", "too_warm"),
    [
        (Keeping.ROOM, 10, True), (Keeping.FRIDGE, 10, False), (Keeping.FRIDGE, 8, False), (Keeping.FRIDGE, 7, True),
        (Keeping.FREEZER, -18, True), (Keeping.FREEZER, 4, False), (Keeping.ROOM, None, False),
    ],
)  # fmt: skip
def test_a_box_is_kept_too_warm_where_its_place_gets_warmer_than_the_pack_asks_for(
    kept: Keeping, asked: int | None, too_warm: bool
) -> None:
    assert is_kept_too_warm(kept, at_most_celsius=asked) is too_warm


SECOND = st.integers(0, 3 * 3600)


@given(turns=st.lists(SECOND, unique=True, max_size=8), lit=SECOND)
def test_light_catches_a_box_exactly_when_it_was_open_at_some_second_of_the_minute(
    turns: list[int], lit: int
) -> None:
    """Compared with looking at every second of the minute. A box is taken to be open at the second it is sealed."""
    turns = sorted(turns)
    events = [
        BoxEvent(KIND.SEALED if number % 2 else KIND.OPENED, ARRIVED + timedelta(seconds=second))
        for number, second in enumerate(turns)
    ]
    pairs = [(turns[at], turns[at + 1] if at + 1 < len(turns) else 10**9) for at in range(0, len(turns), 2)]
    minute = lit // 60 * 60
    open_then = any(begin <= second <= end for second in range(minute, minute + 60) for begin, end in pairs)

    caught = was_open(open_spans(events), minute=ARRIVED + timedelta(seconds=minute), light_zone_id=None)

    assert caught is open_then
