"""A rotation as a drawing."""

from collections import defaultdict
from datetime import UTC, datetime
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.planning import Problem, read_class_file, whiteboard
from server.core.rounds import Piece
from server.core.timeline import (
    LANE,
    MARGIN,
    NAMES,
    PAPER_HEIGHT,
    PAPER_WIDTH,
    WIDEST,
    WIDTH,
    Aside,
    Drawing,
    Label,
    Spot,
    Timeline,
)

# 10:00 on the wall clock of Berlin in winter.
TEN = datetime(2027, 2, 16, 9, 0, tzinfo=UTC)
BERLIN = "Europe/Berlin"
INSTANCES = Path(__file__).parent / "planning" / "instances"


def _timeline(pieces: list[Piece], periods: list[tuple[int, int]], **more: Any) -> Timeline:
    rows = sorted({piece.row for piece in pieces})
    return Timeline(
        **{"pieces": pieces, "rows": rows, "periods": periods, "starts_at": TEN, "zone": BERLIN, **more}
    )


def _drawn(pieces: list[Piece], periods: list[tuple[int, int]], **more: Any) -> Drawing:
    drawing = _timeline(pieces, periods, **more).for_screen()
    assert drawing is not None
    return drawing


def _words(drawing: Drawing, kind: str) -> list[tuple[float, str]]:
    return [(label.x, label.text) for label in drawing.labels if label.kind == kind]


def _class(name: str) -> tuple[Problem, list[Piece]]:
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
    return problem, pieces


def _class_timeline(name: str) -> tuple[Timeline, list[Piece]]:
    problem, pieces = _class(name)
    spots = [Spot(place.name, place.capacity) for place in problem.places]
    return _timeline(
        pieces, list(problem.periods), rows=[group.name for group in problem.groups], places=spots
    ), pieces


def test_nothing_is_drawn_of_nothing() -> None:
    nothing = _timeline([], [(0, 600)], rows=["G1"])

    assert nothing.for_screen() is None
    assert nothing.for_paper() == ()


def test_ten_minutes_fill_the_width() -> None:
    """Worked by hand: 1000 units for 600 s are 100 units a minute."""
    pieces = [
        Piece("G1", 1, "align", "S1", 0, 300, "lit", "moves", "room", "table"),
        Piece("G1", 1, "load", "S1", 300, 360, "dark", "moves", "room", "table"),
        Piece("G1", 1, "settle", "S1", 360, 420, "dark", "still", "room", "table"),
        Piece("G1", 1, "dry", "rack", 480, 600),
    ]

    drawing = _drawn(pieces, [(0, 600)], places=[Spot("S1", 1), Spot("rack", 3)])

    assert [(box.x, box.width) for box in drawing.boxes] == [(0, 500), (500, 100), (600, 100), (800, 200)]
    assert _words(drawing, "step") == [(250, "align"), (550, "load"), (650, "settle"), (900, "dry")]
    assert _words(drawing, "tick")[:3] == [(0, "10:00"), (100, "10:01"), (200, "10:02")]
    assert [(strip.kind, strip.zone) for strip in drawing.strips] == [("dark", "room"), ("still", "table")]
    assert [(band.x, band.width) for band in drawing.strips[0].bands] == [(500, 200)]
    assert [(band.x, band.width) for band in drawing.strips[1].bands] == [(600, 100)]
    assert [(one.number, one.x, one.width) for one in drawing.rounds] == [(1, 600, 100)]
    assert _words(drawing, "round") == [(650, "1")]
    assert _words(drawing, "place") == [(0, "S1"), (800, "rack")]
    assert [(mark.kind, mark.x) for mark in drawing.marks] == [("finish", 1000), ("bell", 1000)]
    assert _words(drawing, "finish") == [(996, "done 10:10")]
    assert _words(drawing, "small") == [(1000, "period ends 10:10")]
    assert drawing.boxes[0].title == "G1, plate 1: align at S1, 10:00:00 to 10:05:00"
    assert [(bar.x, bar.width, bar.title) for bar in drawing.bars] == [
        (0, 700, "S1: G1, plate 1, 10:00:00 to 10:07:00"),
        (800, 200, "rack: G1, plate 1, 10:08:00 to 10:10:00"),
    ]
    assert [name.text for name in drawing.names] == [
        "clock", "round", "dark: room", "still: table", "G1", "plates at", "S1", "rack, 1 of 3",
    ]  # fmt: skip
    assert drawing.key == ((1, "align"), (2, "load"), (3, "settle"), (4, "dry"))


def test_a_step_too_short_for_its_name_shows_its_number() -> None:
    """100 units a minute: 12 s are 20 units, and “develop” needs 46; a second has room for neither."""
    pieces = [
        Piece("G1", 1, "align", "S1", 0, 587),
        Piece("G1", 1, "develop", "tray", 587, 599),
        Piece("G1", 1, "lift", "tray", 599, 600),
    ]

    drawing = _drawn(pieces, [(0, 600)])

    assert [text for _x, text in _words(drawing, "step")] == ["align", "2"]
    assert drawing.key[1:] == ((2, "develop"), (3, "lift"))


def test_plates_at_one_place_stand_in_steps_and_a_short_stay_has_its_group_beside_it() -> None:
    pieces = [
        Piece("G1", 1, "dry", "rack", 0, 300),
        Piece("G2", 1, "dry", "rack", 100, 400),
        Piece("G3", 1, "dry", "rack", 300, 306),
        Piece("G3", 2, "dry", "rack", 400, 600),
    ]

    drawing = _drawn(pieces, [(0, 600)], places=[Spot("rack", 3), Spot("bench", 2)])

    assert [(bar.title[6:8], bar.y - drawing.bars[0].y) for bar in drawing.bars] == [
        ("G1", 0), ("G3", 0), ("G3", 0), ("G2", 16),
    ]  # fmt: skip
    assert [label.text for label in drawing.labels if label.kind == "bar"] == ["G1", "G3", "G3·2", "G2"]
    assert [row.name for row in drawing.rows if row.kind == "place"] == ["rack"]
    assert drawing.names[-1].text == "rack, 2 of 3"


def test_the_talk_and_the_clean_up_stand_before_and_after_the_plates() -> None:
    drawing = _drawn(
        [Piece("G1", 1, "align", "S1", 0, 600)],
        [(0, 600)],
        asides=[Aside("talk", -480, 0), Aside("clean-up", 600, 900)],
        places=[Spot("S1", 1)],
    )

    assert [(one.start_s, one.end_s) for one in drawing.segments] == [(-480, 900)]
    assert [(one.kind, one.x) for one in drawing.shades] == [
        ("aside", 0),
        ("aside", pytest.approx(1080 / 1380 * WIDTH, abs=0.01)),
    ]
    assert [one.title for one in drawing.shades] == [
        "talk, 09:52:00 to 10:00:00",
        "clean-up, 10:10:00 to 10:15:00",
    ]
    assert [(label.text, label.upright) for label in drawing.labels if label.kind == "aside"] == [
        ("talk", True),
        ("clean-up", True),
    ]


def test_a_gap_says_until_when_nothing_happens_and_a_break_gives_it_its_name() -> None:
    rows = [f"G{number}" for number in range(1, 9)]
    pieces = [
        Piece(row, number, "align", "S1", opens, opens + 600)
        for row in rows
        for number, opens in enumerate((0, 1200, 86_400), start=1)
    ]
    periods = [(0, 600), (1200, 1800), (86_400, 87_000)]

    drawing = _drawn(pieces, periods, asides=[Aside("lunch", 600, 1200, is_break=True)])

    assert [label.text for label in drawing.labels if label.upright] == [
        "lunch until 10:20",
        "until Wed 17 Feb 2027, 10:00",
    ]
    assert [text for _x, text in _words(drawing, "day")] == ["Tue 16 Feb 2027", "Wed 17 Feb 2027"]


def test_a_row_kept_free_for_a_repeat_stands_below_the_groups() -> None:
    pieces = [Piece("G1", 1, "align", "S1", 0, 300), Piece("Repeat 1", 1, "align", "S1", 300, 600)]

    drawing = _drawn(pieces, [(0, 600)], rows=["G1"], kept_free=["Repeat 1"])

    assert [row.name for row in drawing.rows] == ["G1", "Repeat 1"]
    assert [box.kept_free for box in drawing.boxes] == [False, True]


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
    assert {text for _x, text in _words(drawing, "place")} >= {"rack", "S1, plate 2"}


def test_time_between_periods_in_which_nothing_happens_is_cut_out() -> None:
    day = 24 * 3600
    pieces = [Piece("G1", 1, "expose", "S1", 0, 600), Piece("G1", 2, "expose", "S1", day, day + 600)]

    drawing = _drawn(pieces, [(0, 3600), (day, day + 3600), (2 * day, 2 * day + 3600)])

    assert [(segment.start_s, segment.end_s) for segment in drawing.segments] == [(0, 600), (day, day + 600)]
    assert drawing.boxes[0].width == drawing.boxes[1].width == (1000 - 46) / 2


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
        [Piece("G1", 1, "expose", "S1", 0, 2700)],
        [(0, 2700)],
        starts_at=datetime(2027, 2, 16, 9, 3, tzinfo=UTC),
    )

    assert [text for _x, text in _words(drawing, "tick")][:2] == ["10:05", "10:10"]
    assert drawing.ticks[0].x == pytest.approx(2 * 60 * WIDTH / 2700, abs=0.01)


def test_ticks_follow_the_clock_over_the_autumn_change() -> None:
    """On 31 October 2027 Berlin's clocks go from 03:00 back to 02:00."""
    drawing = _drawn(
        [Piece("G1", 1, "rest", "rack", 0, 4 * 3600)],
        [(0, 4 * 3600)],
        starts_at=datetime(2027, 10, 30, 23, 0, tzinfo=UTC),
    )

    labels = [text for _x, text in _words(drawing, "tick")]
    assert labels[:: len(labels) // 4] == ["01:00", "02:00", "02:00", "03:00", "04:00"]


def test_long_names_are_shortened() -> None:
    piece = Piece(
        "a group with a long name", 1, "expose", "S1", 0, 60, "dark", "any", "the zone under the stairs"
    )

    drawing = _drawn([piece], [(0, 60)])

    assert [name.text for name in drawing.names][-2:] == ["dark: the zone und…", "a group with…"]


@pytest.mark.parametrize(
    "name",
    [
        "typical-8-groups-2-stations.json",
        "split-room-8-groups-2-stations.json",
        "three-periods-8-groups.json",
    ],
)
def test_every_visit_of_a_class_is_drawn_once(name: str) -> None:
    timeline, pieces = _class_timeline(name)
    drawing = timeline.for_screen()

    assert drawing is not None
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
    top = {row.name: (row.y, row.y + row.height) for row in drawing.rows}
    for box in drawing.boxes:
        assert box.width > 0
        inside = [
            segment
            for segment in drawing.segments
            if segment.x - 0.02 <= box.x and box.x + box.width <= segment.x + segment.width + 0.02
        ]
        assert len(inside) == 1
        upper, lower = top[box.title.split(",")[0]]
        assert upper <= box.y < box.y + 17 <= lower
    assert max(segment.x + segment.width for segment in drawing.segments) <= drawing.width + 0.05


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
        f"{strip.kind}: {strip.zone}": [
            second for band in strip.bands for second in range(band.start_s, band.end_s)
        ]
        for strip in drawing.strips
    }
    assert {label: sorted(seconds) for label, seconds in wanted.items()} == covered


def _words_stand_free(drawing: Drawing) -> None:
    """Every text inside the frame and in nobody's way, by the room that each is given."""
    for label in drawing.labels:
        left, top, right, bottom = label.box
        assert -MARGIN <= left <= right <= drawing.width + MARGIN, label
        assert 0 <= top <= bottom <= drawing.height + 18, label
    boxes = sorted((label.box, label) for label in drawing.labels)
    for (one, first), (other, second) in combinations(boxes, 2):
        if other[0] >= one[2] - 0.05:
            continue
        apart = other[1] >= one[3] - 0.05 or one[1] >= other[3] - 0.05
        assert apart, f"{first} and {second}"
    for name in drawing.names:
        assert 0 <= name.box[0] <= name.box[2] <= NAMES, name
    assert all(one.y < other.y for one, other in pairwise(drawing.names))


def _boxes_stand_apart(drawing: Drawing) -> None:
    for shapes in (
        [(box.x, box.y, box.x + box.width) for box in drawing.boxes],
        [(bar.x, bar.y, bar.x + bar.width) for bar in drawing.bars],
    ):
        for one, other in pairwise(sorted(shapes, key=lambda shape: (shape[1], shape[0]))):
            assert one[1] != other[1] or one[2] <= other[0] + 0.05


CLASSES = [*sorted(path.name for path in INSTANCES.glob("*-groups-*.json")), "three-periods-8-groups.json"]


@pytest.mark.parametrize("name", CLASSES)
def test_no_word_stands_in_another_s_way(name: str) -> None:
    timeline, _pieces = _class_timeline(name)

    for drawing in (timeline.for_screen(), *timeline.for_paper()):
        assert drawing is not None
        _words_stand_free(drawing)
        _boxes_stand_apart(drawing)


@pytest.mark.parametrize("name", CLASSES)
def test_the_sheets_of_a_class_show_every_visit_and_every_plate_at_a_place(name: str) -> None:
    timeline, pieces = _class_timeline(name)
    screen, sheets = timeline.for_screen(), timeline.for_paper()

    assert screen is not None
    assert {box.title for sheet in sheets for box in sheet.boxes} == {box.title for box in screen.boxes}
    assert {bar.title for sheet in sheets for bar in sheet.bars} == {bar.title for bar in screen.bars}
    assert len(screen.boxes) == len(pieces)
    for sheet in sheets:
        assert sheet.width == PAPER_WIDTH
        assert sheet.height + 18 <= PAPER_HEIGHT
        assert sheet.rows, sheet.part
    scales = {
        round(
            sum(one.width for one in sheet.segments) / sum(one.end_s - one.start_s for one in sheet.segments),
            3,
        )
        for sheet in sheets
    }
    assert len(scales) == 1
    assert min(scales) >= 0.29, "a single figure fits a step of twenty seconds"


@given(_pieces())
def test_whatever_is_planned_is_drawn_once_and_bands_cover_exactly_what_is_dark_or_still(
    pieces: list[Piece],
) -> None:
    timeline = _timeline(pieces, list(EVENINGS), rows=ROWS, places=[Spot("somewhere", 99)])
    drawing = timeline.for_screen()

    assert drawing is not None
    _every_piece_once_inside_the_axis(drawing, pieces)
    _bands_cover_what_is_dark_or_still(drawing, pieces)
    for one in (drawing, *timeline.for_paper()):
        _words_stand_free(one)
        _boxes_stand_apart(one)


def test_a_room_for_very_many_plates_still_fits_a_sheet() -> None:
    pieces = [Piece(f"G{number}", 1, "dry", "rack", 0, 600) for number in range(60)]
    [*_groups, last] = _timeline(pieces, [(0, 600)], places=[Spot("rack", 60)]).for_paper()

    assert len(last.bars) == 60
    assert last.height + 18 <= PAPER_HEIGHT
    assert not [label for label in last.labels if label.kind == "bar"]


def test_an_upright_label_takes_its_length_from_bottom_to_top() -> None:
    assert Label("aside", 10, 100, "talk", "middle", upright=True).box == pytest.approx(
        (-0.5, 86.8, 13.5, 113.2)
    )


def test_half_a_year_of_weekly_periods_still_runs_to_the_right() -> None:
    week = 7 * 86_400
    periods = [(number * week, number * week + 3000) for number in range(26)]
    drawing = _drawn([Piece("G1", 1, "align", "S1", opens, closes) for opens, closes in periods], periods)

    assert all(segment.width > 0 for segment in drawing.segments)
    assert all(one.x + one.width <= next_.x for one, next_ in pairwise(drawing.segments))
    assert drawing.segments[-1].x + drawing.segments[-1].width == pytest.approx(WIDEST, abs=0.1)
    _words_stand_free(drawing)


def test_numbers_of_rounds_never_stand_in_each_other() -> None:
    """Twelve rounds in pairs: 1296 units for 3600 s, so that the second of a pair is 7.2 units from the first."""
    starts = [number // 2 * 600 + number % 2 * 20 for number in range(12)]
    pieces = [Piece("G1", 1, "expose", "S1", start, start + 10, "dark", "still") for start in starts]
    drawing = _drawn([*pieces, Piece("G1", 1, "view", "bench", 3300, 3600)], [(0, 3600)])

    assert [one.number for one in drawing.rounds] == list(range(1, 13))
    assert [text for _x, text in _words(drawing, "round")] == [
        "1",
        "2",
        "3",
        "4",
        "5",
        "6",
        "7",
        "8",
        "9",
        "11",
    ]
