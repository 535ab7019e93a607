"""What stands on the shelf, what of it stands for a component of a recipe, and how much of a recipe it still makes.

Masses are milligrams, volumes microlitres; everything is computed with fractions, and rounded down once, at the end.
"""

from dataclasses import dataclass
from fractions import Fraction

from server.core.molar_mass import without_water
from server.core.recipe import Component, Form, Measure, taken_per_unit
from server.core.units import mass_words, volume_words


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

    @property
    def form(self) -> Form:
        """The form of a substance that it is, and how it is measured."""
        return Form(self.formula, self.purity, self.density_ug_per_ul, self.measure)


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
    try:
        return taken_per_unit(component, on_shelf.form)
    except ValueError:
        return None


def _is_the_same(component: Component, on_shelf: OnShelf) -> bool:
    if component.name.casefold() == on_shelf.name.casefold():
        return True
    formulas = component.formula and on_shelf.formula
    return bool(formulas) and without_water(component.formula) == without_water(on_shelf.formula)
