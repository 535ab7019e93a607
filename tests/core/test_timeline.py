"""A rotation as a drawing."""

from collections import defaultdict
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.planning import read_class_file, whiteboard
from server.core.timeline import LANE, WIDTH, Drawing, Piece, draw, union

# 10:00 on the wall clock of Berlin in winter.
TEN = datetime(2027, 2, 16, 9, 0, tzinfo=UTC)
BERLIN = "Europe/Berlin"
INSTANCES = Path(__file__).parent / "planning" / "instances"


def _drawn(pieces: list[Piece], periods: list[tuple[int, int]], starts_at: datetime = TEN) -> Drawing:
    rows = sorted({piece.row for piece in pieces})
    drawing = draw(pieces, rows=rows, periods=periods, starts_at=starts_at, zone=BERLIN)
    assert drawing is not None
    return drawing


def _drawn_class(name: str) -> tuple[Drawing, list[Piece], tuple[tuple[int, int], ...]]:
    problem = read_class_file((INSTANCES / name).read_text())
    places = {place.name: place for place in problem.places}
    steps = {step.name: step for step in problem.steps}
    pieces = [
        Piece(
            visit.group,
            visit.pass_no,
            visit.step,
            visit.place,
            visit.start_s,
            visit.end_s,
            steps[visit.step].light,
            steps[visit.step].still,
            places[visit.place].light_zone,
            places[visit.place].still_zone,
        )
        for visit in whiteboard(problem).visits
    ]
    return _drawn(pieces, list(problem.periods)), pieces, problem.periods


def test_nothing_is_drawn_of_nothing() -> None:
    assert draw([], rows=["G1"], periods=[(0, 600)], starts_at=TEN, zone=BERLIN) is None


def test_ten_minutes_fill_the_width() -> None:
    """Worked by hand: 1100 units for 600 s are 110 units a minute."""
    pieces = [
        Piece("G1", 1, "align", "S1", 0, 300, "lit", "moves", "room", "table"),
        Piece("G1", 1, "load", "S1", 300, 360, "dark", "moves", "room", "table"),
        Piece("G1", 1, "settle", "S1", 360, 420, "dark", "still", "room", "table"),
        Piece("G1", 1, "dry", "rack", 480, 600),
    ]

    drawing = _drawn(pieces, [(0, 600)])

    assert [(box.x, box.width, box.text) for box in drawing.boxes] == [
        (0, 550, "align"),
        (550, 110, "load"),
        (660, 110, "settle"),
        (880, 220, "dry"),
    ]
    assert [(tick.x, tick.label) for tick in drawing.ticks][:3] == [
        (0, "10:00"),
        (110, "10:01"),
        (220, "10:02"),
    ]
    assert [(strip.kind, strip.label) for strip in drawing.strips] == [
        ("dark", "dark: room"),
        ("still", "still: table"),
    ]
    assert [(band.x, band.width) for band in drawing.strips[0].bands] == [(550, 220)]
    assert [(band.x, band.width) for band in drawing.strips[1].bands] == [(660, 110)]
    assert [(one.number, one.x) for one in drawing.rounds] == [(1, 715)]
    assert [(stay.x, stay.text) for stay in drawing.stays] == [(0, "S1"), (880, "rack")]
    assert [(mark.kind, mark.x, mark.label) for mark in drawing.marks] == [
        ("finish", 1100, "done"),
        ("bell", 1100, "period ends 10:10"),
    ]
    assert drawing.boxes[0].title == "G1, plate 1: align at S1, 10:00:00 to 10:05:00"


def test_a_plate_that_still_dries_moves_the_next_one_into_a_lane_of_its_own() -> None:
    pieces = [
        Piece("G1", 1, "expose", "S1", 0, 60),
        Piece("G1", 1, "dry", "rack", 60, 600),
        Piece("G1", 2, "expose", "S1", 120, 180),
        Piece("G1", 3, "expose", "S1", 600, 660),
    ]

    drawing = _drawn(pieces, [(0, 660)])

    tops = [box.y for box in sorted(drawing.boxes, key=lambda box: box.title)]
    assert tops[0] == tops[1] == tops[3]
    assert tops[2] == tops[0] + LANE
    assert {stay.text for stay in drawing.stays} >= {"rack", "S1, plate 2"}


def test_time_between_periods_in_which_nothing_happens_is_cut_out() -> None:
    day = 24 * 3600
    pieces = [Piece("G1", 1, "expose", "S1", 0, 600), Piece("G1", 2, "expose", "S1", day, day + 600)]

    drawing = _drawn(pieces, [(0, 3600), (day, day + 3600), (2 * day, 2 * day + 3600)])

    assert [(segment.start_s, segment.end_s, segment.label) for segment in drawing.segments] == [
        (0, 600, "Tue 16 Feb 2027"),
        (day, day + 600, "Wed 17 Feb 2027"),
    ]
    assert drawing.boxes[0].width == drawing.boxes[1].width == (1100 - 46) / 2


def test_a_period_is_drawn_to_its_end_when_that_is_near() -> None:
    near = _drawn([Piece("G1", 1, "expose", "S1", 0, 3000)], [(0, 3300)])
    far = _drawn([Piece("G1", 1, "expose", "S1", 0, 3000)], [(0, 7200)])

    assert [mark.kind for mark in near.marks] == ["finish", "bell"]
    assert near.segments[0].end_s == 3300
    assert [mark.kind for mark in far.marks] == ["finish"]
    assert far.segments[0].end_s == 3000


def test_ticks_stand_on_round_times_of_the_wall_clock() -> None:
    """The class starts at 10:03, so the first round mark is 10:05."""
    drawing = _drawn(
        [Piece("G1", 1, "expose", "S1", 0, 3000)], [(0, 3000)], datetime(2027, 2, 16, 9, 3, tzinfo=UTC)
    )

    assert [tick.label for tick in drawing.ticks][:2] == ["10:05", "10:10"]
    assert drawing.ticks[0].x == pytest.approx(2 * 60 * WIDTH / 3000, abs=0.01)


def test_ticks_follow_the_clock_over_the_autumn_change() -> None:
    """On 31 October 2027 Berlin's clocks go from 03:00 back to 02:00."""
    drawing = _drawn(
        [Piece("G1", 1, "rest", "rack", 0, 4 * 3600)],
        [(0, 4 * 3600)],
        datetime(2027, 10, 30, 23, 0, tzinfo=UTC),
    )

    labels = [tick.label for tick in drawing.ticks]
    assert labels[:: len(labels) // 4] == ["01:00", "02:00", "02:00", "03:00", "04:00"]


def test_long_names_are_shortened() -> None:
    piece = Piece(
        "a group with a long name", 1, "expose", "S1", 0, 60, "dark", "any", "the zone under the stairs"
    )

    drawing = _drawn([piece], [(0, 60)])

    assert drawing.rows[0].label == "a group with a…"
    assert drawing.strips[0].label == "dark: the zone und…"


@pytest.mark.parametrize(
    "name",
    [
        "typical-8-groups-2-stations.json",
        "split-room-8-groups-2-stations.json",
        "three-periods-8-groups.json",
    ],
)
def test_every_visit_of_a_class_is_drawn_once(name: str) -> None:
    drawing, pieces, _periods = _drawn_class(name)

    _every_piece_once_inside_the_axis(drawing, pieces)
    _bands_cover_what_is_dark_or_still(drawing, pieces)


ROWS = ("G1", "G2", "G3")
EVENINGS = ((0, 7200), (80_000, 90_000))


@st.composite
def _pieces(draw_: st.DrawFn) -> list[Piece]:
    """Visits anywhere in two periods; each is a pass of its own and may outlast its period."""
    found = []
    for number in range(draw_(st.integers(1, 12))):
        opens, closes = draw_(st.sampled_from(EVENINGS))
        start = draw_(st.integers(opens, closes))
        found.append(
            Piece(
                draw_(st.sampled_from(ROWS)),
                number,
                f"step {number}",
                "somewhere",
                start,
                start + draw_(st.integers(1, 9000)),
                draw_(st.sampled_from(("dark", "lit", "any"))),
                draw_(st.sampled_from(("still", "moves", "any"))),
                draw_(st.sampled_from(("room", "booth", None))),
                draw_(st.sampled_from(("table", "floor", None))),
            )
        )
    return found


def _every_piece_once_inside_the_axis(drawing: Drawing, pieces: list[Piece]) -> None:
    assert len(drawing.boxes) == len(pieces)
    assert len({box.title for box in drawing.boxes}) == len(
        {(one.row, one.pass_no, one.step) for one in pieces}
    )
    top = {row.label: (row.y, row.y + row.height) for row in drawing.rows}
    for box in drawing.boxes:
        assert box.width > 0
        inside = [
            segment
            for segment in drawing.segments
            if segment.x - 0.02 <= box.x and box.x + box.width <= segment.x + segment.width + 0.02
        ]
        assert len(inside) == 1
        upper, lower = top[box.title.split(",")[0]]
        assert upper <= box.y < box.y + drawing.box <= lower
    assert max(segment.x + segment.width for segment in drawing.segments) <= WIDTH + 0.05


def _bands_cover_what_is_dark_or_still(drawing: Drawing, pieces: list[Piece]) -> None:
    """Counted second by second, without the module's own union."""
    wanted: dict[str, set[int]] = defaultdict(set)
    for piece in pieces:
        seconds = range(piece.start_s, piece.end_s)
        if piece.light == "dark" and piece.light_zone is not None:
            wanted[f"dark: {piece.light_zone}"].update(seconds)
        if piece.still == "still" and piece.still_zone is not None:
            wanted[f"still: {piece.still_zone}"].update(seconds)
    covered = {
        strip.label: [second for band in strip.bands for second in range(band.start_s, band.end_s)]
        for strip in drawing.strips
    }
    assert {label: sorted(seconds) for label, seconds in wanted.items()} == covered


@given(_pieces())
def test_whatever_is_planned_is_drawn_once_and_bands_cover_exactly_what_is_dark_or_still(
    pieces: list[Piece],
) -> None:
    drawing = draw(pieces, rows=ROWS, periods=EVENINGS, starts_at=TEN, zone=BERLIN)

    assert drawing is not None
    _every_piece_once_inside_the_axis(drawing, pieces)
    _bands_cover_what_is_dark_or_still(drawing, pieces)


@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(1, 20)).map(lambda pair: (pair[0], pair[0] + pair[1])))
)
def test_a_union_covers_the_same_and_its_parts_are_apart(stretches: list[tuple[int, int]]) -> None:
    together = union(stretches)

    assert {s for start, end in together for s in range(start, end)} == {
        s for start, end in stretches for s in range(start, end)
    }
    assert all(one[1] < other[0] for one, other in pairwise(together))


def test_half_a_year_of_weekly_periods_still_runs_to_the_right() -> None:
    week = 7 * 86_400
    periods = [(number * week, number * week + 3000) for number in range(26)]
    drawing = _drawn([Piece("G1", 1, "align", "S1", opens, closes) for opens, closes in periods], periods)

    assert all(segment.width > 0 for segment in drawing.segments)
    assert all(one.x + one.width <= next_.x for one, next_ in pairwise(drawing.segments))
    assert drawing.segments[-1].x + drawing.segments[-1].width == pytest.approx(WIDTH, abs=0.1)


def test_numbers_of_rounds_never_stand_in_each_other() -> None:
    """Twelve rounds in pairs: 1100 units for 3600 s, so that the second of a pair is 9.2 units from the first."""
    starts = [number // 2 * 600 + number % 2 * 30 for number in range(12)]
    pieces = [Piece("G1", 1, "expose", "S1", start, start + 10, "dark", "still") for start in starts]
    drawing = _drawn([*pieces, Piece("G1", 1, "view", "bench", 3300, 3600)], [(0, 3600)])

    assert [one.number for one in drawing.rounds] == [1, 3, 5, 7, 9, 11]
