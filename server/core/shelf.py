"""What stands on the shelf, what of it stands for a component of a recipe, and how much of a recipe it still makes.

Masses are milligrams, volumes microlitres; everything is computed with fractions, and rounded down once, at the end.
"""

from dataclasses import dataclass
from fractions import Fraction

from server.core.molar_mass import without_water
from server.core.recipe import Component, Form, Measure, taken_per_unit
from server.core.units import mass_words, volume_words

# A gram per millilitre.
WATER_UG_PER_UL = 1000


@dataclass(frozen=True)
class OnShelf:
    """`amount` milligrams or microlitres of something that can be taken, by the name on it.

    `purity` is the share of the substance in it, `density_ug_per_ul` that of a liquid (1000 is a gram per millilitre).
    """

    name: str
    measure: Measure
    amount: int
    formula: str = ""
    purity: Fraction = Fraction(1)
    density_ug_per_ul: int | None = None


def held_words(amount: int, measure: str) -> str:
    """An amount on the shelf in words: grams, or millilitres."""
    return mass_words(amount) if measure == Measure.MASS else volume_words(amount)


def stands_for(component: Component, on_shelf: OnShelf) -> Fraction | None:
    """Return how much is taken from the shelf for one unit of the component, in the shelf's own unit; None if it is something else.

    The same substance is what bears the same name, whatever its capitals, or is another hydrate of the same salt by its formula. A
    solid called for by mass may stand there as a liquid of known density, and the other way round. What is called for in parts is a
    solution taken as it stands.

    >>> stands_for(Component("soda", 70_000, formula="Na2CO3"), OnShelf("washing soda", Measure.MASS, 500_000, "Na2CO3·10H2O"))
    Fraction(143069, 52994)
    """
    if not _is_the_same(component, on_shelf):
        return None
    if component.measure == Measure.PART:
        return Fraction(1) if on_shelf.measure == Measure.VOLUME else None
    same_measure = component.measure == on_shelf.measure
    called_for = component if same_measure else _by_mass(component)
    try:
        per_unit = taken_per_unit(
            called_for, Form(on_shelf.formula, on_shelf.purity, on_shelf.density_ug_per_ul)
        )
    except ValueError:
        return None
    if same_measure:
        return per_unit
    liquid = component if component.measure == Measure.VOLUME else on_shelf
    if liquid.density_ug_per_ul is None:
        return None
    density = Fraction(liquid.density_ug_per_ul, WATER_UG_PER_UL)
    return per_unit * density if liquid is component else per_unit / density


def _by_mass(component: Component) -> Component:
    return Component(component.name, component.amount, Measure.MASS, component.formula, component.purity)


def _is_the_same(component: Component, on_shelf: OnShelf) -> bool:
    if component.name.casefold() == on_shelf.name.casefold():
        return True
    formulas = component.formula and on_shelf.formula
    return bool(formulas) and without_water(component.formula) == without_water(on_shelf.formula)
