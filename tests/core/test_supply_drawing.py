"""The drawing of the shelf over the term; its corners are worked out by hand."""

from datetime import date, timedelta
from itertools import pairwise

from server.core.supply import Delivery, Lot, Need, Use, needs_by_day, standings
from server.core.supply_drawing import HEIGHT, WIDTH, draw_supply

TODAY = date(2027, 3, 1)


def test_nothing_is_drawn_without_a_class() -> None:
    assert draw_supply([], [], [], there=30, today=TODAY) is None


def test_the_lines_step_down_with_each_class_and_below_none_where_plates_are_short() -> None:
    """By hand: 20 plates, 10 taken on day 5 and 15 on day 10, 5 of them missing; from 20 down to −5 are 25 plates on 200 units."""
    days = [TODAY + timedelta(days=5), TODAY + timedelta(days=10)]
    needs = needs_by_day([Lot(20)], [Use(days[0], 10), Use(days[1], 15)])

    drawing = draw_supply(needs, standings(needs, lots=[Lot(20)]), [], there=20, today=TODAY)

    assert drawing is not None
    assert (drawing.width, drawing.height) == (WIDTH, HEIGHT)
    assert drawing.with_reserve == drawing.by_the_plan
    assert [level.label for level in drawing.levels] == ["−5", "0", "5", "10", "15", "20"]
    assert drawing.with_reserve == ((0, 0), (210, 0), (210, 80), (420, 80), (420, 200))
    assert drawing.first_short is not None
    assert (drawing.first_short.x, drawing.first_short.label) == (420, "11 Mar")
    assert [mark.label for mark in drawing.days] == ["1 Mar", "6 Mar", "11 Mar"]


def test_the_reserve_lies_below_the_plan_and_a_delivery_lifts_both() -> None:
    """By hand: of 20 plates 10 are planned and 13 needed on day 5, on day 6 come 10, and on day 10 as many go again."""
    days = [TODAY + timedelta(days=5), TODAY + timedelta(days=10)]
    needs = [Need(days[0], 10, 0, 13), Need(days[1], 20, 0, 26)]
    coming = [Delivery(TODAY + timedelta(days=6), 10)]

    drawing = draw_supply(
        needs, standings(needs, lots=[Lot(20)], deliveries=coming), coming, there=20, today=TODAY
    )

    assert drawing is not None
    assert drawing.first_short is None
    assert drawing.by_the_plan == (
        (0, 0), (210, 0), (210, 100), (252, 100), (252, 0), (420, 0), (420, 100),
    )  # fmt: skip
    assert drawing.with_reserve == (
        (0, 0), (210, 0), (210, 130), (252, 130), (252, 30), (420, 30), (420, 160),
    )  # fmt: skip


def test_days_that_are_close_share_a_label_and_many_plates_have_few_levels() -> None:
    days = [TODAY + timedelta(days=day) for day in range(60)]
    needs = needs_by_day([], [Use(day, 12) for day in days])

    drawing = draw_supply(needs, standings(needs, lots=[Lot(900)]), [], there=900, today=TODAY)

    assert drawing is not None
    marks = [mark.x for mark in drawing.days]
    assert all(later - earlier >= 56 for earlier, later in pairwise(marks))
    assert len(drawing.levels) <= 7
