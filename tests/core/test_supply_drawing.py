"""The drawing of the shelf over the term; its corners are worked out by hand."""

from datetime import date, timedelta
from itertools import pairwise

from server.core.supply import Delivery, Lot, Need, Use, needs_by_day, standings
from server.core.supply_drawing import HEIGHT, WIDTH, draw_supply

TODAY = date(2027, 3, 1)


def test_nothing_is_drawn_without_a_class() -> None:
    assert draw_supply([], [], there=30, today=TODAY) is None


def test_the_lines_step_down_with_each_class_and_below_none_where_plates_are_short() -> None:
    """By hand: 20 plates, 10 taken on day 5 and 15 on day 10, 5 of them missing; from 20 down to −5 are 25 plates on 200 units."""
    days = [TODAY + timedelta(days=5), TODAY + timedelta(days=10)]
    needs = needs_by_day([Lot(20)], [Use(days[0], 10), Use(days[1], 15)])

    drawing = draw_supply(needs, standings(needs, lots=[Lot(20)]), there=20, today=TODAY)

    assert drawing is not None
    assert (drawing.width, drawing.height) == (WIDTH, HEIGHT)
    assert drawing.with_reserve == drawing.by_the_plan
    assert [level.label for level in drawing.levels] == ["−5", "0", "5", "10", "15", "20"]
    assert drawing.with_reserve == ((0, 0), (210, 0), (210, 80), (420, 80), (420, 200))
    assert drawing.first_short is not None
    assert (drawing.first_short.x, drawing.first_short.label) == (420, "11 Mar")
    assert [mark.label for mark in drawing.days] == ["1 Mar", "6 Mar", "11 Mar"]


def test_the_reserve_lies_below_the_plan_and_a_delivery_lifts_both() -> None:
    days = [TODAY + timedelta(days=5), TODAY + timedelta(days=10)]
    needs = [Need(days[0], 10, 0, 13), Need(days[1], 20, 0, 26)]
    stands = standings(needs, lots=[Lot(20)], deliveries=[Delivery(TODAY + timedelta(days=6), 10)])

    drawing = draw_supply(needs, stands, there=20, today=TODAY)

    assert drawing is not None
    assert drawing.first_short is None
    assert len(drawing.by_the_plan) == len(drawing.with_reserve)
    assert all(
        reserve[1] >= plan[1] for plan, reserve in zip(drawing.by_the_plan, drawing.with_reserve, strict=True)
    )
    lifted = [y for x, y in drawing.with_reserve if x == WIDTH]
    assert lifted[0] < next(y for x, y in reversed(drawing.with_reserve) if x < WIDTH)


def test_days_that_are_close_share_a_label_and_many_plates_have_few_levels() -> None:
    days = [TODAY + timedelta(days=day) for day in range(60)]
    needs = needs_by_day([], [Use(day, 12) for day in days])

    drawing = draw_supply(needs, standings(needs, lots=[Lot(900)]), there=900, today=TODAY)

    assert drawing is not None
    marks = [mark.x for mark in drawing.days]
    assert all(later - earlier >= 56 for earlier, later in pairwise(marks))
    assert len(drawing.levels) <= 7
