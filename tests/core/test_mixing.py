"""Taking components from what stands on the shelf, filling up with water, and the end of what was mixed."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from server.core.mixing import Filled, Steps, Supply, end_of_batch, fill_up, take
from server.core.recipe import Basis, Component, Measure, Recipe

STEPS = Steps(balance_mg=10, graduate_ul=1_000)
PLENTY = 2_000_000_000


def test_a_hydrate_on_the_shelf_is_weighed_by_its_factor() -> None:
    """70 g of anhydrous sodium carbonate are 81.90 g of the monohydrate: molar masses 124.003 and 105.988."""
    monohydrate = Supply(PLENTY, Measure.MASS, Fraction("124.003") / Fraction("105.988"))

    taken = take(called_for=Fraction(70_000), supplies=[monohydrate], steps=STEPS)

    assert taken.amounts == (81_900,)
    assert not taken.off


def test_a_bottle_that_is_short_gives_all_it_has_and_the_next_the_rest() -> None:
    """House example, computed by hand: 300 mL, of which 123.4 mL stand in the first bottle."""
    first, second = Supply(123_400, Measure.VOLUME), Supply(PLENTY, Measure.VOLUME)

    taken = take(called_for=Fraction(300_000), supplies=[first, second], steps=STEPS)

    assert taken.amounts == (123_400, 177_000)
    assert not taken.off


def test_a_bottle_that_is_short_alone_is_off() -> None:
    taken = take(called_for=Fraction(300_000), supplies=[Supply(123_400, Measure.VOLUME)], steps=STEPS)

    assert taken.amounts == (123_400,)
    assert taken.off


def test_what_was_measured_stands_and_the_other_bottle_gives_the_rest() -> None:
    supplies = [Supply(PLENTY, Measure.MASS), Supply(PLENTY, Measure.MASS, measured=1_000)]

    assert take(called_for=Fraction(4_000), supplies=supplies, steps=STEPS).amounts == (3_000, 1_000)


def test_a_line_is_off_beyond_a_step_and_two_in_a_hundred() -> None:
    """Assumed bounds, written down in docs/sources.md: 4 g by a balance of 0.01 g may be 3.92 g to 4.08 g, 0.1 g 0.09 g to 0.11 g."""

    def off(called_for: int, measured: int) -> bool:
        supply = Supply(PLENTY, Measure.MASS, measured=measured)
        return take(called_for=Fraction(called_for), supplies=[supply], steps=STEPS).off

    assert [off(4_000, measured) for measured in (3_919, 3_920, 4_080, 4_081)] == [True, False, False, True]
    assert [off(100, measured) for measured in (89, 90, 110, 111)] == [True, False, False, True]


def test_what_the_graduate_can_not_tell_from_nothing_is_off() -> None:
    """House example: 100 mL by a graduate that reads to 500 mL come out as nothing, and a short bottle as too little."""
    coarse = Steps(graduate_ul=500_000)
    hundred, short = Supply(PLENTY, Measure.VOLUME), Supply(20_000, Measure.VOLUME)

    nothing = take(called_for=Fraction(100_000), supplies=[hundred], steps=coarse)
    little = take(called_for=Fraction(300_000), supplies=[short], steps=coarse)

    assert (nothing.amounts, nothing.off) == ((0,), True)
    assert (little.amounts, little.off) == ((20_000,), True)


@given(
    called_for=st.integers(1, 10_000_000),
    lefts=st.lists(st.integers(0, 5_000_000), min_size=1, max_size=3),
    factor=st.fractions(min_value=Fraction(1, 3), max_value=3),
    step=st.integers(1, 1_000),
)
def test_no_bottle_gives_more_than_it_holds_and_together_they_give_what_they_can(
    called_for: int, lefts: list[int], factor: Fraction, step: int
) -> None:
    supplies = [Supply(left, Measure.MASS, factor) for left in lefts]
    taken = take(called_for=Fraction(called_for), supplies=supplies, steps=Steps(balance_mg=step))

    assert all(0 <= amount <= left for amount, left in zip(taken.amounts, lefts, strict=True))
    possible = min(Fraction(called_for), sum(lefts) / factor)
    assert abs(taken.given - possible) <= step / factor


PARTS = Recipe((Component("stock A", 1, Measure.PART), Component("stock B", 1, Measure.PART)), 2, 0)
SALT = Component("salt", 100_000)


def test_parts_fill_the_volume_between_them() -> None:
    assert fill_up(PARTS, volume_ul=600_000, liquids_ul=595_000) == Filled(595_000, 0)


def test_what_is_made_up_is_filled_with_water_and_what_is_added_comes_on_top() -> None:
    """House example, computed by hand: 70 mL of acid in a litre, made up and added to."""
    made_up = Recipe((SALT,), 1_000_000, 700_000)
    added = Recipe((SALT,), 1_000_000, 0, Basis.ADDED_TO)

    assert fill_up(made_up, volume_ul=1_000_000, liquids_ul=70_000) == Filled(1_000_000, 930_000)
    assert fill_up(added, volume_ul=1_000_000, liquids_ul=70_000) == Filled(1_070_000, 1_000_000)


def test_liquids_that_are_more_than_the_volume_do_not_fit() -> None:
    assert fill_up(Recipe((SALT,), 1_000, 0), volume_ul=1_000, liquids_ul=1_001) is None


@given(
    st.sampled_from([PARTS, Recipe((SALT,), 1_000, 0), Recipe((SALT,), 1_000, 0, Basis.ADDED_TO)]),
    st.integers(1, 5_000_000),
    st.integers(0, 5_000_000),
)
def test_liquids_and_water_are_the_volume(recipe: Recipe, volume_ul: int, liquids_ul: int) -> None:
    filled = fill_up(recipe, volume_ul=volume_ul, liquids_ul=liquids_ul)

    assert filled is None or (filled.water_ul >= 0 and filled.volume_ul == liquids_ul + filled.water_ul)


def test_a_batch_ends_with_its_life_or_before_it_with_what_it_was_mixed_from() -> None:
    mixed_at = datetime(2027, 2, 16, 8, tzinfo=UTC)
    noon, night = mixed_at + timedelta(hours=4), mixed_at + timedelta(hours=15)

    assert end_of_batch(mixed_at=mixed_at, life_s=6 * 3600, ends_of_sources=[]) == mixed_at + timedelta(
        hours=6
    )
    assert end_of_batch(mixed_at=mixed_at, life_s=6 * 3600, ends_of_sources=[night, noon]) == noon
