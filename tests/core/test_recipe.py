"""Scaling, weighing out and mixing recipes, against published formulas and hand calculations."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.recipe import (
    Basis,
    Component,
    Dissolved,
    Form,
    Measure,
    Recipe,
    amount_of,
    amount_words,
    asked_back,
    concentrations,
    largest_volume_ul,
    mixed,
    opened,
    parts_of,
    parts_words,
    share_out,
    strength_words,
    taken_per_unit,
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
    working = mixed([(concentrations(stock), Fraction(1, 2)) for stock in (STOCK_A, STOCK_B)])

    assert [strength_words(one.per_litre) for one in working] == [
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


@pytest.mark.parametrize(
    ("component", "form", "factor"),
    [
        # 80 % acid of 1.07 g/mL where 99.5 % of 1.05 g/mL is called for: 0.995 × 1.05 ÷ (0.8 × 1.07) of its volume.
        (
            Component(
                "acetic acid", 70 * ML, Measure.VOLUME, purity=Fraction(995, 1000), density_ug_per_ul=1050
            ),
            Form(purity=Fraction(8, 10), density_ug_per_ul=1070),
            Fraction(995 * 1050, 800 * 1070),
        ),
        # A gram of hydrogen chloride is in 1000 ÷ (0.372 × 1190) mL of 37.2 % acid of 1.19 g/mL.
        (
            Component("hydrochloric acid", 125 * GRAM),
            Form(purity=Fraction(372, 1000), density_ug_per_ul=1190, measure=Measure.VOLUME),
            Fraction(1000 * 1000, 372 * 1190),
        ),
        # A millilitre of pure acid of 1.05 g/mL is 1.05 g on the balance.
        (
            Component("acetic acid", 70 * ML, Measure.VOLUME, density_ug_per_ul=1050),
            Form(density_ug_per_ul=1050, measure=Measure.MASS),
            Fraction(105, 100),
        ),
        # The same liquid needs no density.
        (Component("acetic acid", 70 * ML, Measure.VOLUME), Form(), Fraction(1)),
        # 97 % called for and 97 % there.
        (
            Component("sodium hydroxide", 15 * GRAM, purity=Fraction(97, 100)),
            Form(purity=Fraction(97, 100)),
            Fraction(1),
        ),
        (Component("stock A", 1, Measure.PART), Form(measure=Measure.VOLUME), Fraction(1)),
    ],
)
def test_what_stands_on_the_shelf_holds_the_same_mass(
    component: Component, form: Form, factor: Fraction
) -> None:
    """Hand calculations."""
    assert taken_per_unit(component, form) == factor


def test_a_liquid_in_another_strength_needs_its_densities() -> None:
    acid = Component("acetic acid", 70 * ML, Measure.VOLUME)
    for form in (Form(purity=Fraction(8, 10)), Form(measure=Measure.MASS), Form("", Fraction(8, 10), 1070)):
        with pytest.raises(ValueError, match="density of each that is a liquid"):
            taken_per_unit(acid, form)


def test_a_liquid_of_known_density_is_counted_by_its_mass() -> None:
    """Hand calculation: 12 mL × 1.064 g/mL × 60 % in a litre are 7.6608 g/L; without a density it stays 70 mL/L."""
    acid = Component("acetic acid", 12 * ML, Measure.VOLUME, purity=Fraction(6, 10), density_ug_per_ul=1064)

    assert concentrations(Recipe((acid,), LITRE, 0)) == (
        Dissolved("acetic acid", Measure.MASS, Fraction(76608, 10)),
    )
    assert concentrations(IRON_BLEACH)[2] == Dissolved("acetic acid", Measure.VOLUME, Fraction(70 * ML))


def test_what_is_added_to_water_is_thinned_by_the_liquids_too() -> None:
    """Hand calculation: 100 g and 250 mL of acid in a litre of water are in 1.25 L, 80 g/L."""
    added = Recipe(
        (Component("bromide", 100 * GRAM), Component("acid", 250 * ML, Measure.VOLUME)),
        LITRE,
        0,
        Basis.ADDED_TO,
    )

    assert [one.per_litre for one in concentrations(added)] == [80 * GRAM, 200 * ML]


def test_solutions_within_a_solution_are_opened_up() -> None:
    """Hand calculation: 15 mL of developer made up to 400 mL hold 15 ÷ 400 of its 2 g/L of metol; what has no recipe stays closed."""
    recipes = {
        "stock a": STOCK_A,
        "stock b": STOCK_B,
        "working developer": Recipe(
            (Component("Stock A", 1, Measure.PART), Component("stock B", 1, Measure.PART)), LITRE, 0
        ),
    }
    thin = Recipe(
        (
            Component("working developer", 15 * ML, Measure.VOLUME),
            Component("wetting agent", ML, Measure.VOLUME),
        ),
        400 * ML,
        0,
    )
    holds = {one.name: one.per_litre for one in opened(thin, recipes)}

    assert holds["metol"] == 2000 * Fraction(15, 400)
    assert holds["wetting agent"] == Fraction(ML * LITRE, 400 * ML)
    assert set(holds) == {"metol", "ascorbic acid", "sodium carbonate", "sodium hydroxide", "wetting agent"}


def test_recipes_that_name_each_other_are_opened_only_so_often() -> None:
    one = Recipe((Component("other", 1, Measure.PART), Component("water", 1, Measure.PART)), LITRE, 0)
    other = Recipe((Component("one", 1, Measure.PART),), LITRE, 0)

    assert {each.name for each in opened(one, {"one": one, "other": other})} <= {"one", "other", "water"}


@pytest.mark.parametrize(("volume", "rounded"), [(29 * ML, 0), (31 * ML, 100)])
def test_less_than_half_a_step_is_told_apart(volume: int, rounded: int) -> None:
    """Hand calculation: the line is 1.7 g in a litre, so half a step of 0.1 g is reached at 29.4 mL, and 2 % at 1.47 L."""
    recipe = Recipe((Component("wetting agent", 1_700),), LITRE, 0)
    line = weigh_out(recipe, volume_ul=volume, balance_step_mg=100, graduate_step_ul=ML).lines[0]

    assert (line.rounded, line.too_little) == (rounded, not rounded)
    assert line.least_volume_ul(error=Fraction(2, 100)) == 1_470_589


def test_the_water_to_begin_with_never_fills_more_than_the_volume() -> None:
    """Hand calculation: 5.6 mL of the 8 mL would be 10 mL on a graduate read to 10 mL."""
    made = weigh_out(STOCK_A, volume_ul=8 * ML, balance_step_mg=10, graduate_step_ul=10 * ML)

    assert made.start_ul == 0


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
    assert largest_volume_ul(STOCK_A, {"metol": 12 * GRAM}) == (3 * LITRE, "metol")
    assert largest_volume_ul(STOCK_A, {}) is None


def test_a_hydrate_on_the_shelf_makes_less() -> None:
    """Hand calculation: 81.90 g of the carbonate with one water do what 70 g without do, so as much makes a litre."""
    made = largest_volume_ul(STOCK_B, {"sodium carbonate": 81_898}, {"sodium carbonate": Form("Na2CO3·H2O")})

    assert made is not None
    assert made[0] == pytest.approx(LITRE, rel=1e-4)


@pytest.mark.parametrize(
    ("text", "parts"), [("1+1", (1, 1)), (" 1 + 3 ", (1, 3)), ("3+8", (3, 8)), ("1+1+2", (1, 1, 2))]
)
def test_parts_are_written_as_a_sum(text: str, parts: tuple[int, ...]) -> None:
    assert parts_of(text) == parts
    assert parts_of(parts_words(parts)) == parts


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("1:4", ("1+4 (1 and 4 parts, 5 in all)", "1+3 (1 in 4 parts)")),
        (" 1 / 10", ("1+10 (1 and 10 parts, 11 in all)", "1+9 (1 in 10 parts)")),
        ("1:1,5", ("1+1.5 (1 and 1.5 parts, 2.5 in all)", "1+0.5 (1 in 1.5 parts)")),
    ],
)
def test_a_ratio_is_asked_back_with_both_readings(text: str, readings: tuple[str, str]) -> None:
    assert all(reading in asked_back(text) for reading in readings)
    for reading in (parts_of, amount_of):
        with pytest.raises(ValueError, match="read in two ways"):
            reading(text)


def test_a_ratio_with_one_meaning_is_asked_for_as_a_sum() -> None:
    assert asked_back("1:1") == "“1:1” is a ratio. Please write its parts as 1+1 (1 and 1 parts, 2 in all)."
    assert asked_back("1+1") == asked_back("4 g") == ""


@pytest.mark.parametrize(
    ("text", "amount", "measure"),
    [
        ("4 g", 4_000, Measure.MASS),
        ("0,5 g", 500, Measure.MASS),
        ("5.625 mL", 5_625, Measure.VOLUME),
        ("1 part", 1, Measure.PART),
        ("3 parts", 3, Measure.PART),
    ],
)
def test_an_amount_is_read(text: str, amount: int, measure: Measure) -> None:
    assert amount_of(text) == (amount, measure)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0 g", "That is nothing"),
        ("0.0001 g", "less than can be kept"),
        ("0 parts", "from 1 to 100 parts"),
        ("101 parts", "from 1 to 100 parts"),
        ("1+4", "each solution on its own line"),
        ("a pinch", "is not a mass"),
        ("4 spoons", "is not a unit of mass"),
    ],
)
def test_what_is_no_amount_gets_a_sentence(text: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        amount_of(text)


@given(st.integers(1, 2_000_000_000), st.sampled_from((Measure.MASS, Measure.VOLUME)))
def test_an_amount_in_words_is_read_back_whole(amount: int, measure: Measure) -> None:
    assert amount_of(amount_words(amount, measure)) == (amount, measure)


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

    for line, one in zip(made.lines, concentrations(recipe), strict=True):
        assert line.exact * LITRE / volume_ul == one.per_litre


@given(RECIPES, st.integers(1, 20 * LITRE), st.integers(1, 1000))
def test_a_line_is_never_more_than_half_a_step_away(recipe: Recipe, volume_ul: int, step: int) -> None:
    for line in weigh_out(recipe, volume_ul=volume_ul, balance_step_mg=step, graduate_step_ul=1).lines:
        assert line.rounded % step == 0
        assert abs(line.rounded - line.exact) <= Fraction(step, 2)


@given(RECIPES, st.data())
def test_the_largest_volume_takes_no_more_than_there_is(recipe: Recipe, data: st.DataObject) -> None:
    on_hand = {component.name: data.draw(st.integers(0, 10**6)) for component in recipe.components}
    found = largest_volume_ul(recipe, on_hand)
    assert found is not None
    volume_ul, short = found

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


@given(RECIPES, st.integers(1, 10 * LITRE), st.integers(1, 10))
def test_scaling_is_linear(recipe: Recipe, volume_ul: int, times: int) -> None:
    once = weigh_out(recipe, volume_ul=volume_ul, balance_step_mg=1, graduate_step_ul=1)
    often = weigh_out(recipe, volume_ul=times * volume_ul, balance_step_mg=1, graduate_step_ul=1)

    assert [line.exact for line in often.lines] == [times * line.exact for line in once.lines]


@given(RECIPES, st.integers(1, 20 * LITRE), st.integers(1, 1000), st.fractions(Fraction(1, 1000), 1))
def test_from_the_least_volume_on_rounding_stays_within_its_share(
    recipe: Recipe, volume_ul: int, step: int, error: Fraction
) -> None:
    for number, line in enumerate(
        weigh_out(recipe, volume_ul=volume_ul, balance_step_mg=step, graduate_step_ul=1).lines
    ):
        least = line.least_volume_ul(error=error)
        more = weigh_out(recipe, volume_ul=least + volume_ul, balance_step_mg=step, graduate_step_ul=1)
        assert abs(more.lines[number].error) <= error


@given(st.lists(st.tuples(RECIPES, st.integers(1, LITRE)), min_size=1, max_size=4))
def test_mixing_neither_makes_nor_loses_mass(poured: list[tuple[Recipe, int]]) -> None:
    whole = sum(volume_ul for _recipe, volume_ul in poured)
    mixture = mixed([(concentrations(recipe), Fraction(volume_ul, whole)) for recipe, volume_ul in poured])

    before = sum(one.per_litre * volume_ul for recipe, volume_ul in poured for one in concentrations(recipe))
    assert sum(one.per_litre for one in mixture) * whole == before


@given(
    st.fractions(Fraction(1, 1000), 1, max_denominator=1000),
    st.fractions(Fraction(1, 1000), 1, max_denominator=1000),
    st.integers(500, 3000),
    st.integers(500, 3000),
    st.sampled_from((Measure.MASS, Measure.VOLUME)),
    st.sampled_from((Measure.MASS, Measure.VOLUME)),
)
def test_changing_a_form_and_back_changes_nothing(
    one: Fraction, other: Fraction, dense: int, thin: int, first: Measure, second: Measure
) -> None:
    there = taken_per_unit(
        Component("acid", 1, first, "H2SO4", one, dense), Form("H2SO4·2H2O", other, thin, second)
    )
    back = taken_per_unit(
        Component("acid", 1, second, "H2SO4·2H2O", other, thin), Form("H2SO4", one, dense, first)
    )

    assert there * back == 1
