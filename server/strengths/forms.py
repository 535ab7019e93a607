"""What is typed to compute a strength."""

from decimal import Decimal
from typing import Annotated

from pydantic import BeforeValidator, Field

from server.core.concentration import Unit
from server.core.recipe import parts_of
from server.recipes.forms import Amount, Density, Formula, SomeMass, SomeVolume
from server.web.submitted import Form


def _parts(typed: object) -> tuple[int, ...]:
    return parts_of(str(typed))


Parts = Annotated[tuple[int, ...], BeforeValidator(_parts)]
# Finer than anything is weighed. Without an end, 1e-999999 would be worked out to its last digit.
MOST_PLACES = 9
Percent = Annotated[Decimal, Field(gt=0, le=100, decimal_places=MOST_PLACES)]
Strength = Annotated[Decimal, Field(gt=0, le=1000, decimal_places=MOST_PLACES)]


class HydrateSwap(Form):
    """Another form of a salt than the recipe calls for."""

    swap_mass: SomeMass
    called_for: Formula
    on_the_shelf: Formula
    swap_purity: Percent = Decimal(100)


class Thinning(Form):
    """A strong solution made weaker with water or a weaker one; one of the four figures is left empty. Strengths in the same unit."""

    strong: Strength | None = None
    taken: SomeVolume | None = None
    wanted: Strength | None = None
    diluted_volume: SomeVolume | None = None
    with_strength: Annotated[Decimal, Field(ge=0, le=1000, decimal_places=MOST_PLACES)] = Decimal(0)


class MixtureInParts(Form):
    """A mixture in parts, and how much of it; the strength of its first part, thinned by the others."""

    parts: Parts
    parts_volume: SomeVolume
    parts_strength: Strength | None = None


class SaidStrength(Form):
    """A strength in one unit, and what the others need; a volume asks for the mass in it, a mass for the volume that holds it."""

    strength: Annotated[Decimal, Field(gt=0, le=1_000_000_000, decimal_places=MOST_PLACES)]
    unit: Unit
    strength_formula: Formula | None = None
    strength_density: Density | None = None
    pure_density: Density | None = None
    equivalents: Annotated[int, Field(ge=1, le=12)] = 1
    strength_amount: Amount | None = None
    strength_purity: Percent = Decimal(100)


class WeighedStrength(Form):
    """What was weighed, and what it went into: the volume it was made up to, or the mass of the water it was added to."""

    weighed: SomeMass
    weighed_into: Amount
    weighed_purity: Percent = Decimal(100)
    weighed_formula: Formula | None = None
    weighed_density: Density | None = None
