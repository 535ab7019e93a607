"""Providing for a mixing. The two-part recipe is the published one of a student report (Stony Brook, 2003): metol 4 g and ascorbic acid
25 g a litre of A, sodium carbonate 70 g and sodium hydroxide 15 g a litre of B, mixed in equal parts.
"""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.provision import Held, all_made, all_short, provide
from server.core.recipe import Component, Measure, Recipe
from server.core.shelf import OnShelf

DAY = date(2027, 2, 16)
LITRE = 1_000_000
DEVELOPER = Recipe(
    (Component("stock A", 1, Measure.PART), Component("stock B", 1, Measure.PART)), volume_ul=2, start_ul=0
)
STOCK_A = Recipe((Component("metol", 4_000), Component("ascorbic acid", 25_000)), LITRE, 700_000)
STOCK_B = Recipe(
    (Component("sodium carbonate", 70_000, formula="Na2CO3"), Component("sodium hydroxide", 15_000)),
    LITRE,
    700_000,
)
RECIPES = {"stock a": STOCK_A, "stock b": STOCK_B}


def _held(name: str, amount: int, *, until: date | None = None, formula: str = "", key: str = "") -> Held:
    measure = Measure.VOLUME if name.casefold().startswith("stock") else Measure.MASS
    return Held(key or name, name, until, OnShelf(name, measure, amount, formula))


def test_eight_hundred_millilitres_take_four_hundred_of_each_stock_solution() -> None:
    provided, after = provide(
        DEVELOPER, "developer", volume_ul=800_000, held=[_held("stock A", LITRE), _held("Stock B", LITRE)],
        recipes={}, day=DAY,
    )  # fmt: skip

    assert [draw.amount for one in provided for draw in one.draws] == [400_000, 400_000]
    assert [one.content.amount for one in after] == [600_000, 600_000]
    assert (all_made(provided), all_short(provided)) == ((), ())


def test_what_runs_out_first_is_drawn_first_and_what_is_past_its_day_is_not() -> None:
    held = [
        _held("stock A", 300_000, key="late"),
        _held("stock A", 100_000, key="early", until=DAY),
        _held("stock A", LITRE, key="past", until=date(2027, 2, 15)),
        _held("stock B", LITRE),
    ]

    provided, _after = provide(DEVELOPER, "developer", volume_ul=600_000, held=held, recipes={}, day=DAY)

    assert [(draw.key, draw.amount) for draw in provided[0].draws] == [("early", 100_000), ("late", 200_000)]


def test_a_stock_solution_that_does_not_reach_is_made_from_powders() -> None:
    """By hand: of 400 mL A 150 are there, so 250 mL are made: metol 1 g, ascorbic acid 6.25 g; 400 mL B: carbonate 28 g, hydroxide 6 g."""
    powders = [
        _held(name, 100_000) for name in ("metol", "ascorbic acid", "sodium carbonate", "sodium hydroxide")
    ]

    provided, _after = provide(
        DEVELOPER,
        "developer",
        volume_ul=800_000,
        held=[_held("stock A", 150_000), *powders],
        recipes=RECIPES,
        day=DAY,
    )

    made = all_made(provided)
    assert [(one.name, one.volume_ul) for one in made] == [("stock A", 250_000), ("stock B", 400_000)]
    assert [draw.amount for one in made for part in one.parts for draw in part.draws] == [
        1_000,
        6_250,
        28_000,
        6_000,
    ]
    assert all_short(provided) == ()


def test_what_is_missing_is_told_with_what_it_goes_into() -> None:
    provided, _after = provide(
        DEVELOPER, "developer", volume_ul=800_000, held=[_held("metol", 600), _held("stock B", 100_000)],
        recipes={"stock a": STOCK_A}, day=DAY,
    )  # fmt: skip

    assert [(one.name, one.into, int(one.needed), int(one.short)) for one in all_short(provided)] == [
        ("metol", "stock A", 1_600, 1_000),
        ("ascorbic acid", "stock A", 10_000, 10_000),
        ("stock B", "developer", 400_000, 300_000),
    ]


def test_another_hydrate_on_the_shelf_is_drawn_by_its_own_mass() -> None:
    """Langford's practical factor for carbonate and its decahydrate is 2.7; exactly 2.6997: 70 g become 188.98 g."""
    held = [_held("washing soda", 500_000, formula="Na2CO3·10H2O"), _held("sodium hydroxide", 50_000)]

    provided, _after = provide(STOCK_B, "stock B", volume_ul=LITRE, held=held, recipes={}, day=DAY)

    assert provided[0].draws[0].amount == pytest.approx(188_980, abs=20)
    assert all_short(provided) == ()


def test_a_recipe_that_calls_for_itself_comes_to_an_end() -> None:
    circle = Recipe((Component("broth", 1, Measure.PART),), 1, 0)

    provided, _after = provide(circle, "broth", volume_ul=LITRE, held=[], recipes={"broth": circle}, day=DAY)

    assert len(all_short(provided)) == 1


@given(
    st.lists(
        st.tuples(st.sampled_from(["stock A", "stock B", "metol", "ascorbic acid"]), st.integers(0, 400_000))
    ),
    st.integers(1, 2_000_000),
)
def test_nothing_is_drawn_that_is_not_there_and_nothing_is_forgotten(
    shelf: list[tuple[str, int]], volume_ul: int
) -> None:
    held = [_held(name, amount, key=str(number)) for number, (name, amount) in enumerate(shelf)]

    provided, after = provide(
        DEVELOPER, "developer", volume_ul=volume_ul, held=held, recipes={"stock a": STOCK_A}, day=DAY
    )

    left = {one.key: one.content.amount for one in after}
    drawn: dict[str, int] = {}
    every = [*provided, *(part for made in all_made(provided) for part in made.parts)]
    for one in every:
        for draw in one.draws:
            drawn[draw.key] = drawn.get(draw.key, 0) + draw.amount
        given = sum((Fraction(draw.amount) for draw in one.draws), Fraction())
        made_ul = one.made.volume_ul if one.made else 0
        assert given + made_ul + one.short >= one.needed
        assert given + one.short < one.needed + len(one.draws) + 1
    assert all(left[one.key] + drawn.get(one.key, 0) == one.content.amount for one in held)
    assert all(amount >= 0 for amount in left.values())
