"""Rounds: which exposures belong together."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.rounds import Piece, Round, rounds_of, stacked, union


def _visit(
    group: str,
    place: str,
    start: int,
    end: int,
    *,
    still: str = "still",
    light: str = "dark",
    room: str | None = "room",
    table: str | None = "table",
) -> Piece:
    return Piece(group, 1, "expose", place, start, end, light, still, room, table)


def test_stations_that_hold_still_together_are_one_round() -> None:
    """Worked by hand: S1 and S2 share the stillness from 60 to 140; the next hold-still begins after the lights were on."""
    found = rounds_of(
        [
            _visit("G1", "S1", 60, 130),
            _visit("G2", "S2", 70, 140),
            _visit("G3", "S1", 200, 500, light="lit", still="moves"),
            _visit("G3", "S1", 500, 570),
        ]
    )

    assert found == (Round(1, 60, 140, ("S1", "S2")), Round(2, 500, 570, ("S1",)))


def test_two_hold_stills_in_one_dark_window_are_one_round() -> None:
    """The room stays dark from 0 to 300 because G1 loads and develops; G2 exposes after G1."""
    found = rounds_of(
        [
            _visit("G1", "S1", 0, 60, still="moves"),
            _visit("G1", "S1", 60, 120),
            _visit("G1", "tray", 120, 200, still="moves"),
            _visit("G2", "S2", 200, 300),
        ]
    )

    assert [(one.start_s, one.end_s, one.places) for one in found] == [(60, 300, ("S1", "S2"))]


def test_two_rooms_on_one_table_expose_together() -> None:
    found = rounds_of([_visit("G1", "S1", 0, 60, room="left"), _visit("G2", "S2", 30, 90, room="right")])

    assert [one.places for one in found] == [("S1", "S2")]


def test_two_rooms_that_share_nothing_have_rounds_of_their_own() -> None:
    found = rounds_of(
        [
            _visit("G1", "S1", 0, 60, room="left", table="left"),
            _visit("G2", "S2", 30, 90, room="right", table="right"),
        ]
    )

    assert found == (Round(1, 0, 60, ("S1",)), Round(2, 30, 90, ("S2",)))


def test_a_place_without_a_zone_shares_with_nobody() -> None:
    found = rounds_of(
        [
            _visit("G1", "S1", 0, 60, room=None, table=None),
            _visit("G1", "S1", 60, 70, room=None, table=None),
            _visit("G2", "S2", 30, 90, room=None, table=None),
        ]
    )

    assert found == (Round(1, 0, 70, ("S1",)), Round(2, 30, 90, ("S2",)))


@pytest.mark.parametrize(("light", "still"), [("lit", "still"), ("dark", "moves"), ("any", "any")])
def test_what_is_lit_or_moves_is_no_exposure(light: str, still: str) -> None:
    assert rounds_of([_visit("G1", "S1", 0, 60, light=light, still=still)]) == ()


ZONES = st.sampled_from(("one", "other", None))


@given(
    st.lists(
        st.builds(
            lambda start, long, place, room, table, still: _visit(
                "G", place, start, start + long, room=room, table=table, still=still
            ),
            st.integers(0, 200), st.integers(1, 40), st.sampled_from(("S1", "S2")), ZONES, ZONES,
            st.sampled_from(("still", "moves")),
        ),
        max_size=12,
    )
)  # fmt: skip
def test_every_exposure_is_in_a_round_and_rounds_are_numbered_in_time(pieces: list[Piece]) -> None:
    found = rounds_of(pieces)
    exposures = [piece for piece in pieces if piece.still == "still"]

    assert [one.number for one in found] == list(range(1, len(found) + 1))
    assert [one.start_s for one in found] == sorted(one.start_s for one in found)
    for piece in exposures:
        assert [
            one
            for one in found
            if one.start_s <= piece.start_s and piece.end_s <= one.end_s and piece.place in one.places
        ]
    for one in exposures:
        for other in exposures:
            if one.start_s <= other.start_s < one.end_s and one.still_zone == other.still_zone is not None:
                assert [
                    number
                    for number, start, end in ((r.number, r.start_s, r.end_s) for r in found)
                    if start <= one.start_s and other.end_s <= end
                ]


STRETCHES = st.lists(
    st.tuples(st.integers(0, 60), st.integers(1, 20)).map(lambda pair: (pair[0], pair[0] + pair[1]))
)


@given(STRETCHES)
def test_a_union_covers_the_same_and_its_parts_are_apart(stretches: list[tuple[int, int]]) -> None:
    together = union(stretches)

    assert {s for start, end in together for s in range(start, end)} == {
        s for start, end in stretches for s in range(start, end)
    }
    assert all(one[1] < other[0] for one, other in pairwise(together))


@given(STRETCHES)
def test_there_are_as_many_lanes_as_stretches_at_the_fullest_second(stretches: list[tuple[int, int]]) -> None:
    lanes = stacked(stretches, lambda one: one)

    assert sorted(one for lane in lanes for one in lane) == sorted(stretches)
    assert all(one[1] <= other[0] for lane in lanes for one, other in pairwise(lane))
    fullest = max((sum(start <= s < end for start, end in stretches) for s in range(81)), default=0)
    assert len(lanes) == fullest
