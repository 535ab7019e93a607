"""Scaling, weighing out and mixing recipes, against published formulas and hand calculations."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.recipe import (
    Basis,
    Component,
    Form,
    Measure,
    Recipe,
    concentrations,
    largest_volume_ul,
    mixed,
    parts_of,
    parts_words,
    share_out,
    strength_words,
    to_step,
    weigh_out,
)

ML, LITRE, GRAM = 1000, 1_000_000, 1000

# Source: a student report of Stony Brook's laser teaching center (2003): per litre; 700 mL of water first, made up to 1000 mL. The
# carbonate is taken to be without water, which the report does not say.
STOCK_A = Recipe(
    (Component("metol", 4 * GRAM), Component("ascorbic acid", 25 * GRAM, formula="C6H8O6")), LITRE, 700 * ML
)
STOCK_B = Recipe(
    (
        Component("sodium carbonate", 70 * GRAM, formula="Na2CO3"),
        Component("sodium hydroxide", 15 * GRAM, formula="NaOH"),
    ),
    LITRE,
    700 * ML,
)
BLEACH = Recipe(
    (
        Component("copper sulfate", 35 * GRAM, formula="CuSO4·5H2O"),
        Component("potassium bromide", 100 * GRAM, formula="KBr"),
        Component("sodium bisulfate", 5 * GRAM, formula="NaHSO4"),
    ),
    LITRE,
    700 * ML,
)
# Source: holographyforum.org, Rehalogenating Bleach (J. Blyth): per litre.
IRON_BLEACH = Recipe(
    (
        Component("sodium ferric EDTA", 40 * GRAM),
        Component("potassium bromide", 60 * GRAM),
        Component("acetic acid", 70 * ML, Measure.VOLUME),
    ),
    LITRE,
    700 * ML,
)

RECIPES = st.builds(
    Recipe,
    st.lists(st.integers(1, 200 * GRAM), min_size=1, max_size=5).map(
        lambda amounts: tuple(Component(f"c{number}", amount) for number, amount in enumerate(amounts))
    ),
    st.integers(100 * ML, 5 * LITRE),
    st.integers(0, 100 * ML),
)


def _grams(recipe: Recipe, volume_ul: int) -> list[float]:
    lines = weigh_out(recipe, volume_ul=volume_ul, balance_step_mg=1, graduate_step_ul=1).lines
    return [float(line.exact) / GRAM for line in lines]


def test_a_quarter_litre_of_working_developer_is_weighed_out() -> None:
    """Hand calculation: 125 mL of each: 0.5 g metol and 3.125 g ascorbic acid; 8.75 g carbonate and 1.875 g hydroxide."""
    stock_a, stock_b = share_out(volume_ul=250 * ML, parts=parts_of("1+1"))

    assert (stock_a, stock_b) == (125 * ML, 125 * ML)
    assert _grams(STOCK_A, stock_a) == [0.5, 3.125]
    assert _grams(STOCK_B, stock_b) == [8.75, 1.875]


def test_mixing_halves_every_concentration() -> None:
    """Hand calculation: 4, 25, 70 and 15 g/L in the stock solutions are 2, 12.5, 35 and 7.5 g/L mixed 1+1."""
    working = mixed([(concentrations(STOCK_A), 1), (concentrations(STOCK_B), 1)])

    assert [strength_words(strength) for strength in working.values()] == [
        "2 g/L",
        "12.5 g/L",
        "35 g/L",
        "7.5 g/L",
    ]


def test_six_hundred_millilitres_of_bleach_are_weighed_out() -> None:
    assert _grams(BLEACH, 600 * ML) == [21, 60, 3]


def test_a_liquid_is_measured_by_the_graduate() -> None:
    """Hand calculation: 2.5 L take 100 g, 150 g and 175 mL."""
    lines = weigh_out(IRON_BLEACH, volume_ul=2500 * ML, balance_step_mg=100, graduate_step_ul=5 * ML).lines

    assert [line.rounded for line in lines] == [100 * GRAM, 150 * GRAM, 175 * ML]
    assert lines[2].measure == Measure.VOLUME


def test_a_concentrate_is_made_up_to_and_not_added_to_its_volume() -> None:
    """Source: holography.ru, lesson 10: 15 mL made up to 400 mL. For 150 mL that is 5.625 mL, with 144.375 mL of water."""
    concentrate = Recipe((Component("concentrate", 15 * ML, Measure.VOLUME),), 400 * ML, 0)
    made = weigh_out(concentrate, volume_ul=150 * ML, balance_step_mg=1, graduate_step_ul=1)

    assert made.lines[0].exact == 5625
    assert made.make_up_to_ul == 150 * ML
    assert made.make_up_to_ul - made.lines[0].exact == 144_375


def test_what_is_added_to_water_is_not_made_up() -> None:
    """One ounce dissolved in ten is another strength than one ounce made up to ten: the recipe says which."""
    added = Recipe((Component("potassium bromide", 100 * GRAM),), LITRE, 0, Basis.ADDED_TO)
    made = weigh_out(added, volume_ul=500 * ML, balance_step_mg=1, graduate_step_ul=1)

    assert (made.start_ul, made.make_up_to_ul) == (500 * ML, None)


def test_the_water_to_begin_with_is_scaled_and_rounded_to_the_graduate() -> None:
    made = weigh_out(STOCK_A, volume_ul=333 * ML, balance_step_mg=10, graduate_step_ul=10 * ML)

    assert made.start_ul == 230 * ML
    assert made.make_up_to_ul == 333 * ML


@pytest.mark.parametrize(
    ("formula", "grams"), [("Na2CO3", 70), ("Na2CO3·H2O", 81.90), ("Na2CO3·10H2O", 188.98)]
)
def test_another_hydrate_on_the_shelf_is_weighed_by_its_molar_mass(formula: str, grams: float) -> None:
    """Hand calculation from IUPAC's abridged atomic weights: 70 g × 124.003 / 105.988 and 70 g × 286.138 / 105.988."""
    line = weigh_out(
        STOCK_B,
        volume_ul=LITRE,
        shelf={"sodium carbonate": Form(formula)},
        balance_step_mg=1,
        graduate_step_ul=1,
    ).lines[0]

    assert float(line.exact) / GRAM == pytest.approx(grams, abs=0.01)


def test_less_than_pure_pellets_are_weighed_more() -> None:
    line = weigh_out(
        STOCK_B,
        volume_ul=LITRE,
        shelf={"sodium hydroxide": Form("NaOH", Fraction(97, 100))},
        balance_step_mg=1,
        graduate_step_ul=1,
    ).lines[1]

    assert line.exact == Fraction(15 * GRAM * 100, 97)
    assert line.factor == Fraction(100, 97)


def test_another_salt_on_the_shelf_is_refused() -> None:
    with pytest.raises(ValueError, match="not another form of Na2CO3"):
        weigh_out(
            STOCK_B,
            volume_ul=LITRE,
            shelf={"sodium carbonate": Form("NaHCO3")},
            balance_step_mg=1,
            graduate_step_ul=1,
        )


def test_rounding_to_the_balance_shows_what_it_costs() -> None:
    """Hand calculation: 0.5 g on a balance of 0.2 g steps becomes 0.6 g, a fifth too much."""
    line = weigh_out(STOCK_A, volume_ul=125 * ML, balance_step_mg=200, graduate_step_ul=ML).lines[0]

    assert (line.rounded, line.error) == (600, Fraction(1, 5))


@pytest.mark.parametrize(
    ("exact", "step", "rounded"), [("0.49", 1, 0), ("0.5", 1, 1), ("149", 100, 100), ("150", 100, 200)]
)
def test_halves_of_a_step_go_up(exact: str, step: int, rounded: int) -> None:
    assert to_step(Fraction(exact), step) == rounded


def test_the_component_that_runs_out_first_limits_the_volume() -> None:
    """Hand calculation: 40 g of carbonate make 571 mL and 6 g of hydroxide 400 mL."""
    assert largest_volume_ul(STOCK_B, {"sodium carbonate": 40 * GRAM, "sodium hydroxide": 6 * GRAM}) == (
        400 * ML,
        "sodium hydroxide",
    )
    assert largest_volume_ul(STOCK_B, {"sodium carbonate": 40 * GRAM}) == (0, "sodium hydroxide")


@pytest.mark.parametrize(
    ("text", "parts"), [("1+1", (1, 1)), (" 1 + 3 ", (1, 3)), ("3+8", (3, 8)), ("1+1+2", (1, 1, 2))]
)
def test_parts_are_written_as_a_sum(text: str, parts: tuple[int, ...]) -> None:
    assert parts_of(text) == parts
    assert parts_of(parts_words(parts)) == parts


def test_a_ratio_is_asked_back() -> None:
    with pytest.raises(ValueError, match=r"Please write 1\+4 \(5 parts in all\) or 1\+3 \(1 part in 4\)"):
        parts_of("1:4")


@pytest.mark.parametrize("text", ["", "one to one", "1", "1+", "0+1", "1+101", "1-1", "1+1:2"])
def test_what_is_no_mixture_gets_a_sentence(text: str) -> None:
    with pytest.raises(ValueError, match="Please write"):
        parts_of(text)


@given(st.integers(0, 10 * LITRE), st.lists(st.integers(1, 100), min_size=1, max_size=4))
def test_shares_add_up_to_the_microlitre(volume_ul: int, parts: list[int]) -> None:
    shares = share_out(volume_ul=volume_ul, parts=parts)

    assert sum(shares) == volume_ul
    for share, part in zip(shares, parts, strict=True):
        assert abs(share - Fraction(volume_ul * part, sum(parts))) < len(parts)


@given(RECIPES, st.integers(1, 20 * LITRE))
def test_a_scaled_recipe_keeps_its_concentrations(recipe: Recipe, volume_ul: int) -> None:
    made = weigh_out(recipe, volume_ul=volume_ul, balance_step_mg=1, graduate_step_ul=1)

    for line, strength in zip(made.lines, concentrations(recipe).values(), strict=True):
        assert line.exact * LITRE / volume_ul == strength


@given(RECIPES, st.integers(1, 20 * LITRE), st.integers(1, 1000))
def test_a_line_is_never_more_than_half_a_step_away(recipe: Recipe, volume_ul: int, step: int) -> None:
    for line in weigh_out(recipe, volume_ul=volume_ul, balance_step_mg=step, graduate_step_ul=1).lines:
        assert line.rounded % step == 0
        assert abs(line.rounded - line.exact) <= Fraction(step, 2)


@given(RECIPES, st.data())
def test_the_largest_volume_takes_no_more_than_there_is(recipe: Recipe, data: st.DataObject) -> None:
    on_hand = {component.name: data.draw(st.integers(0, 10**6)) for component in recipe.components}
    volume_ul, short = largest_volume_ul(recipe, on_hand)

    taken = {
        line.name: line.exact
        for line in weigh_out(
            recipe, volume_ul=max(volume_ul, 1), balance_step_mg=1, graduate_step_ul=1
        ).lines
    }
    if volume_ul:
        assert all(taken[name] <= amount for name, amount in on_hand.items())
    more = {
        line.name: line.exact
        for line in weigh_out(recipe, volume_ul=volume_ul + 1, balance_step_mg=1, graduate_step_ul=1).lines
    }
    assert more[short] > on_hand[short]
