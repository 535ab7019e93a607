"""The board's state, its next change and the next moves."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from server.core.board_state import BoardVisit, BoxSight, RoomState, board_state, screen_colour

NINE = datetime(2027, 2, 16, 9, tzinfo=UTC)


def _at(minutes: float) -> datetime:
    return NINE + timedelta(minutes=minutes)


def _visit(
    step: str,
    starts: float,
    ends: float,
    *,
    group: str = "G1",
    place: str = "S1",
    dark: bool = False,
    still: bool = False,
) -> BoardVisit:
    return BoardVisit(group, 1, step, place, dark, still, _at(starts), _at(ends))


PASS = [
    _visit("align", 0, 5),
    _visit("load", 8, 9, dark=True),
    _visit("settle", 9, 10, dark=True, still=True),
    _visit("expose", 10, 10.2, dark=True, still=True),
    _visit("develop", 11, 13, place="developer", dark=True),
]


def test_lights_are_allowed_until_the_first_dark_step() -> None:
    board = board_state(PASS, instant=_at(1))

    assert board.state is RoomState.LIGHTS
    assert board.change is not None
    assert (board.change.at, board.change.state) == (_at(8), RoomState.DARK)


def test_holding_still_is_said_before_the_dark_and_lasts_through_steps_that_touch() -> None:
    board = board_state(PASS, instant=_at(9.5))

    assert (board.state, board.is_dark) == (RoomState.STILL, True)
    assert board.change is not None
    assert (board.change.at, board.change.state) == (_at(10.2), RoomState.LIGHTS)


def test_a_state_changes_at_the_very_instant() -> None:
    assert board_state(PASS, instant=_at(8)).state is RoomState.DARK
    assert board_state(PASS, instant=_at(13) - timedelta(microseconds=1)).state is RoomState.DARK
    assert board_state(PASS, instant=_at(13)).state is RoomState.LIGHTS


def test_one_groups_dark_step_keeps_the_room_dark_for_the_others() -> None:
    others = [_visit("view", 8, 20, group="G2", place="bench"), *PASS]

    assert board_state(others, instant=_at(12)).is_dark


def test_the_next_move_is_to_another_place_and_not_the_next_step_at_the_same() -> None:
    board = board_state([*PASS, _visit("align", 11, 16, group="G2", place="S2")], instant=_at(5))

    assert [(visit.group, visit.step, visit.place) for visit in board.moves] == [
        ("G1", "develop", "developer"),
        ("G2", "align", "S2"),
    ]


def test_after_the_last_step_the_board_is_over_and_nothing_changes_any_more() -> None:
    board = board_state(PASS, instant=_at(13))

    assert board.is_over
    assert (board.change, board.moves, board.going_on) == (None, (), ())


def test_a_lit_still_step_holds_the_room_still_without_darkness() -> None:
    board = board_state([_visit("watch fringes", 0, 3, still=True)], instant=_at(1))

    assert (board.state, board.is_dark) == (RoomState.STILL, False)


visits = st.lists(
    st.builds(
        lambda group, step, place, dark, still, start, lasts: _visit(
            step, start, start + lasts, group=group, place=place, dark=dark, still=still
        ),
        st.sampled_from(["G1", "G2", "G3"]),
        st.sampled_from(["load", "expose"]),
        st.sampled_from(["S1", "S2", "tray"]),
        st.booleans(),
        st.booleans(),
        st.integers(0, 30),
        st.integers(1, 10),
    ),
    max_size=12,
)


@given(visits, st.integers(-2, 45))
def test_it_is_dark_iff_a_dark_step_lasts_and_still_iff_a_still_step_lasts(
    day: list[BoardVisit], minute: int
) -> None:
    board = board_state(day, instant=_at(minute))
    lasting = [visit for visit in day if visit.starts_at <= _at(minute) < visit.ends_at]

    assert board.is_dark == any(visit.is_dark for visit in lasting)
    assert (board.state is RoomState.STILL) == any(visit.is_still for visit in lasting)
    assert (board.state is RoomState.LIGHTS) == (
        not any(visit.is_dark or visit.is_still for visit in lasting)
    )
    assert sorted(map(repr, board.going_on)) == sorted(map(repr, lasting))


@given(visits, st.integers(-2, 45))
def test_nothing_changes_before_the_next_change_and_it_is_as_announced(
    day: list[BoardVisit], minute: int
) -> None:
    board = board_state(day, instant=_at(minute))
    until = minute + 60 if board.change is None else int((board.change.at - NINE).total_seconds() // 60)

    for between in range(minute, until):
        then = board_state(day, instant=_at(between))
        assert (then.state, then.is_dark) == (board.state, board.is_dark)
    if board.change is not None:
        then = board_state(day, instant=board.change.at)
        assert (then.state, then.is_dark) == (board.change.state, board.change.is_dark)
        assert (then.state, then.is_dark) != (board.state, board.is_dark)


@given(visits, st.integers(-2, 45))
def test_moves_lie_ahead_and_begin_together(day: list[BoardVisit], minute: int) -> None:
    board = board_state(day, instant=_at(minute))

    assert len({visit.starts_at for visit in board.moves}) <= 1
    assert all(visit.starts_at > _at(minute) for visit in board.moves)


def test_the_screen_shows_a_colour_no_open_box_sees() -> None:
    red_sensitive = BoxSight(sees_red=True, sees_green=False)
    green_sensitive = BoxSight(sees_red=False, sees_green=True)
    panchromatic = BoxSight(sees_red=True, sees_green=True)

    assert screen_colour([]) == "green"
    assert screen_colour([red_sensitive]) == "green"
    assert screen_colour([green_sensitive]) == "red"
    assert screen_colour([panchromatic]) == "none"
    assert screen_colour([red_sensitive, green_sensitive]) == "none"
