"""The drawing of a stream's forecast; its corners are worked out by hand."""

from datetime import date, timedelta
from itertools import pairwise

from hypothesis import given

from server.core.fill_drawing import CUT_OFF_Y, HEIGHT, PICKUP_Y, WIDTH, FillDrawing, draw_fill
from server.core.fill_forecast import Feed, PickupAhead, StreamFill, forecast
from server.core.moments import day_begins
from server.core.waste_forecast import Addition
from tests.core.test_fill_forecast import (
    BERLIN,
    FEEDS,
    LITRE,
    PICKUPS,
    SEVEN,
    TUESDAY,
    carboy,
    one_stream,
    pickup,
    weekly,
)

# From the beginning of Tuesday to the end of the tenth day after it are ten days: 42 units each.
NINTH = TUESDAY + timedelta(days=9)
MIDNIGHT = day_begins(TUESDAY, BERLIN)


def _drawn(fill: StreamFill, pickups: list[PickupAhead], last: date = NINTH) -> FillDrawing:
    return draw_fill(fill, pickups, now=MIDNIGHT, first=TUESDAY, last=last, zone=BERLIN)


def test_the_level_rises_with_a_class_and_falls_with_a_pickup() -> None:
    """By hand: 10 L, at noon of the second day 5 L more, half a litre less or more; all of it goes at the end of the fifth day. The plot is
    20 L high: 10 L lie at 105 units, 15 L at 52.5.
    """
    noon = MIDNIGHT + timedelta(days=1, hours=12)
    coming = (Addition("section", noon, 5 * LITRE, maybe_ul=500_000),)
    friday = pickup(TUESDAY + timedelta(days=4))
    drawing = _drawn(one_stream([carboy(10 * LITRE)], coming, [friday], now=MIDNIGHT), [friday])

    assert (drawing.width, drawing.height) == (WIDTH, HEIGHT)
    assert drawing.likely == ((0, 105), (63, 105), (63, 52.5), (210, 52.5), (210, 210), (420, 210))
    assert (63, 57.75) in drawing.band
    assert drawing.line == ((0, 21), (63, 21), (210, 21), (420, 21))
    assert drawing.line_label == "fill line, 18 L"
    assert [level.label for level in drawing.levels] == ["0", "5", "10", "15", "20"]
    assert [(day.x, day.label) for day in drawing.days][:3] == [(0, "16 Feb"), (42, ""), (84, "18 Feb")]


def test_a_pickup_and_its_cut_off_share_a_number_and_have_shapes_and_words_of_their_own() -> None:
    asked = pickup(TUESDAY + timedelta(days=2), key=1)
    booked = pickup(TUESDAY + timedelta(days=8), key=2, requested=False)
    lost = pickup(TUESDAY + timedelta(days=1), key=3, requested=False)
    drawing = _drawn(one_stream([carboy()], (), [asked, booked, lost], now=MIDNIGHT), [booked, asked, lost])

    assert [(sign.kind, sign.text, sign.y) for sign in drawing.signs] == [
        ("lost", "1", PICKUP_Y),
        ("pickup", "2", PICKUP_Y),
        ("cut-off", "3", CUT_OFF_Y),
        ("pickup", "3", PICKUP_Y),
    ]
    assert [sign.words for sign in drawing.signs] == [
        "1: pickup of Wed 17 Feb 2027, not requested by Mon 15 Feb 2027, 12:00 and not counted on",
        "2: pickup of Thu 18 Feb 2027, requested",
        "3: request it by Mon 22 Feb 2027, 12:00",
        "3: pickup of Wed 24 Feb 2027, counted on if it is requested",
    ]


def test_where_it_finds_no_room_is_marked_and_where_it_may() -> None:
    """By hand: 2.3 L a week, each spread by a litre: at worst the second class is over the line of 6 L, as expected the third."""
    coming = tuple(Addition(one.name, one.starts_at, one.volume_ul, spread_ul=LITRE) for one in weekly(3))
    fill = one_stream([carboy(line_ul=6 * LITRE)], coming, now=MIDNIGHT)
    drawing = _drawn(fill, [], last=TUESDAY + timedelta(days=20))

    assert [(sign.kind, sign.text) for sign in drawing.signs] == [("over", "×"), ("perhaps", "?")]
    assert drawing.signs[0].words == "×: section 3, Tue 2 Mar 2027, 09:00, is expected to find no room"
    assert drawing.signs[1].words == "?: section 2, Tue 23 Feb 2027, 09:00, may find no room at worst"


def test_a_stream_without_a_container_says_so() -> None:
    drawing = _drawn(one_stream([], weekly(1), now=MIDNIGHT), [])

    assert drawing.line_label == "no container"
    assert [sign.kind for sign in drawing.signs] == ["over"]


def test_an_empty_shelf_with_nothing_to_come_is_drawn_too() -> None:
    assert _drawn(forecast([Feed(1, (), ())], [], now=MIDNIGHT)[0], []).likely == ((0, 210), (420, 210))


@given(FEEDS, PICKUPS)
def test_everything_lies_on_the_plot_and_runs_from_left_to_right(
    feeds: list[Feed], pickups: list[PickupAhead]
) -> None:
    for fill in forecast(feeds, pickups, now=SEVEN):
        drawing = draw_fill(
            fill, pickups, now=SEVEN, first=TUESDAY, last=TUESDAY + timedelta(days=31), zone=BERLIN
        )
        for x, y in (*drawing.band, *drawing.likely, *drawing.line):
            assert 0 <= x <= WIDTH
            assert 0 <= y <= HEIGHT
        for line in (drawing.likely, drawing.line):
            assert all(one[0] <= other[0] for one, other in pairwise(line))
        assert all(0 <= sign.x <= WIDTH for sign in drawing.signs if sign.kind != "cut-off")
