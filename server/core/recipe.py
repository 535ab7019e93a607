"""Recipes: what goes into a solution, scaled to any volume, weighed out from the forms on the shelf, and mixed in parts.

Masses are milligrams, volumes microlitres. Nothing is rounded on the way: a line is rounded once, to the step of the balance or the
graduate, and shows what that costs.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from math import ceil, floor

from server.core.molar_mass import hydrate_factor
from server.core.units import digits, mass_mg, plain, volume_ul

MG_PER_GRAM = 1000
UL_PER_ML = 1000
UL_PER_LITRE = 1_000_000
PURE_PPM = 1_000_000
MOST_PARTS = 100
# A working solution of a stock solution of a concentrate: deeper than any lab mixes.
DEEPEST = 3

_PARTS = re.compile(r"([0-9]{1,3})((?:\s*\+\s*[0-9]{1,3})+)")
_PART = re.compile(r"([0-9]{1,3})\s*parts?")
_RATIO = re.compile(r"([0-9]{1,4}(?:[.,][0-9]{1,3})?)\s*[:/]\s*([0-9]{1,4}(?:[.,][0-9]{1,3})?)")


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

    Components in parts fill the whole volume between them. Otherwise, with `Basis.MADE_UP_TO`, water is then added until the solution
    measures the volume. With `Basis.ADDED_TO` the volume is that of the water, and nothing is added afterwards.
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
    """What stands on the shelf under a component's name: its formula with its water, its purity as a share, a liquid's density.

    `measure` is how it is measured out; None measures it as the component is.
    """

    formula: str = ""
    purity: Fraction = Fraction(1)
    density_ug_per_ul: int | None = None
    measure: Measure | None = None


@dataclass(frozen=True)
class WeighedLine:
    """One thing to measure: `exact` and as `rounded` to the `step`, in milligrams or microlitres.

    `factor` is what the form on the shelf made of the recipe's amount; `per_ul` what each microlitre of solution takes.
    """

    name: str
    measure: Measure
    exact: Fraction
    rounded: int
    step: int
    factor: Fraction
    per_ul: Fraction

    @property
    def error(self) -> Fraction:
        """How much too much, as a share; below zero too little."""
        return self.rounded / self.exact - 1

    @property
    def too_little(self) -> bool:
        """Whether it is less than half a step, so that the balance or the graduate can't show it."""
        return not self.rounded

    def least_volume_ul(self, *, error: Fraction) -> int:
        """The least volume from which on rounding changes the line by no more than a share, in whole microlitres."""
        return ceil(self.step / (2 * error * self.per_ul))


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

    A component whose form on the `shelf` differs is measured as `taken_per_unit` says. The water to begin with is rounded down, so
    that it never fills more than the volume. Raises ValueError with a sentence when a form on the shelf is another substance.
    """
    lines = []
    for component in recipe.components:
        form = (shelf or {}).get(component.name, _as_called_for(component))
        factor = taken_per_unit(component, form)
        measure = form.measure or component.measure
        if measure == Measure.PART:
            measure = Measure.VOLUME
        per_ul = recipe.share(component) * factor
        step = balance_step_mg if measure == Measure.MASS else graduate_step_ul
        exact = per_ul * volume_ul
        lines.append(WeighedLine(component.name, measure, exact, to_step(exact, step), step, factor, per_ul))
    if recipe.parts:
        return WeighOut(0, tuple(lines), None)
    if recipe.basis == Basis.ADDED_TO:
        return WeighOut(volume_ul, tuple(lines), None)
    start_ul = Fraction(recipe.start_ul * volume_ul, recipe.volume_ul)
    return WeighOut(start_ul // graduate_step_ul * graduate_step_ul, tuple(lines), volume_ul)


def _as_called_for(component: Component) -> Form:
    return Form(component.formula, component.purity, component.density_ug_per_ul)


def taken_per_unit(component: Component, form: Form) -> Fraction:
    """Return how many milligrams or microlitres of the form on the shelf stand for one of the component as it is called for.

    Both hold the same mass of salt without its water: amount × purity, × density where it is measured by volume, ÷ the molar mass of
    its hydrate. Raises ValueError with a sentence for a person where it is another substance, or where a density is missing.
    """
    factor = Fraction(1)
    if component.formula and form.formula and component.formula != form.formula:
        factor = hydrate_factor(called_for=component.formula, on_the_shelf=form.formula)
    by_volume = form.measure or component.measure
    if component.measure == Measure.PART:
        return factor
    densities = (component.density_ug_per_ul, form.density_ug_per_ul)
    if component.measure == by_volume == Measure.VOLUME and (
        component.purity == form.purity and None in densities
    ):
        return factor
    called_for = _mass_per_unit(component.measure, component.purity, densities[0])
    on_the_shelf = _mass_per_unit(by_volume, form.purity, densities[1])
    if called_for is None or on_the_shelf is None:
        message = f"{component.name} is measured in another way or strength than the recipe says. Write down the density of each that is a liquid."
        raise ValueError(message)
    return factor * called_for / on_the_shelf


def _mass_per_unit(measure: Measure, purity: Fraction, density_ug_per_ul: int | None) -> Fraction | None:
    """Milligrams of pure substance in a milligram or microlitre; None where that takes a density and nobody said it."""
    if measure == Measure.MASS:
        return purity
    return None if density_ug_per_ul is None else purity * density_ug_per_ul / 1000


def to_step(exact: Fraction, step: int) -> int:
    """Round to a whole number of steps, halves up."""
    return floor(exact / step + Fraction(1, 2)) * step


@dataclass(frozen=True)
class Dissolved:
    """What a litre of solution holds: milligrams of a pure substance, or microlitres of a liquid whose density nobody said."""

    name: str
    measure: Measure
    per_litre: Fraction


def concentrations(recipe: Recipe) -> tuple[Dissolved, ...]:
    """Return what a litre of the finished solution holds, before anything is mixed with it.

    Water and liquids are taken to add up, and powders to take no room of their own where they are added to a volume of water.
    """
    whole_ul = recipe.volume_ul
    if recipe.basis == Basis.ADDED_TO:
        whole_ul += sum(one.amount for one in recipe.components if one.measure == Measure.VOLUME)
    found = []
    for component in recipe.components:
        per_litre = recipe.share(component) * UL_PER_LITRE
        if component.measure != Measure.PART:
            per_litre = Fraction(component.amount * UL_PER_LITRE, whole_ul)
        mass = _mass_per_unit(component.measure, component.purity, component.density_ug_per_ul)
        found.append(
            Dissolved(component.name, Measure.VOLUME, per_litre)
            if mass is None
            else Dissolved(component.name, Measure.MASS, per_litre * mass)
        )
    return tuple(found)


def mixed(solutions: Iterable[tuple[Iterable[Dissolved], Fraction]]) -> tuple[Dissolved, ...]:
    """Return what a litre of a mixture holds: each solution's own, times the share that it has of the mixture.

    Volumes are taken to add up, which for thin watery solutions is true to a percent.

    >>> mixed([([Dissolved("metol", Measure.MASS, Fraction(4000))], Fraction(1, 2))])[0].per_litre
    Fraction(2000, 1)
    """
    found: dict[tuple[str, Measure], Fraction] = {}
    for solution, share in solutions:
        for one in solution:
            key = (one.name, one.measure)
            found[key] = found.get(key, Fraction(0)) + one.per_litre * share
    return tuple(Dissolved(name, measure, per_litre) for (name, measure), per_litre in found.items())


def opened(recipe: Recipe, recipes: Mapping[str, Recipe]) -> tuple[Dissolved, ...]:
    """Return what a litre of the finished solution holds, with the solutions in it opened up to what they hold themselves.

    `recipes` are known by their names in small letters. A solution without a recipe stays as it is, and so does one that would have
    to be opened more than `DEEPEST` times over.
    """
    return _opened(recipe, recipes, DEEPEST)


def _opened(recipe: Recipe, recipes: Mapping[str, Recipe], deep: int) -> tuple[Dissolved, ...]:
    found: list[tuple[Iterable[Dissolved], Fraction]] = []
    for one in concentrations(recipe):
        made_of = recipes.get(one.name.lower()) if one.measure == Measure.VOLUME and deep else None
        if made_of is None:
            found.append(((one,), Fraction(1)))
        else:
            found.append((_opened(made_of, recipes, deep - 1), one.per_litre / UL_PER_LITRE))
    return mixed(found)


def largest_volume_ul(
    recipe: Recipe, on_hand: Mapping[str, int], shelf: Mapping[str, Form] | None = None
) -> tuple[int, str] | None:
    """Return the largest volume that what is on hand makes, in whole microlitres, and the component that runs out first.

    `on_hand` is milligrams or microlitres of components as they stand on the shelf; of one that is not named there is enough. None
    where there is enough of all.
    """
    volumes = []
    for component in recipe.components:
        if component.name in on_hand:
            form = (shelf or {}).get(component.name, _as_called_for(component))
            per_ul = recipe.share(component) * taken_per_unit(component, form)
            volumes.append((floor(on_hand[component.name] / per_ul), component.name))
    return min(volumes, default=None)


def amount_of(text: str) -> tuple[int, Measure]:
    """Return an amount as people write it, such as 4 g, 70 mL or 1 part. Raises ValueError with a sentence.

    >>> amount_of("0.5 g")
    (500, <Measure.MASS: 'mass'>)
    """
    typed = text.strip()
    if asked := asked_back(typed):
        raise ValueError(asked)
    if _PARTS.fullmatch(typed):
        message = "That is a whole mixture. Please write each solution on its own line, such as 1 part."
        raise ValueError(message)
    if found := _PART.fullmatch(typed):
        parts = int(found[1])
        if not 0 < parts <= MOST_PARTS:
            message = f"Please write from 1 to {MOST_PARTS} parts."
            raise ValueError(message)
        return parts, Measure.PART
    is_volume = re.search(r"[lL]$", typed) is not None
    amount = volume_ul(typed) if is_volume else mass_mg(typed)
    if not amount:
        message = "That is nothing, or less than can be kept. Please write more, or clear the line."
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


def asked_back(text: str) -> str:
    """Return a sentence for a ratio such as 1:4, which says two things; empty for any other text.

    Some mean one part and four others by it, and some one part in four.
    """
    ratio = _RATIO.fullmatch(text.strip())
    if ratio is None:
        return ""
    one, other = (Decimal(number.replace(",", ".")) for number in ratio.groups())
    together = f"{one}+{other} ({one} and {other} parts, {one + other} in all)"
    if other <= one:
        return f"“{text.strip()}” is a ratio. Please write its parts as {together}."
    return (
        f"“{text.strip()}” is read in two ways. Please write the one that is meant: {together}, or {one}+{other - one}"
        f" ({one} in {other} parts)."
    )


def parts_of(text: str) -> tuple[int, ...]:
    """Return the parts of a mixture written as a sum, such as 1+1 or 1+3. Raises ValueError with a sentence.

    A ratio such as 1:4 is asked back.

    >>> parts_of("1 + 3")
    (1, 3)
    """
    if asked := asked_back(text):
        raise ValueError(asked)
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
    return f"{digits(mg_per_litre / MG_PER_GRAM, most=3)} g/L"
