"""What stands for what, and how much of a recipe the shelf still makes."""

from fractions import Fraction
from math import floor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.recipe import Component, Measure, Recipe
from server.core.shelf import Makeable, OnShelf, largest_makeable, stands_for

LITRE = 1_000_000
# The two-part developer of a Stony Brook student report, 2003: grams per litre of A and of B, mixed in equal parts.
STOCK_A = Recipe((Component("metol", 4_000), Component("ascorbic acid", 25_000)), LITRE, 700_000)
STOCK_B = Recipe(
    (
        Component("sodium carbonate", 70_000, formula="Na2CO3"),
        Component("sodium hydroxide", 15_000, formula="NaOH"),
    ),
    LITRE,
    700_000,
)
DEVELOPER = Recipe(
    (Component("stock A", 1, Measure.PART), Component("stock B", 1, Measure.PART)), volume_ul=2, start_ul=0
)
RECIPES = {"stock a": STOCK_A, "stock b": STOCK_B}


def _powder(name: str, mass_mg: int, formula: str = "", purity: Fraction = Fraction(1)) -> OnShelf:
    return OnShelf(name, Measure.MASS, mass_mg, formula, purity)


def _solution(name: str, volume_ul: int) -> OnShelf:
    return OnShelf(name, Measure.VOLUME, volume_ul)


POWDERS = (
    _powder("metol", 4_000),
    _powder("Ascorbic Acid", 25_000),
    _powder("sodium carbonate", 70_000, "Na2CO3"),
    _powder("sodium hydroxide", 15_000, "NaOH"),
)


@pytest.mark.parametrize(
    ("on_the_shelf", "grams"),
    [("Na2CO3·H2O", 81.90), ("Na2CO3·10H2O", 188.98), ("Na2CO3", 70.00)],
)
def test_another_hydrate_stands_for_the_salt_by_its_molar_mass(on_the_shelf: str, grams: float) -> None:
    """Computed from IUPAC's abridged weights: 70 g of anhydrous carbonate are 81.90 g of the mono- and 188.98 g of the decahydrate."""
    per_unit = stands_for(STOCK_B.components[0], _powder("soda", 500_000, on_the_shelf))

    assert per_unit is not None
    assert float(per_unit * 70) == pytest.approx(grams, abs=0.01)


def test_what_is_not_pure_is_taken_by_so_much_more() -> None:
    """OpenStax, Chemistry 2e, section 3.4: sodium hydroxide of 97.0 % for a litre of 10.0 % by weight at 1.109 g/mL is 114 g."""
    pure = Component("sodium hydroxide", 110_900, formula="NaOH")
    per_unit = stands_for(pure, _powder("sodium hydroxide", 500_000, "NaOH", Fraction(970, 1000)))

    assert per_unit is not None
    assert float(per_unit * pure.amount / 1000) == pytest.approx(114, abs=0.5)


def test_a_liquid_of_known_density_stands_for_its_mass() -> None:
    """OpenStax, Chemistry 2e, section 3.4: 125 g of hydrogen chloride are in 282 mL of 37.2 % acid of 1.19 g/mL."""
    acid = OnShelf("hydrochloric acid", Measure.VOLUME, LITRE, "HCl", Fraction(372, 1000), 1190)
    per_unit = stands_for(Component("acid", 125_000, formula="HCl"), acid)

    assert per_unit is not None
    assert float(per_unit * 125_000 / 1000) == pytest.approx(282, abs=0.5)


@pytest.mark.parametrize(
    ("component", "on_shelf"),
    [
        (Component("metol", 4_000), _powder("ascorbic acid", 10_000)),
        (Component("metol", 4_000, formula="NaOH"), _powder("soda", 10_000, "Na2CO3")),
        (Component("soda", 4_000, formula="NaOH"), _powder("soda", 10_000, "Na2CO3")),
        (Component("metol", 4_000), _solution("metol", 10_000)),
        (Component("stock A", 1, Measure.PART), _powder("stock A", 10_000)),
    ],
    ids=["another name", "another salt", "one name for two salts", "no density", "a part is a solution"],
)
def test_something_else_stands_for_nothing(component: Component, on_shelf: OnShelf) -> None:
    assert stands_for(component, on_shelf) is None


def test_the_smaller_of_two_stock_solutions_runs_out_first() -> None:
    """Worked by hand: 450 mL of A and 300 mL of B make 600 mL."""
    made = largest_makeable(DEVELOPER, shelf=[_solution("stock A", 450_000), _solution("Stock b", 300_000)])

    assert (made.volume_ul, made.runs_out, made.made_first) == (600_000, ("stock B",), ())
    assert {taken.index: taken.amount for taken in made.taken} == {0: 300_000, 1: 300_000}


def test_equal_bottles_are_emptied_in_the_order_in_which_they_are_given() -> None:
    shelf = [_solution("stock A", 100_000), _solution("stock B", 250_000), _solution("stock A", 400_000)]
    made = largest_makeable(DEVELOPER, shelf=shelf)

    assert made.volume_ul == 500_000
    assert {taken.index: taken.amount for taken in made.taken} == {0: 100_000, 1: 250_000, 2: 150_000}


def test_powders_make_what_the_stock_solutions_no_longer_do() -> None:
    """Worked by hand: the powders of exactly a litre of A and of B make 2 L; with 300 mL of B ready A runs out, still at 2 L."""
    from_powders = largest_makeable(DEVELOPER, shelf=POWDERS, recipes=RECIPES)
    with_a_bottle = largest_makeable(
        DEVELOPER, shelf=[*POWDERS, _solution("stock B", 300_000)], recipes=RECIPES
    )

    assert from_powders.volume_ul == 2 * LITRE
    assert dict(from_powders.made_first) == {"stock A": LITRE, "stock B": LITRE}
    assert with_a_bottle.volume_ul == 2 * LITRE
    assert dict(with_a_bottle.made_first) == {"stock A": LITRE, "stock B": 700_000}
    assert set(with_a_bottle.runs_out) <= {"metol", "ascorbic acid"}


def test_a_stock_solution_runs_out_itself_where_it_cannot_be_mixed_anew() -> None:
    """A kit's 450 mL of A and 300 mL of B make 600 mL, and no powder stands there to blame."""
    made = largest_makeable(
        DEVELOPER, shelf=[_solution("stock A", 450_000), _solution("stock B", 300_000)], recipes=RECIPES
    )

    assert (made.volume_ul, made.runs_out) == (600_000, ("stock B",))


def test_a_jar_that_two_components_need_is_shared_between_them() -> None:
    """Worked by hand: bromide goes into both baths, 10 and 30 g/L in equal parts; 200 g make 10 L of the mixture."""
    recipes = {
        "first": Recipe((Component("bromide", 10_000, formula="KBr"),), LITRE, 0),
        "second": Recipe((Component("potassium bromide", 30_000, formula="KBr"),), LITRE, 0),
    }
    mixture = Recipe((Component("first", 1, Measure.PART), Component("second", 1, Measure.PART)), 2, 0)
    made = largest_makeable(mixture, shelf=[_powder("bromide", 200_000, "KBr")], recipes=recipes)

    assert made.volume_ul == 10 * LITRE


def test_what_is_missing_is_named_down_to_the_jars() -> None:
    shelf = [_solution("stock A", 500_000), POWDERS[3]]

    assert largest_makeable(DEVELOPER, shelf=shelf, recipes=RECIPES) == Makeable(
        0, ("sodium carbonate",), (), ()
    )
    assert largest_makeable(DEVELOPER, shelf=shelf).runs_out == ("stock B",)


def test_a_recipe_that_names_itself_is_made_of_what_stands_there() -> None:
    """A solution thinned with its like would otherwise never run out."""
    thinned = Recipe((Component("bath", 1, Measure.PART), Component("water softener", 1, Measure.PART)), 2, 0)
    shelf = [_solution("bath", 300_000), _solution("water softener", LITRE)]

    assert largest_makeable(thinned, shelf=shelf, recipes={"bath": thinned}).volume_ul == 600_000


def test_recipes_that_name_each_other_end() -> None:
    first = Recipe((Component("second", 1, Measure.PART), Component("salt", 1, Measure.PART)), 2, 0)
    second = Recipe((Component("third", 500_000, Measure.VOLUME),), LITRE, 0)
    third = Recipe((Component("first", 100_000, Measure.VOLUME),), LITRE, 0)
    recipes = {"first": first, "second": second, "third": third}

    assert largest_makeable(first, shelf=[_solution("salt", 5)], recipes=recipes).runs_out == ("first",)
    assert (
        largest_makeable(
            first, shelf=[_solution("salt", 5), _solution("Third", 9)], recipes=recipes
        ).volume_ul
        == 10
    )


AMOUNT = st.integers(0, 5_000_000)
SHARE = st.integers(1, 200_000)


@st.composite
def shelves(draw: st.DrawFn) -> tuple[Recipe, list[OnShelf], dict[str, Recipe]]:
    """A mixture of solutions, some ready, some from powders of their own, of any purity."""
    shelf, recipes, components = [], {}, []
    for number in range(draw(st.integers(1, 3))):
        name = f"solution {number}"
        components.append(Component(name, draw(st.integers(1, 9)), Measure.PART))
        shelf.append(_solution(name, draw(AMOUNT)))
        powders = []
        for powder in range(draw(st.integers(0, 2))):
            jar = f"powder {number}.{powder}"
            powders.append(Component(jar, draw(SHARE), purity=Fraction(draw(st.integers(50, 100)), 100)))
            shelf.append(_powder(jar, draw(AMOUNT), purity=Fraction(draw(st.integers(50, 100)), 100)))
        if powders:
            recipes[name] = Recipe(tuple(powders), draw(st.integers(1, LITRE)), 0)
    return Recipe(tuple(components), sum(one.amount for one in components), 0), shelf, recipes


def _by_hand(recipe: Recipe, shelf: list[OnShelf], recipes: dict[str, Recipe]) -> Fraction:
    """The same without a shared jar: each component by itself limits the volume, and the least of them is what is made."""
    return min(
        (
            sum(
                (one.amount * one.purity / component.purity for one in shelf if one.name == component.name),
                Fraction(0),
            )
            + (_by_hand(recipes[component.name], shelf, recipes) if component.name in recipes else 0)
        )
        / recipe.share(component)
        for component in recipe.components
    )


@settings(max_examples=60, deadline=None)
@given(shelves())
def test_it_makes_what_it_says_and_one_microlitre_more_it_cannot(
    found: tuple[Recipe, list[OnShelf], dict[str, Recipe]],
) -> None:
    recipe, shelf, recipes = found
    made = largest_makeable(recipe, shelf=shelf, recipes=recipes)

    assert made.volume_ul == floor(_by_hand(recipe, shelf, recipes))
    assert made.volume_ul + 1 > _by_hand(recipe, shelf, recipes)


@settings(max_examples=60, deadline=None)
@given(shelves())
def test_what_it_takes_stands_there_and_is_just_what_the_volume_needs(
    found: tuple[Recipe, list[OnShelf], dict[str, Recipe]],
) -> None:
    recipe, shelf, recipes = found
    made = largest_makeable(recipe, shelf=shelf, recipes=recipes)
    taken = {shelf[one.index].name: one.amount for one in made.taken}
    first = dict(made.made_first)

    assert all(one.amount <= shelf[one.index].amount for one in made.taken)
    for component in recipe.components if made.volume_ul else ():
        there = taken.get(component.name, 0) + first.get(component.name, 0)
        assert there == made.volume_ul * recipe.share(component)
        for powder in recipes[component.name].components if component.name in recipes else ():
            (jar,) = (one for one in shelf if one.name == powder.name)
            needed = first.get(component.name, 0) * recipes[component.name].share(powder)
            assert taken.get(powder.name, 0) == needed * powder.purity / jar.purity
