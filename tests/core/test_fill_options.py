"""What to do where a stream will not hold: the worked examples of a teaching lab, and that each way out does what is said of it."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

from hypothesis import given

from server.core.fill_forecast import Feed, PickupAhead
from server.core.fill_options import (
    KeepCharge,
    Shelf,
    UsualNotice,
    book_earlier,
    empty_earlier,
    keep_charge,
    more_on_request,
    requests,
    set_out,
    size_for,
    still_baths,
)
from server.core.rinse_history import assumed_rinse
from server.core.waste_forecast import (
    Addition,
    InTray,
    PlatesAhead,
    charge_additions,
    rinse_additions,
    tray_additions,
    with_tests,
)
from tests.core.test_fill_forecast import (
    BERLIN,
    FEEDS,
    LITRE,
    PICKUPS,
    SEVEN,
    TUESDAY,
    carboy,
    pickup,
    three_sections,
    weekly,
)

RINSE = assumed_rinse(166_667)
WEDNESDAY_NOON = UsualNotice(2, time(12))


def shelf_of(
    held_ul: int, additions: tuple[Addition, ...], *pickups: PickupAhead, now: datetime = SEVEN
) -> Shelf:
    return Shelf((Feed(1, (carboy(held_ul),), additions),), pickups, now)


def sections() -> tuple[PlatesAhead, ...]:
    sections = [
        PlatesAhead(f"section {hour}", TUESDAY, SEVEN.replace(hour=hour), SEVEN.replace(hour=hour, minute=50), 12, frozenset({"S1", "S2", "S3"}))
        for hour in (8, 10, 13)
    ]  # fmt: skip
    return with_tests(sections, test_plates_per_station=1)


def test_the_third_section_needs_a_second_carboy_before_two_oclock() -> None:
    """13.2 + 6.5 = 19.7 L: 1.7 L find no room; a container of 2 L has its line at 1.8 L."""
    shelf = shelf_of(13_200_000, three_sections())
    found = set_out(shelf, 0)

    assert found is not None
    assert found.room_ul == 1_700_000
    assert found.room_at_worst_ul > found.room_ul
    assert found.size_ul == size_for(found.room_at_worst_ul)
    lower = set_out(replace(shelf, fill_percent=Decimal(45)), 0)
    assert lower is not None
    assert lower.size_ul == size_for(2 * found.room_at_worst_ul)
    assert found.before == datetime(2027, 2, 16, 13, tzinfo=UTC)
    assert found.before_at_worst == datetime(2027, 2, 16, 10, tzinfo=UTC)
    assert found.fill.first_over_at_worst is None
    assert found.fill.steps[-1].likely.levels_ul == (18 * LITRE, 1_700_000)


def test_or_a_pickup_before_it_which_no_day_is_left_for() -> None:
    found = book_earlier(shelf_of(13_200_000, three_sections()), 0, notice=WEDNESDAY_NOON, zone=BERLIN)

    assert found is not None
    assert (found.before.hour, found.on_day, found.request_by) == (13, None, None)
    assert found.fill.first_over is None


def test_or_still_baths_changed_after_ten_plates() -> None:
    """By hand: room for 4.8 L and 39 plates; at 8 plates a litre 4.875 L, at 10 plates a litre 3.9 L, which saves 2.6 of 6.5 L."""
    found = still_baths(shelf_of(13_200_000, three_sections()), 0, ahead=sections(), rinse=RINSE)

    assert found is not None
    assert (found.bath_ul, found.plates, found.rinse_ul_per_plate) == (LITRE, 10, 100_000)
    assert found.saves_ul == 2_600_000
    assert found.fill.first_over is None
    assert [step.total_ul.likely for step in found.fill.steps] == [
        13_500_000, 14_700_000, 15_900_000, 17_100_000,
    ]  # fmt: skip


def test_the_most_sparing_baths_are_told_where_none_is_enough() -> None:
    """By hand: 39 plates at 12 a litre are 3.25 L, and 1 L is left."""
    found = still_baths(shelf_of(17 * LITRE, three_sections()), 0, ahead=sections(), rinse=RINSE)

    assert found is not None
    assert found.plates == 12
    assert found.fill.first_over is not None


def test_a_lab_that_rinses_as_sparingly_is_not_told_to() -> None:
    sparing = assumed_rinse(80_000)
    ahead = sections()
    shelf = shelf_of(17 * LITRE, rinse_additions(ahead, rinse=sparing, now=SEVEN))

    assert shelf.fill(0).first_over is not None
    assert still_baths(shelf, 0, ahead=ahead, rinse=sparing) is None


def test_the_friday_before_the_sixth_section_must_be_requested_by_wednesday_noon() -> None:
    """6.4 L and 2.3 L a week: without that Friday the sixth section makes 20.2 L over 18.0."""
    friday = pickup(date(2027, 3, 19), requested=False)
    [found] = requests(shelf_of(6_400_000, weekly(6), friday), 0)

    assert found.pickup.request_by == datetime(2027, 3, 17, 11, tzinfo=UTC)
    assert found.without.first_over is not None
    assert found.without.first_over.total_ul.likely == 20_200_000
    assert requests(shelf_of(6_400_000, weekly(5), friday), 0) == ()
    assert requests(shelf_of(6_400_000, weekly(6), replace(friday, is_requested=True)), 0) == ()


def test_without_a_pickup_the_sixth_week_asks_for_one_on_the_monday_before_or_a_second_carboy() -> None:
    """By hand: 20.2 L, 2.2 L over; by the lab's usual notice a Monday's pickup is asked for on the Friday before, for two days before it is a Saturday."""
    shelf = shelf_of(6_400_000, weekly(6))
    pickup_found = book_earlier(shelf, 0, notice=WEDNESDAY_NOON, zone=BERLIN)
    carboy_found = set_out(shelf, 0)

    assert pickup_found is not None
    assert pickup_found.on_day == date(2027, 3, 22)
    assert pickup_found.request_by == datetime(2027, 3, 19, 11, tzinfo=UTC)
    assert not pickup_found.is_too_late
    assert pickup_found.fill.steps[-1].total_ul.likely == 2_300_000
    assert carboy_found is not None
    assert carboy_found.room_ul == 2_200_000
    assert carboy_found.size_ul == 2_500_000
    assert carboy_found.before == datetime(2027, 3, 23, 8, tzinfo=UTC)


def test_a_pickup_comes_on_the_friday_before_a_monday_and_may_be_too_late_to_ask_for() -> None:
    monday = Addition("section", datetime(2027, 2, 22, 8, tzinfo=UTC), 2 * LITRE)
    thursday_morning = datetime(2027, 2, 18, 7, tzinfo=UTC)
    found = book_earlier(
        shelf_of(17 * LITRE, (monday,), now=thursday_morning), 0, notice=WEDNESDAY_NOON, zone=BERLIN
    )

    assert found is not None
    assert found.on_day == date(2027, 2, 19)
    assert found.is_too_late


def test_what_has_no_room_now_is_not_helped_by_a_pickup_to_come() -> None:
    now = Addition("rest", SEVEN, LITRE)

    assert book_earlier(shelf_of(18 * LITRE, (now,)), 0, notice=None, zone=BERLIN) is None


def test_a_container_that_is_missing_on_a_request_can_still_be_put_on_it() -> None:
    friday = replace(pickup(date(2027, 3, 19)), only=frozenset({99}))
    [found] = more_on_request(shelf_of(6_400_000, weekly(6), friday), 0)

    assert found.pickup == friday
    assert found.fill.first_over is None
    late = friday.request_by + timedelta(minutes=1)
    assert more_on_request(shelf_of(15_600_000, weekly(6)[4:], friday, now=late), 0) == ()


def _kept(trays: Sequence[InTray], *, plates: int = 12) -> KeepCharge | None:
    ahead = (
        PlatesAhead("morning", TUESDAY, SEVEN.replace(hour=8), SEVEN.replace(hour=9), plates),
        PlatesAhead("noon", TUESDAY, SEVEN.replace(hour=11), SEVEN.replace(hour=12), plates),
    )

    def additions(classes: Sequence[PlatesAhead], standing: Sequence[InTray]) -> Sequence[Addition]:
        return [
            *tray_additions(standing, classes, now=SEVEN),
            *charge_additions(classes, charge_ul=200_000, plates_per_charge=12, now=SEVEN),
        ]

    shelf = Shelf((Feed(1, (carboy(17_500_000),), tuple(additions(ahead, trays))),), (), SEVEN)
    return keep_charge(shelf, 0, ahead=ahead, trays=trays, plates_per_charge=12, additions=additions)


def test_a_charge_that_lives_and_has_room_serves_the_next_class() -> None:
    """By hand: 17.5 L and three charges of 200 mL are 18.1 L; one less is 17.9 L."""
    found = _kept([InTray("tray 1", 200_000, SEVEN.replace(hour=9), 12)])

    assert found is not None
    assert (found.plates, found.saves_ul, found.until.name) == (12, 200_000, "morning")
    assert found.fill.first_over is None
    assert found.fill.steps[-1].total_ul.likely == 17_900_000


def test_a_charge_that_dies_in_the_class_or_serves_too_few_plates_is_not_kept() -> None:
    assert _kept([InTray("tray 1", 200_000, SEVEN.replace(hour=8, minute=59), 12)]) is None
    assert _kept([InTray("tray 1", 200_000, SEVEN.replace(hour=14), 5)]) is None


def test_a_rest_that_nobody_needs_goes_with_the_pickup_that_comes_first() -> None:
    """By hand: after Friday's pickup, 17.5 L and a rest of 1 L would be 18.5 L; poured out before, it goes with it."""
    friday = pickup(date(2027, 2, 19))
    rest = Addition("rest of batch 3", SEVEN + timedelta(days=10), LITRE, is_spare=True)
    bulk = Addition("section", SEVEN + timedelta(days=8), 17_500_000)
    shelf = shelf_of(0, (rest, bulk), friday)
    found = empty_earlier(shelf, 0)

    assert shelf.fill(0).first_over is not None
    assert found is not None
    assert (found.additions, found.pickup) == ((rest,), friday)
    assert found.fill.first_over is None
    assert empty_earlier(shelf_of(0, (replace(rest, is_spare=False), bulk), friday), 0) is None


@given(FEEDS, PICKUPS)
def test_a_container_of_the_size_that_is_told_holds_everything_that_is_to_come(
    feeds: list[Feed], pickups: list[PickupAhead]
) -> None:
    shelf = Shelf(tuple(feeds), tuple(pickups), SEVEN)
    for number in range(len(feeds)):
        found = set_out(shelf, number)
        if found is None:
            assert shelf.fill(number).first_over_at_worst is None
        else:
            assert found.room_ul <= found.room_at_worst_ul <= found.size_ul
            assert found.fill.first_over_at_worst is None


@given(FEEDS, PICKUPS)
def test_a_request_is_only_asked_for_where_the_stream_fails_without_it(
    feeds: list[Feed], pickups: list[PickupAhead]
) -> None:
    shelf = Shelf(tuple(feeds), tuple(pickups), SEVEN)
    for number in range(len(feeds)):
        for found in requests(shelf, number):
            assert found.without.first_over_at_worst is not None
            assert not found.pickup.is_requested
