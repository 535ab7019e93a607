"""The shelf against the classes ahead. The worked numbers are house examples computed by hand.

The reference follows every box and every plate by itself; the expiry and order rules are checked against it.
"""

from datetime import date, timedelta
from fractions import Fraction
from functools import cache

from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from server.core.reserve import PlateUse, fewest_plates, plates_by_day
from server.core.supply import (
    Delivery,
    Lot,
    Use,
    days_of_classes,
    needs_by_day,
    order,
    standings,
)

START = date(2027, 3, 1)
EIGHT_TENTHS, NINE_TENTHS = Fraction(8, 10), Fraction(9, 10)

days_after = st.integers(0, 20)
lots = st.lists(
    st.builds(
        Lot,
        st.integers(0, 6),
        st.none() | days_after.map(lambda days: START + timedelta(days=days)),
    ),
    max_size=3,
)


def _days(numbers: list[int]) -> list[date]:
    return [START + timedelta(days=days) for days in sorted(set(numbers))]


@st.composite
def volume_uses(draw: st.DrawFn) -> list[Use]:
    return [Use(day, draw(st.integers(0, 9))) for day in _days(draw(st.lists(days_after, max_size=5)))]


@st.composite
def plate_uses(draw: st.DrawFn) -> list[PlateUse]:
    count = st.integers(0, 2)
    return [
        PlateUse(day, draw(count), draw(count), draw(count))
        for day in _days(draw(st.lists(days_after, min_size=1, max_size=3)))
    ]


def _taken(shelf: tuple[tuple[int, date], ...], day: date) -> tuple[tuple[int, date], ...] | None:
    """The shelf without one piece of what expires first among what may be used on the day; None where there is none."""
    usable = [number for number, (amount, last) in enumerate(shelf) if amount and last >= day]
    if not usable:
        return None
    first = min(usable, key=lambda number: shelf[number][1])
    return tuple((amount - (number == first), last) for number, (amount, last) in enumerate(shelf))


def _holds(shelf: list[Lot], uses: list[Use]) -> bool:
    """Piece by piece, whether the shelf has all that the uses take."""
    left: tuple[tuple[int, date], ...] | None = tuple((lot.amount, lot.last_day or date.max) for lot in shelf)
    for use in uses:
        for _piece in range(use.amount):
            if left is not None:
                left = _taken(left, use.day)
    return left is not None


def _chance(shelf: list[Lot], uses: list[PlateUse], share: Fraction) -> Fraction:
    """The chance that all good plates and all tests of the uses come out of the shelf, by following each plate's two fates."""
    wants = tuple((use.day, kind) for use in uses for kind in ["test"] * use.tests + ["good"] * use.good)

    @cache
    def chance(left: tuple[tuple[int, date], ...], met: int) -> Fraction:
        if met == len(wants):
            return Fraction(1)
        day, kind = wants[met]
        after = _taken(left, day)
        if after is None:
            return Fraction(0)
        if kind == "test":
            return chance(after, met + 1)
        return share * chance(after, met + 1) + (1 - share) * chance(after, met)

    return chance(tuple((lot.amount, lot.last_day or date.max) for lot in shelf), 0)


def test_the_term_s_order_of_the_house_example() -> None:
    """By hand: 36 good ones need 49 plates; with two test days of 3 and a trial of 4 that is 59, two boxes of 30 and one plate left."""
    plan = [
        PlateUse(START, good=0, tests=4),
        PlateUse(START + timedelta(days=7), good=18, tests=3),
        PlateUse(START + timedelta(days=9), good=18, tests=3),
    ]
    for share, confidence, plates, boxes in (
        (EIGHT_TENTHS, NINE_TENTHS, 59, 2),
        (EIGHT_TENTHS, Fraction(95, 100), 61, 3),
        (NINE_TENTHS, NINE_TENTHS, 53, 2),
    ):
        needs = plates_by_day([], plan, share=share, confidence=confidence)
        ordered = order(standings(needs, lots=[]), pack=30, lead_days=42, today=date(2027, 1, 4))
        good = plates - 10

        assert needs[-1].needed == plates
        assert binom.sf(35, good, float(share)) >= confidence > binom.sf(35, good - 1, float(share))
        assert ordered is not None
        assert (ordered.missing, ordered.packs) == (plates, boxes)


def test_a_box_that_expires_before_the_class_cannot_count_for_it() -> None:
    """By hand: the box is good until 31 March; the class of 14 April finds none of its plates, a test of 30 March does."""
    box = [Lot(30, date(2027, 3, 31))]
    test_day, class_day = date(2027, 3, 30), date(2027, 4, 14)

    needs = needs_by_day(box, [Use(test_day, 4), Use(class_day, 12)])
    days = standings(needs, lots=box)

    assert [(one.left, one.short) for one in days] == [(26, 0), (0, 12)]
    assert needs[-1].spoiled == 26


def test_one_shared_box_takes_fewer_plates_than_a_box_a_section() -> None:
    """By hand: three sections of nine need 38 together, against 45 with 15 each to be as sure of all of them."""
    uses = [PlateUse(START + timedelta(days=day), good=9) for day in range(3)]

    needs = plates_by_day([], uses, share=EIGHT_TENTHS, confidence=NINE_TENTHS)

    assert [need.needed for need in needs] == [13, 26, 38]
    assert 3 * fewest_plates(good=9, share=EIGHT_TENTHS, confidence=NINE_TENTHS, classes=3) == 45


def test_a_long_term_with_many_plates_is_that_of_the_reference_library() -> None:
    """Sixty days of 36 good plates and 3 tests, against scipy's binomial distribution."""
    uses = [PlateUse(START + timedelta(days=day), good=36, tests=3) for day in range(60)]

    good = plates_by_day([], uses, share=EIGHT_TENTHS, confidence=NINE_TENTHS)[-1].needed - 60 * 3

    assert binom.sf(60 * 36 - 1, good, 0.8) >= 0.9 > binom.sf(60 * 36 - 1, good - 1, 0.8)


def test_rounds_kept_for_repeats_are_part_of_the_reserve() -> None:
    """By hand: 27 plates and 9 kept rounds are 36; to be sure of 27 good ones takes 38, so 2 more are in reserve."""
    (need,) = plates_by_day(
        [], [PlateUse(START, good=27, tests=3, repeats=9)], share=EIGHT_TENTHS, confidence=NINE_TENTHS
    )

    assert (need.planned, need.reserve, need.needed) == (39, 2, 41)


def test_what_to_order_and_when() -> None:
    """By hand: short from 12 April on; with 14 days of delivery and a day in hand it is to be ordered by 28 March."""
    days = standings(
        needs_by_day([Lot(20)], [Use(date(2027, 4, 5), 12), Use(date(2027, 4, 12), 12)]), lots=[Lot(20)]
    )

    in_time = order(days, pack=30, lead_days=14, today=date(2027, 3, 28))
    late = order(days, pack=30, lead_days=14, today=date(2027, 3, 29))

    assert in_time is not None
    assert late is not None
    assert (in_time.first_short, in_time.missing, in_time.packs) == (date(2027, 4, 12), 4, 1)
    assert in_time.order_by == late.order_by == date(2027, 3, 28)
    assert (in_time.is_too_late, late.is_too_late) == (False, True)
    assert (late.short_until_then, late.arrives_on) == (4, date(2027, 4, 12))


def test_nothing_is_to_be_ordered_where_every_day_holds() -> None:
    days = standings(needs_by_day([Lot(24)], [Use(START, 24)]), lots=[Lot(24)])

    assert order(days, pack=30, lead_days=14, today=START) is None


def test_a_delivery_counts_from_the_day_after_it() -> None:
    coming = [Delivery(START, 30)]
    uses = [Use(START, 5), Use(START + timedelta(days=1), 5)]

    days = standings(needs_by_day([], uses), lots=[], deliveries=coming)

    assert [(one.short, one.left) for one in days] == [(5, 0), (0, 20)]


def test_a_class_that_meets_again_and_again_meets_on_its_last_day_too() -> None:
    assert days_of_classes(START, START + timedelta(days=14), 7)[-1] == START + timedelta(days=14)
    assert days_of_classes(START, START, 7) == (START,)


@given(lots, volume_uses())
def test_the_line_of_lots_holds_what_every_box_by_itself_holds(shelf: list[Lot], uses: list[Use]) -> None:
    days = standings(needs_by_day(shelf, uses), lots=shelf)

    for number, day in enumerate(days):
        assert (day.short == 0) is _holds(shelf, uses[: number + 1])
        assert min(day.left, day.short) == 0 <= max(day.left, day.short)


@given(
    lots,
    plate_uses(),
    st.fractions(Fraction(1, 5), 1, max_denominator=9),
    st.sampled_from((NINE_TENTHS, Fraction(1, 2))),
)
def test_so_many_plates_are_enough_with_the_confidence_asked_and_one_fewer_is_not(
    shelf: list[Lot], uses: list[PlateUse], share: Fraction, confidence: Fraction
) -> None:
    """Against each plate's two fates: the shelf with what is missing put to it, and with one plate fewer."""
    planned = [Use(use.day, use.planned) for use in uses]
    days = standings(plates_by_day(shelf, uses, share=share, confidence=confidence), lots=shelf)
    missing = max(day.short for day in days)

    def enough(more: int) -> bool:
        fuller = [*shelf, Lot(more)]
        return _chance(fuller, uses, share) >= confidence and _holds(fuller, planned)

    assert enough(missing)
    assert missing == 0 or not enough(missing - 1)


@given(lots, plate_uses(), st.fractions(Fraction(1, 5), 1, max_denominator=9))
def test_the_need_never_falls_and_never_undercuts_the_plan(
    shelf: list[Lot], uses: list[PlateUse], share: Fraction
) -> None:
    needs = plates_by_day(shelf, uses, share=share, confidence=NINE_TENTHS)

    assert [need.needed for need in needs] == sorted(need.needed for need in needs)
    assert all(min(need.reserve, need.spoiled, need.planned) >= 0 for need in needs)


@given(lots, volume_uses(), st.integers(1, 30), st.integers(0, 60), days_after)
def test_what_is_ordered_in_time_makes_every_day_hold_and_a_pack_fewer_does_not(
    shelf: list[Lot], uses: list[Use], pack: int, lead_days: int, today_after: int
) -> None:
    today = START - timedelta(days=30) + timedelta(days=today_after)
    needs = needs_by_day(shelf, uses)
    ordered = order(standings(needs, lots=shelf), pack=pack, lead_days=lead_days, today=today)
    if ordered is None:
        assert _holds(shelf, uses)
        return

    def short(packs: int, ordered_on: date) -> list[date]:
        arrives = [Delivery(ordered_on + timedelta(days=lead_days), packs * pack)]
        return [day.day for day in standings(needs, lots=shelf, deliveries=arrives) if day.short]

    assert ordered.order_by + timedelta(days=lead_days) < ordered.first_short
    assert short(ordered.packs, ordered.order_by) == []
    assert short(ordered.packs - 1, ordered.order_by) != []
    assert short(ordered.packs, ordered.order_by + timedelta(days=1)) != []
    assert ordered.is_too_late is (ordered.order_by < today)
    assert ordered.is_too_late is bool(short(ordered.packs, today))
