"""The fill forecast with its band: two worked examples of a teaching lab (hand-checked; common practice), and what must always hold."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.fill_forecast import (
    Band,
    Container,
    Feed,
    PickupAhead,
    Step,
    StreamFill,
    days_of,
    forecast,
)
from server.core.moments import day_begins
from server.core.rinse_history import assumed_rinse
from server.core.waste_forecast import Addition, PlatesAhead, rinse_additions, with_tests

LITRE = 1_000_000
BERLIN = "Europe/Berlin"
TUESDAY = date(2027, 2, 16)
SEVEN = datetime(2027, 2, 16, 7, tzinfo=UTC)
LONG_AGO = SEVEN - timedelta(days=30)


def carboy(held_ul: int = 0, *, key: int = 1, line_ul: int = 18 * LITRE, is_taking: bool = True) -> Container:
    return Container(key, f"R{key}", held_ul, line_ul, LONG_AGO + timedelta(days=key), is_taking=is_taking)


def pickup(
    on_day: date, *, key: int = 1, requested: bool = True, most_ul: int | None = None, most: int | None = None
) -> PickupAhead:
    """A pickup whose request is due on the Wednesday before at noon, as in the worked example."""
    at = day_begins(on_day + timedelta(days=1), BERLIN)
    request_by = datetime(on_day.year, on_day.month, on_day.day, 11, tzinfo=UTC) - timedelta(days=2)
    return PickupAhead(key, on_day, at, request_by, requested, most_ul=most_ul, most_containers=most)


def three_sections() -> tuple[Addition, ...]:
    """Three sections of 12 plates on three stations, at 9, 11 and 14 on the lab's clock, with a test plate a station."""
    sections = [
        PlatesAhead(
            f"section {number}",
            TUESDAY,
            SEVEN.replace(hour=hour),
            SEVEN.replace(hour=hour, minute=50),
            12,
            stations=frozenset({"S1", "S2", "S3"}),
        )
        for number, hour in ((1, 8), (2, 10), (3, 13))
    ]
    ahead = with_tests(sections, test_plates_per_station=1)
    return rinse_additions(ahead, rinse=assumed_rinse(166_667), now=SEVEN)


def weekly(sections: int) -> tuple[Addition, ...]:
    """A section a week, on Tuesdays at nine: two litres of rinse for 12 plates and 0.3 L for its tests."""
    return tuple(
        Addition(f"section {week + 1}", SEVEN.replace(hour=8) + timedelta(weeks=week), 2_300_000, plates=12)
        for week in range(sections)
    )


def one_stream(
    containers: list[Container],
    additions: tuple[Addition, ...],
    pickups: list[PickupAhead] | None = None,
    *,
    now: datetime = SEVEN,
) -> StreamFill:
    return forecast([Feed(1, tuple(containers), additions)], pickups or [], now=now)[0]


def likely(fill: StreamFill) -> list[int]:
    return [step.total_ul.likely for step in fill.steps]


def test_what_was_emptied_and_filled_again_is_no_longer_the_oldest() -> None:
    """By hand: both full; the first pickup takes the older, 18 L; filled again with 2.3 L it is younger than the other, which goes next."""
    fill = one_stream(
        [carboy(18 * LITRE), carboy(17 * LITRE, key=2, is_taking=False)],
        weekly(3)[1:],
        [pickup(date(2027, 2, 19), most=1), pickup(date(2027, 2, 26), key=2, most=1)],
    )

    assert [step.moved.likely for step in fill.steps if step.pickup] == [18 * LITRE, 17 * LITRE]
    assert fill.steps[-1].likely.levels_ul == (4_600_000, 0)


def test_a_carboy_at_13_2_litres_takes_two_sections_and_not_the_third() -> None:
    """13.2 + 6.5 = 19.7 L over an 18.0 L line; with the tests and two sections, 27 plates, it is 17.7 L; the third does not fit."""
    fill = one_stream([carboy(13_200_000)], three_sections(), [pickup(date(2027, 2, 19))])

    assert likely(fill) == [13_700_000, 15_700_000, 17_700_000, 19_700_000, 1_700_000]
    assert fill.first_over is not None
    assert fill.first_over.addition is not None
    assert fill.first_over.addition.name == "section 3"
    assert fill.first_over.likely.over_ul == 1_700_000
    assert fill.steps[2].likely.room_ul == 300_000


def test_at_worst_the_second_section_is_too_much_already() -> None:
    """By hand: 3, 12 and 12 plates that spread by a fifth of 166.7 mL, and a mean of five classes:
    (3² + 12² + 12²) + 27² ÷ 5 = 442.8, its root 21.04; × 33.3 mL × 2.132 (Student's t, 4 degrees of freedom, 19 of 20) = 1.495 L.
    """
    fill = one_stream([carboy(13_200_000)], three_sections())
    worst = fill.first_over_at_worst

    assert worst is not None
    assert worst.addition is not None
    assert worst.addition.name == "section 2"
    assert worst.total_ul.high - worst.total_ul.likely == pytest.approx(1_495_000, abs=2000)
    assert worst.total_ul.likely - worst.total_ul.low == pytest.approx(1_495_000, abs=2000)


def test_the_chance_that_it_does_not_hold_grows_from_class_to_class() -> None:
    """By hand: before section 3, 0.3 L are left at a deviation of 0.7014 L: t = 0.428, and 0.345 of Student's t with 4 degrees lie above;
    after it 1.7 L are missing at one of 33.3 × √(441 + 39² ÷ 5) = 0.910 L: t = −1.868, and 0.932 lie above.
    """
    fill = one_stream([carboy(13_200_000)], three_sections())
    chances = [step.chance_over for step in fill.steps]

    assert chances[2] == pytest.approx(0.345, abs=0.002)
    assert chances[3] == pytest.approx(0.932, abs=0.002)
    assert chances == sorted(chance or 0 for chance in chances)


def test_five_weeks_fit_and_the_sixth_does_not() -> None:
    """6.4 L and 2.3 L a section: 8.7, 11.0, 13.3, 15.6, 17.9 after five; the sixth makes 20.2 over 18.0."""
    fill = one_stream([carboy(6_400_000)], weekly(6))

    assert likely(fill) == [8_700_000, 11_000_000, 13_300_000, 15_600_000, 17_900_000, 20_200_000]
    assert fill.first_over is not None
    assert fill.first_over.addition is not None
    assert fill.first_over.addition.name == "section 6"


def test_the_request_must_go_in_before_the_cut_off_of_the_sixth_week() -> None:
    """The Friday before the sixth section, to be requested by Wednesday noon: then 2.3 L stand in an emptied carboy, else 20.2 L."""
    friday = pickup(date(2027, 3, 19), requested=False)
    wednesday_noon = datetime(2027, 3, 17, 11, tzinfo=UTC)
    assert friday.request_by == wednesday_noon

    in_time = one_stream([carboy(6_400_000)], weekly(6), [friday])
    assert likely(in_time)[-2:] == [0, 2_300_000]
    assert in_time.first_over is None
    assert in_time.next_pickup == friday

    still = one_stream([carboy(15_600_000)], weekly(6)[4:], [friday], now=wednesday_noon)
    assert still.first_over is None
    too_late = one_stream(
        [carboy(15_600_000)], weekly(6)[4:], [friday], now=wednesday_noon + timedelta(minutes=1)
    )
    assert too_late.first_over is not None
    assert too_late.next_pickup is None


def test_alternate_fridays_keep_the_carboy_low() -> None:
    fridays = [pickup(date(2027, 2, 19) + timedelta(weeks=2 * number), key=number) for number in range(3)]
    fill = one_stream([carboy(6_400_000)], weekly(6), fridays)

    assert fill.first_over_at_worst is None
    assert likely(fill) == [
        8_700_000, 0, 2_300_000, 4_600_000, 0, 2_300_000, 4_600_000, 0, 2_300_000,
    ]  # fmt: skip


def test_what_waits_for_room_goes_into_what_a_pickup_emptied() -> None:
    """By hand: 20.2 L over the line of 18 L leave 2.2 L waiting, which stand in the emptied carboy on the next day."""
    fill = one_stream([carboy(6_400_000)], weekly(6), [pickup(date(2027, 3, 26))])
    last = fill.steps[-1]

    assert last.moved.likely == 18 * LITRE
    assert (last.likely.levels_ul, last.likely.over_ul, last.likely.room_ul) == (
        (2_200_000,),
        0,
        15_800_000,
    )


def test_the_next_container_takes_what_the_first_cannot() -> None:
    fill = one_stream([carboy(13_200_000), carboy(key=2, line_ul=9 * LITRE)], three_sections())

    assert fill.first_over is None
    assert fill.steps[-1].likely.levels_ul == (18 * LITRE, 1_700_000)
    full = fill.full_during(0)
    assert full is not None
    assert full.name == "section 3"
    assert fill.full_during(1) is None


def test_a_full_container_takes_no_more_until_a_pickup_brings_an_empty_one() -> None:
    friday = pickup(date(2027, 2, 19))
    fill = one_stream([carboy(12 * LITRE, is_taking=False), carboy(16 * LITRE, key=2)], weekly(2), [friday])

    assert fill.start.room_ul == 2 * LITRE
    assert [step.likely.over_ul for step in fill.steps] == [300_000, 0, 0]
    assert fill.steps[1].moved.likely == 30 * LITRE
    assert fill.steps[2].likely.levels_ul == (2_600_000, 0)


def test_a_collector_takes_whole_containers_oldest_first_of_all_streams() -> None:
    """By hand: at most 20 L; the first stream's carboy of 12 L is the oldest, the other stream's 9 L do not go with it any more."""
    friday = pickup(date(2027, 2, 19), most_ul=20 * LITRE)
    feeds = [
        Feed(1, (carboy(12 * LITRE, key=1), carboy(LITRE, key=3)), ()),
        Feed(2, (carboy(9 * LITRE, key=2),), ()),
    ]
    rinse, other = forecast(feeds, [friday], now=SEVEN)

    assert rinse.steps[-1].likely.levels_ul == (0, LITRE)
    assert other.steps[-1].likely.levels_ul == (9 * LITRE,)


def test_a_collector_takes_so_many_containers_and_no_empty_ones() -> None:
    friday = pickup(date(2027, 2, 19), most=2)
    containers = [carboy(key=1), carboy(LITRE, key=2), carboy(LITRE, key=3), carboy(LITRE, key=4)]

    assert one_stream(containers, (), [friday]).steps[-1].likely.levels_ul == (0, 0, 0, LITRE)


def test_only_what_is_on_the_request_is_taken() -> None:
    friday = pickup(date(2027, 2, 19))
    asked = PickupAhead(1, friday.day, friday.at, friday.request_by, is_requested=True, only=frozenset({2}))

    assert one_stream([carboy(LITRE), carboy(LITRE, key=2)], (), [asked]).steps[-1].likely.levels_ul == (
        LITRE,
        0,
    )


def test_a_container_over_its_line_takes_nothing_more() -> None:
    fill = one_stream([carboy(19 * LITRE)], weekly(1))

    assert (fill.start.room_ul, fill.steps[0].likely.levels_ul) == (0, (19 * LITRE,))
    assert fill.steps[0].likely.over_ul == 2_300_000


def test_the_only_container_stays_off_the_request_where_a_class_comes_before_the_pickup() -> None:
    """By hand: 10 L on Wednesday noon, 2 L on Thursday: the carboy can't be spared, and Friday's pickup takes nothing."""
    thursday = Addition("section", SEVEN + timedelta(days=2), 2 * LITRE)
    fill = one_stream([carboy(10 * LITRE)], (thursday,), [pickup(date(2027, 2, 19), requested=False)])

    assert likely(fill) == [12 * LITRE, 12 * LITRE]
    assert all(not step.asked for step in fill.steps)


def test_with_another_container_the_first_is_on_the_request_and_takes_no_more() -> None:
    thursday = Addition("section", SEVEN + timedelta(days=2), 2 * LITRE)
    friday = pickup(date(2027, 2, 19), requested=False)
    fill = one_stream([carboy(10 * LITRE), carboy(key=2, line_ul=9 * LITRE)], (thursday,), [friday])
    wednesday, class_, taken = fill.steps

    assert (wednesday.at, wednesday.asked, wednesday.likely.room_ul) == (
        friday.request_by,
        (1,),
        9 * LITRE,
    )
    assert class_.likely.levels_ul == (10 * LITRE, 2 * LITRE)
    assert class_.chance_over is None
    assert taken.likely.levels_ul == (0, 2 * LITRE)


def test_the_fuller_container_goes_and_the_one_with_the_most_room_stays() -> None:
    """By hand: 4 L may come; of carboys at 12, 16 and 17.5 L with a line of 18 L the first has room for them."""
    thursday = Addition("section", SEVEN + timedelta(days=2), 4 * LITRE)
    held = [carboy(12 * LITRE), carboy(16 * LITRE, key=2), carboy(17_500_000, key=3)]
    fill = one_stream(held, (thursday,), [pickup(date(2027, 2, 19), requested=False)])

    assert fill.steps[0].asked == (2, 3)
    assert fill.steps[-1].likely.levels_ul == (16 * LITRE, 0, 0)


def test_what_is_on_another_pickups_request_is_not_asked_for_again() -> None:
    friday = pickup(date(2027, 2, 19), requested=False)
    later = replace(pickup(date(2027, 2, 26), key=2), only=frozenset({1}))
    fill = one_stream([carboy(LITRE, is_taking=False), carboy(LITRE, key=2)], (), [friday, later])

    assert fill.steps[0].asked == (2,)
    assert [step.likely.levels_ul for step in fill.steps[1:]] == [(LITRE, 0), (0, 0)]


def test_what_a_collector_leaves_behind_takes_more_again() -> None:
    friday = pickup(date(2027, 2, 19), requested=False, most=0)
    fill = one_stream([carboy(LITRE)], (), [friday])

    assert [step.likely.room_ul for step in fill.steps] == [0, 17 * LITRE]


def test_rounds_kept_for_repeats_are_left_out_on_the_low_path_alone() -> None:
    fill = one_stream([carboy()], (Addition("section", SEVEN, 2 * LITRE, maybe_ul=500_000),))

    assert fill.steps[0].total_ul == Band(1_500_000, 2 * LITRE, 2 * LITRE)


def test_without_a_container_everything_waits() -> None:
    fill = one_stream([], weekly(1))

    assert fill.first_over is fill.steps[0]
    assert fill.steps[0].chance_over == 1


def test_after_a_pickup_that_leaves_more_behind_at_worst_no_chance_is_told() -> None:
    """The collector's 14 L are enough as expected, and at worst not."""
    friday = pickup(date(2027, 2, 19), most_ul=14 * LITRE)
    first, second = weekly(2)
    spread = Addition(first.name, first.starts_at, first.volume_ul, spread_ul=LITRE)
    fill = one_stream([carboy(11 * LITRE)], (spread, second), [friday])

    assert fill.steps[1].total_ul.likely == 0
    assert fill.steps[1].total_ul.high > 14 * LITRE
    assert fill.steps[2].chance_over is None


def test_the_days_say_what_comes_what_goes_and_which_request_is_due() -> None:
    friday = pickup(date(2027, 2, 19), requested=False)
    lost = pickup(date(2027, 2, 17), key=2, requested=False)
    fill = one_stream([carboy(6_400_000)], weekly(2), [friday, lost])
    days = days_of(fill, [friday, lost], first=TUESDAY, last=date(2027, 2, 23), zone=BERLIN)

    assert [day.day for day in days] == [TUESDAY + timedelta(days=number) for number in range(8)]
    assert [day.before_ul.likely for day in days] == [8_700_000] * 4 + [0] * 3 + [2_300_000]
    assert [day.after_ul.likely for day in days] == [8_700_000] * 3 + [0] * 4 + [2_300_000]
    assert [len(day.additions) for day in days] == [1, 0, 0, 0, 0, 0, 0, 1]
    assert [day.room_ul for day in days][:1] == [9_300_000]
    assert [day.pickups for day in days[1:4]] == [(lost,), (), (friday,)]
    assert days[1].cut_offs == (friday,)


def test_what_should_have_come_before_counts_on_the_first_day() -> None:
    fill = one_stream([carboy()], weekly(1))
    [day] = days_of(
        fill, [], first=TUESDAY + timedelta(days=1), last=TUESDAY + timedelta(days=1), zone=BERLIN
    )

    assert len(day.additions) == 1


@pytest.mark.parametrize("classes", [5, 12])
def test_nine_of_ten_terms_stay_inside_the_band(classes: int) -> None:
    """Against chance itself: terms of six classes drawn from a normal distribution, each with a history of its own from the same."""
    chance, inside, terms = Random(20270216), 0, 600
    for _term in range(terms):
        history = [chance.gauss(2 * LITRE, 400_000) for _class in range(classes)]
        mean = sum(history) / classes
        spread = int((sum((one - mean) ** 2 for one in history) / (classes - 1)) ** 0.5)
        coming = tuple(
            Addition("section", SEVEN + timedelta(days=day), int(mean), spread_ul=spread, shared_ul=int(spread / classes**0.5))
            for day in range(6)
        )  # fmt: skip
        [fill] = forecast([Feed(1, (carboy(line_ul=10**9),), coming, behind=classes)], [], now=SEVEN)
        came = sum(chance.gauss(2 * LITRE, 400_000) for _class in range(6))
        inside += fill.steps[-1].low.total_ul <= came <= fill.steps[-1].high.total_ul

    assert 0.86 <= inside / terms <= 0.94


VOLUMES = st.integers(0, 10**8)
ADDITIONS = st.lists(
    st.builds(
        lambda hours, volume, maybe, spread, shared: Addition(
            "poured",
            SEVEN + timedelta(hours=hours),
            volume,
            maybe_ul=min(maybe, volume),
            spread_ul=spread,
            shared_ul=shared,
        ),
        st.integers(0, 24 * 30),
        VOLUMES,
        VOLUMES,
        st.integers(0, 10**7),
        st.integers(0, 10**7),
    ),
    max_size=8,
).map(tuple)
CONTAINERS = st.lists(st.tuples(VOLUMES, st.integers(1, 10**8), st.booleans()), max_size=4)
PICKUPS = st.lists(
    st.tuples(st.integers(0, 30), st.booleans(), st.none() | VOLUMES, st.none() | st.integers(0, 3)),
    max_size=3,
).map(
    lambda found: [
        pickup(TUESDAY + timedelta(days=days), key=key, requested=requested, most_ul=most_ul, most=most)
        for key, (days, requested, most_ul, most) in enumerate(found)
    ]
)
FEEDS = st.lists(st.tuples(CONTAINERS, ADDITIONS), min_size=1, max_size=3).map(
    lambda found: [
        Feed(
            number,
            tuple(
                carboy(held, key=10 * number + index, line_ul=line, is_taking=taking)
                for index, (held, line, taking) in enumerate(containers)
            ),
            additions,
        )
        for number, (containers, additions) in enumerate(found)
    ]
)


def _paths(step: Step) -> tuple[tuple[int, int, int, tuple[int, ...]], ...]:
    moved = (step.moved.low, step.moved.likely, step.moved.high)
    states = (step.low, step.likely, step.high)
    return tuple(
        (volume, state.over_ul, state.taken_ul, state.levels_ul)
        for volume, state in zip(moved, states, strict=True)
    )


@given(FEEDS, PICKUPS)
def test_on_each_path_what_was_held_and_comes_is_held_taken_or_waits(
    feeds: list[Feed], pickups: list[PickupAhead]
) -> None:
    for fill in forecast(feeds, pickups, now=SEVEN):
        came = [sum(container.held_ul for container in fill.feed.containers)] * 3
        for step in fill.steps:
            for number, (moved, over, taken, levels) in enumerate(_paths(step)):
                came[number] += moved if step.addition else 0
                assert came[number] == sum(levels) + over + taken


def _comparable(feeds: list[Feed], pickups: list[PickupAhead]) -> list[Feed]:
    """Shelves on which more waste never means that less is left: where a collector's limit may leave a container behind, all take more."""
    if not any(one.most_ul is not None or one.most_containers is not None for one in pickups):
        return feeds
    return [
        replace(feed, containers=tuple(replace(one, is_taking=True) for one in feed.containers))
        for feed in feeds
    ]


@given(FEEDS, PICKUPS)
def test_the_band_is_in_order_and_no_container_rises_over_its_line(
    feeds: list[Feed], pickups: list[PickupAhead]
) -> None:
    for fill in forecast(feeds, pickups, now=SEVEN):
        for step in fill.steps:
            assert step.total_ul.low <= step.total_ul.likely <= step.total_ul.high
            assert step.over_ul.low <= step.over_ul.likely <= step.over_ul.high
            for index, container in enumerate(fill.feed.containers):
                for state in (step.low, step.likely, step.high):
                    assert state.levels_ul[index] <= max(container.held_ul, container.line_ul)


@given(FEEDS, PICKUPS)
def test_each_container_is_fuller_on_a_path_that_brings_more(
    feeds: list[Feed], pickups: list[PickupAhead]
) -> None:
    for fill in forecast(_comparable(feeds, pickups), pickups, now=SEVEN):
        for step in fill.steps:
            for index in range(len(fill.feed.containers)):
                levels = [state.levels_ul[index] for state in (step.low, step.likely, step.high)]
                assert levels == sorted(levels)
            assert step.low.over_ul <= step.likely.over_ul <= step.high.over_ul


def test_a_full_container_that_is_left_behind_at_worst_alone_keeps_the_band_in_order() -> None:
    """By hand: a full container of 1 µL and 2 µL waiting; at worst an older one has more than 1 µL, goes alone, and its place stays full."""
    feeds = [
        Feed(0, (carboy(1, key=0, line_ul=4),), (Addition("poured", SEVEN, 0, shared_ul=1),)),
        Feed(1, (carboy(1, key=10, line_ul=2, is_taking=False),), (Addition("poured", SEVEN, 2),)),
    ]
    last = forecast(feeds, [pickup(TUESDAY, most_ul=2)], now=SEVEN)[1].steps[-1]

    assert (last.likely.levels_ul, last.high.levels_ul) == ((2,), (1,))
    assert last.total_ul == Band(2, 2, 3)


@given(FEEDS)
def test_a_container_takes_only_when_those_before_it_are_at_their_line(feeds: list[Feed]) -> None:
    for fill in forecast(feeds, [], now=SEVEN):
        for step in fill.steps:
            for index, container in enumerate(fill.feed.containers):
                if step.likely.levels_ul[index] > container.held_ul:
                    before = zip(fill.feed.containers[:index], step.likely.levels_ul, strict=False)
                    assert all(level >= one.line_ul for one, level in before if one.is_taking)


@given(FEEDS, PICKUPS, ADDITIONS)
def test_more_waste_never_makes_it_hold_longer(
    feeds: list[Feed], pickups: list[PickupAhead], more: tuple[Addition, ...]
) -> None:
    feeds = _comparable(feeds, pickups)
    fuller = [replace(feeds[0], additions=feeds[0].additions + more), *feeds[1:]]
    before, after = forecast(feeds, pickups, now=SEVEN), forecast(fuller, pickups, now=SEVEN)

    for less, greater in zip(before, after, strict=True):
        for one, other in (
            (less.first_over, greater.first_over),
            (less.first_over_at_worst, greater.first_over_at_worst),
        ):
            if one is not None:
                assert other is not None
                assert other.at <= one.at


@given(FEEDS, PICKUPS, st.randoms(use_true_random=False))
def test_the_order_of_what_comes_at_one_moment_changes_no_total(
    feeds: list[Feed], pickups: list[PickupAhead], shuffle: Random
) -> None:
    at_once = [
        Feed(feed.key, feed.containers, tuple(Addition(f"{number}", SEVEN, one.volume_ul, spread_ul=one.spread_ul, shared_ul=one.shared_ul)
        for number, one in enumerate(feed.additions)))
        for feed in feeds
    ]  # fmt: skip
    names = [str(number) for number in range(8)]
    shuffle.shuffle(names)
    renamed = [
        Feed(feed.key, feed.containers, tuple(Addition(names[number], SEVEN, one.volume_ul, spread_ul=one.spread_ul, shared_ul=one.shared_ul)
        for number, one in enumerate(feed.additions)))
        for feed in feeds
    ]  # fmt: skip

    def ends(of: list[Feed]) -> list[tuple[Band, Band]]:
        return [
            (fill.steps[-1].total_ul, fill.steps[-1].over_ul)
            for fill in forecast(of, pickups, now=SEVEN)
            if fill.steps
        ]

    for (one_total, one_over), (other_total, other_over) in zip(ends(at_once), ends(renamed), strict=True):
        assert (one_total.likely, one_total.high) == (other_total.likely, other_total.high)
        assert (one_over.likely, one_over.high) == (other_over.likely, other_over.high)


@given(FEEDS, PICKUPS)
def test_a_chance_never_falls_before_the_next_pickup(feeds: list[Feed], pickups: list[PickupAhead]) -> None:
    for fill in forecast(feeds, pickups, now=SEVEN):
        last = 0.0
        for step in fill.steps:
            if step.chance_over is None:
                last = 0.0
            else:
                assert last <= step.chance_over <= 1
                last = step.chance_over
