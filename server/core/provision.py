"""Providing for a mixing from the shelf: what is drawn from where, what is made first by a recipe of its own, and what is missing.

Masses are milligrams, volumes microlitres, as exact fractions; what is drawn is rounded up to whole ones.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from math import ceil

from server.core.recipe import Component, Measure, Recipe
from server.core.shelf import OnShelf, stands_for

# Stock solutions are made in whole steps of a graduate.
_STEP_UL = 1_000
# A stock solution of a stock solution of a stock solution: over any lab's recipes, and a recipe that calls for itself ends here.
_DEEPEST = 3


@dataclass(frozen=True)
class Held:
    """A bottle or a batch that may be drawn from, up to the last good day `good_until` (None: no day is on it)."""

    key: str
    name: str
    good_until: date | None
    content: OnShelf


@dataclass(frozen=True)
class Draw:
    """So much, in the unit of its bottle or batch, out of it."""

    key: str
    name: str
    amount: int
    measure: Measure


@dataclass(frozen=True)
class Made:
    """A component that is mixed first, because what is there of it does not reach."""

    name: str
    volume_ul: int
    parts: tuple["Provided", ...]


@dataclass(frozen=True)
class Provided:
    """A component: `needed` of it, in its own unit, where it comes from, and how much is `short`. `into` is what it goes into."""

    name: str
    into: str
    measure: Measure
    needed: Fraction
    draws: tuple[Draw, ...]
    made: Made | None
    short: Fraction


def provide(
    recipe: Recipe,
    name: str,
    *,
    volume_ul: int,
    held: Sequence[Held],
    recipes: Mapping[str, Recipe],
    day: date,
    deep: int = 0,
) -> tuple[tuple[Provided, ...], tuple[Held, ...]]:
    """Provide `volume_ul` of a recipe, called `name`, from what is held on `day`, and return what is held after that.

    Whatever stands for a component is drawn, the first to end first. A liquid that does not reach is made by its own recipe, looked up
    in `recipes` by its name in small letters, and its components are provided in turn.
    """
    found = []
    for component in recipe.components:
        needed = recipe.share(component) * volume_ul
        draws, missing, held = _draw(component, needed, held, day)
        made = None
        own = recipes.get(component.name.casefold())
        if missing and own is not None and component.measure != Measure.MASS and deep < _DEEPEST:
            made_ul = ceil(missing / _STEP_UL) * _STEP_UL
            parts, held = provide(
                own, component.name, volume_ul=made_ul, held=held, recipes=recipes, day=day, deep=deep + 1
            )
            made, missing = Made(component.name, made_ul, parts), Fraction()
        measure = Measure.MASS if component.measure == Measure.MASS else Measure.VOLUME
        found.append(Provided(component.name, name, measure, needed, draws, made, missing))
    return tuple(found), tuple(held)


def _draw(
    component: Component, needed: Fraction, held: Sequence[Held], day: date
) -> tuple[tuple[Draw, ...], Fraction, tuple[Held, ...]]:
    """What is drawn for a component, what is still missing of it, and what is held then."""
    missing, draws, after = needed, [], {one.key: one for one in held}
    for one in sorted(held, key=lambda one: (one.good_until or date.max, one.key)):
        factor = stands_for(component, one.content)
        if factor is None or not missing or (one.good_until is not None and one.good_until < day):
            continue
        amount = min(one.content.amount, ceil(missing * factor))
        if amount:
            draws.append(Draw(one.key, one.name, amount, one.content.measure))
            missing = max(Fraction(), missing - amount / factor)
            after[one.key] = replace(one, content=replace(one.content, amount=one.content.amount - amount))
    return tuple(draws), missing, tuple(after.values())


def all_made(provided: Sequence[Provided]) -> tuple[Made, ...]:
    """Return everything that is made first, what goes into another before that other."""
    found: list[Made] = []
    for one in provided:
        if one.made is not None:
            found += [*all_made(one.made.parts), one.made]
    return tuple(found)


def all_short(provided: Sequence[Provided]) -> tuple[Provided, ...]:
    """Return every component that is short, at whatever depth."""
    found: list[Provided] = []
    for one in provided:
        if one.short:
            found.append(one)
        if one.made is not None:
            found += all_short(one.made.parts)
    return tuple(found)
