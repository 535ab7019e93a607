"""Recipes: what goes into a solution, scaled to any volume, weighed out from the forms on the shelf, and mixed in parts.

Masses are milligrams, volumes microlitres. Nothing is rounded on the way: a line is rounded once, to the step of the balance or the
graduate, and shows what that costs.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from math import floor

from server.core.molar_mass import hydrate_factor
from server.core.units import mass_mg, volume_ul

MG_PER_GRAM = 1000
UL_PER_ML = 1000
UL_PER_LITRE = 1_000_000
PURE_PPM = 1_000_000
MOST_PARTS = 100

_PARTS = re.compile(r"([0-9]{1,3})((?:\s*\+\s*[0-9]{1,3})+)")
_PART = re.compile(r"([0-9]{1,3})\s*parts?")
_RATIO = re.compile(r"([0-9]{1,3})\s*[:/]\s*([0-9]{1,3})")


class Measure(StrEnum):
    """How a component is measured: solids by the balance in milligrams, liquids by the graduate in microlitres.

    A solution that is mixed from others takes parts of them, measured by the graduate too.
    """

    MASS = "mass"
    VOLUME = "volume"
    PART = "part"


class Basis(StrEnum):
    """What the recipe's volume is: of the finished solution, or of the water that everything is added to."""

    MADE_UP_TO = "made up to"
    ADDED_TO = "added to"


@dataclass(frozen=True)
class Component:
    """One line of a recipe: `amount` in the recipe's volume, of the form with this `formula` (empty if nobody says).

    `purity` is the share of it that the recipe calls for, `density_ug_per_ul` that of a liquid (1000 is a gram per millilitre).
    """

    name: str
    amount: int
    measure: Measure = Measure.MASS
    formula: str = ""
    purity: Fraction = Fraction(1)
    density_ug_per_ul: int | None = None


@dataclass(frozen=True)
class Recipe:
    """Components in the order in which they dissolve, for `volume_ul`; `start_ul` is the water they go into first.

    Components in parts fill the whole volume between them. Otherwise, with `Basis.MADE_UP_TO`, water is then added until the solution measures the volume. With `Basis.ADDED_TO` the volume is that of
    the water, and nothing is added afterwards.
    """

    components: tuple[Component, ...]
    volume_ul: int
    start_ul: int
    basis: Basis = Basis.MADE_UP_TO

    @property
    def parts(self) -> int:
        """How many parts there are in all; 0 where it is not mixed in parts."""
        return sum(one.amount for one in self.components if one.measure == Measure.PART)

    def share(self, component: Component) -> Fraction:
        """Return what one microlitre of solution takes of a component, in its own unit."""
        return Fraction(component.amount, self.parts if component.measure == Measure.PART else self.volume_ul)


@dataclass(frozen=True)
class Form:
    """What stands on the shelf under a component's name: its formula with its water, its purity as a share, a liquid's density."""

    formula: str = ""
    purity: Fraction = Fraction(1)
    density_ug_per_ul: int | None = None


@dataclass(frozen=True)
class WeighedLine:
    """One thing to measure: `exact` and as `rounded` to the step, in milligrams or microlitres.

    `factor` is what the form and the purity on the shelf made of the recipe's amount.
    """

    name: str
    measure: Measure
    exact: Fraction
    rounded: int
    factor: Fraction

    @property
    def error(self) -> Fraction:
        """How much too much, as a share; below zero too little."""
        return self.rounded / self.exact - 1


@dataclass(frozen=True)
class WeighOut:
    """What to measure for one batch. `make_up_to_ul` is None where no water is added at the end."""

    start_ul: int
    lines: tuple[WeighedLine, ...]
    make_up_to_ul: int | None


def weigh_out(
    recipe: Recipe,
    *,
    volume_ul: int,
    balance_step_mg: int,
    graduate_step_ul: int,
    shelf: Mapping[str, Form] | None = None,
) -> WeighOut:
    """Return what a volume of the recipe takes, in its order.

    A component whose form on the `shelf` differs is weighed by the ratio of molar masses, and by one over its purity. Raises
    ValueError with a sentence when a form on the shelf is another substance.
    """
    lines = []
    for component in recipe.components:
        factor = _factor(component, shelf or {})
        exact = recipe.share(component) * volume_ul * factor
        step = balance_step_mg if component.measure == Measure.MASS else graduate_step_ul
        lines.append(WeighedLine(component.name, component.measure, exact, to_step(exact, step), factor))
    if recipe.parts:
        return WeighOut(0, tuple(lines), None)
    if recipe.basis == Basis.ADDED_TO:
        return WeighOut(volume_ul, tuple(lines), None)
    start_ul = Fraction(recipe.start_ul * volume_ul, recipe.volume_ul)
    return WeighOut(to_step(start_ul, graduate_step_ul), tuple(lines), volume_ul)


def _factor(component: Component, shelf: Mapping[str, Form]) -> Fraction:
    return taken_per_unit(component, shelf[component.name]) if component.name in shelf else Fraction(1)


def taken_per_unit(component: Component, form: Form) -> Fraction:
    """Return how many milligrams or microlitres of the form on the shelf stand for one of the component as it is called for.

    That is the ratio of the molar masses of two hydrates, times the purity called for over the purity on the shelf; between liquids
    measured by volume also the ratio of their densities. Raises ValueError with a sentence for a person where it is another
    substance, or where liquids of different strength lack a density.
    """
    factor = component.purity / form.purity
    if component.measure == Measure.VOLUME and (
        factor != 1 or component.density_ug_per_ul != form.density_ug_per_ul
    ):
        if component.density_ug_per_ul is not None and form.density_ug_per_ul is not None:
            factor *= Fraction(component.density_ug_per_ul, form.density_ug_per_ul)
        elif factor != 1:
            message = f"{component.name} of another strength is measured by volume only with both densities. Write them down."
            raise ValueError(message)
    if component.formula and form.formula and component.formula != form.formula:
        factor *= Fraction(hydrate_factor(called_for=component.formula, on_the_shelf=form.formula))
    return factor


def to_step(exact: Fraction, step: int) -> int:
    """Round to a whole number of steps, halves up."""
    return floor(exact / step + Fraction(1, 2)) * step


def concentrations(recipe: Recipe) -> dict[str, Fraction]:
    """Return mg/L of each solid and µL/L of each liquid or solution, before anything is mixed with it, by the component's name.

    Where substances are added to a volume of water, the litre is one of water.
    """
    return {component.name: recipe.share(component) * UL_PER_LITRE for component in recipe.components}


def mixed(solutions: Sequence[tuple[Mapping[str, Fraction], int]]) -> dict[str, Fraction]:
    """Return the concentrations after mixing: each solution's own, with its parts.

    Volumes are taken to add up, which for thin watery solutions is true to a percent.

    >>> mixed([({"metol": Fraction(4000)}, 1), ({}, 1)])
    {'metol': Fraction(2000, 1)}
    """
    whole = sum(parts for _solution, parts in solutions)
    found: dict[str, Fraction] = {}
    for solution, parts in solutions:
        for name, strength in solution.items():
            found[name] = found.get(name, Fraction(0)) + strength * parts / whole
    return found


def largest_volume_ul(
    recipe: Recipe, on_hand: Mapping[str, int], shelf: Mapping[str, Form] | None = None
) -> tuple[int, str]:
    """Return the largest volume that what is on hand makes, in whole microlitres, and the component that runs out first.

    `on_hand` is milligrams or microlitres of each component as it stands on the shelf; a component that is not named there is missing.
    """
    volumes = []
    for component in recipe.components:
        factor = _factor(component, shelf or {})
        makes = Fraction(on_hand.get(component.name, 0)) / factor / recipe.share(component)
        volumes.append((floor(makes), component.name))
    return min(volumes)


def amount_of(text: str) -> tuple[int, Measure]:
    """Return an amount as people write it, such as 4 g, 70 mL or 1 part. Raises ValueError with a sentence.

    >>> amount_of("0.5 g")
    (500, <Measure.MASS: 'mass'>)
    """
    typed = text.strip()
    if found := _PART.fullmatch(typed):
        parts = int(found[1])
        if not 0 < parts <= MOST_PARTS:
            message = f"Please write from 1 to {MOST_PARTS} parts."
            raise ValueError(message)
        return parts, Measure.PART
    is_volume = re.search(r"[lL]$", typed) is not None
    amount = volume_ul(typed) if is_volume else mass_mg(typed)
    if not amount:
        message = "That is nothing, or less than can be measured. Please write more, or clear the line."
        raise ValueError(message)
    return amount, Measure.VOLUME if is_volume else Measure.MASS


def amount_words(amount: int, measure: Measure) -> str:
    """Return an amount in full, as it may be typed again: 4 g, 5.625 mL, 1 part."""
    if measure == Measure.PART:
        return "1 part" if amount == 1 else f"{amount} parts"
    if measure == Measure.MASS:
        return f"{plain(Fraction(amount, MG_PER_GRAM))} g"
    if amount >= UL_PER_LITRE:
        return f"{plain(Fraction(amount, UL_PER_LITRE))} L"
    return f"{plain(Fraction(amount, UL_PER_ML))} mL"


def plain(number: Fraction) -> str:
    """Return a number whose decimals end, in full and without a power of ten.

    >>> plain(Fraction(45, 8))
    '5.625'
    """
    return f"{(Decimal(number.numerator) / number.denominator).normalize():f}"


def parts_of(text: str) -> tuple[int, ...]:
    """Return the parts of a mixture written as a sum, such as 1+1 or 1+3. Raises ValueError with a sentence.

    A ratio such as 1:4 is asked back, for some mean one part and four others by it and some one part in four.

    >>> parts_of("1 + 3")
    (1, 3)
    """
    if ratio := _RATIO.fullmatch(text.strip()):
        one, other = int(ratio[1]), int(ratio[2])
        meant = f"{one}+{other - one} ({one} part in {other})" if other > one else f"{one}+{other}"
        message = f"“{text.strip()}” is read in two ways. Please write {one}+{other} ({one + other} parts in all) or {meant}."
        raise ValueError(message)
    if _PARTS.fullmatch(text.strip()) is None:
        message = f"“{text.strip()}” is no mixture. Please write its parts as a sum, such as 1+1."
        raise ValueError(message)
    parts = tuple(int(part) for part in text.split("+"))
    if not all(0 < part <= MOST_PARTS for part in parts):
        message = f"Every part must be from 1 to {MOST_PARTS}. Please write them like 1+1."
        raise ValueError(message)
    return parts


def parts_words(parts: Sequence[int]) -> str:
    """Return the parts as they are written: 1+1."""
    return "+".join(str(part) for part in parts)


def share_out(*, volume_ul: int, parts: Sequence[int]) -> tuple[int, ...]:
    """Return a volume divided into parts, in whole microlitres that add up to it; what is left over goes to the first parts.

    >>> share_out(volume_ul=250_001, parts=(1, 1))
    (125001, 125000)
    """
    whole = sum(parts)
    shares = [volume_ul * part // whole for part in parts]
    for index in range(volume_ul - sum(shares)):
        shares[index] += 1
    return tuple(shares)


def strength_words(mg_per_litre: Fraction) -> str:
    """Return a concentration in g/L, rounded to three digits.

    >>> strength_words(Fraction(12500))
    '12.5 g/L'
    """
    grams = Decimal(mg_per_litre.numerator) / mg_per_litre.denominator / MG_PER_GRAM
    digits = f"{grams:.3g}"
    plain = f"{Decimal(digits):f}"
    return f"{plain.rstrip('0').rstrip('.') if '.' in plain else plain} g/L"
