"""Taking the components of a batch from what stands on the shelf: how much of which bottle, and how much water fills it up.

Masses are milligrams, volumes microlitres. What a component calls for is exact; what is taken is a whole amount in the unit of its
bottle, rounded once to the step of the balance or the graduate.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from server.core.recipe import Basis, Measure, Recipe, to_step
from server.core.working_solution import end_of_life

# Assumed: a share of what is called for that careful weighing and measuring in a teaching lab stay within.
TOLERANCE = Fraction(2, 100)


@dataclass(frozen=True)
class Supply:
    """What stands for a component: `left` of it in its own unit, `factor` of it for one unit of the component.

    `measured` is what was really taken of it; None takes what is called for.
    """

    left: int
    measure: Measure
    factor: Fraction = Fraction(1)
    measured: int | None = None


@dataclass(frozen=True)
class Steps:
    """The smallest steps that are read: of the balance in milligrams, of the graduate in microlitres."""

    balance_mg: int = 10
    graduate_ul: int = 1_000

    def of(self, measure: Measure) -> int:
        return self.balance_mg if measure == Measure.MASS else self.graduate_ul


@dataclass(frozen=True)
class Taken:
    """Amounts of each supply in its own unit; `called_for` and `given` are in the component's. `off`: worth asking back."""

    amounts: tuple[int, ...]
    called_for: Fraction
    given: Fraction
    off: bool

    @property
    def error(self) -> Fraction:
        """How much too much was given, as a share; below zero too little."""
        return self.given / self.called_for - 1


def take(*, called_for: Fraction, supplies: Sequence[Supply], steps: Steps) -> Taken:
    """Take a component from its supplies in their order.

    What was measured stands. Of the others each gives what is still called for, rounded to its step, or all that is left of it. The
    result is off when it differs from what is called for by more than a step of what it was measured with and by more than
    `TOLERANCE`. A step counts as half of what is called for at most: what the balance or graduate can't tell from nothing is off.

    >>> take(called_for=Fraction(300_000), supplies=[Supply(200_000, Measure.VOLUME), Supply(500_000, Measure.VOLUME)], steps=Steps()).amounts
    (200000, 100000)
    """
    known = sum(
        (supply.measured / supply.factor for supply in supplies if supply.measured is not None), Fraction()
    )
    missing = called_for - known
    amounts = []
    for supply in supplies:
        amount = supply.measured
        if amount is None:
            wanted = max(missing, Fraction()) * supply.factor
            amount = min(supply.left, to_step(wanted, steps.of(supply.measure)))
            missing -= amount / supply.factor
        amounts.append(amount)
    given = sum(
        (amount / supply.factor for amount, supply in zip(amounts, supplies, strict=True)), Fraction()
    )
    coarsest = max(steps.of(supply.measure) / supply.factor for supply in supplies)
    off = abs(given - called_for) > max(min(coarsest, called_for / 2), called_for * TOLERANCE)
    return Taken(tuple(amounts), called_for, given, off)


@dataclass(frozen=True)
class Filled:
    """A whole batch: its volume, and how much of it is water."""

    volume_ul: int
    water_ul: int


def fill_up(recipe: Recipe, *, volume_ul: int, liquids_ul: int) -> Filled | None:
    """Return what liquids of so many microlitres become by the recipe; None when they alone are more than the volume.

    Parts fill the volume between them, so the batch is what was poured together. What is made up to a volume is filled with water;
    what is added to a volume of water comes on top of it. Powders are taken to need no room of their own beside that.
    """
    if recipe.parts:
        return Filled(liquids_ul, 0)
    if recipe.basis == Basis.ADDED_TO:
        return Filled(volume_ul + liquids_ul, volume_ul)
    return Filled(volume_ul, volume_ul - liquids_ul) if liquids_ul <= volume_ul else None


def end_of_batch(*, mixed_at: datetime, life_s: int, ends_of_sources: Iterable[datetime]) -> datetime:
    """The UTC instant at which a batch ends: its life after mixing, or before that the first end of what it was mixed from."""
    return min([end_of_life(mixed_at=mixed_at, life_s=life_s), *ends_of_sources])
