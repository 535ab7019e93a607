"""Strengths of solutions: from one unit to any other, the mass in a volume, dilution, alligation.

Exact arithmetic throughout; whoever shows a number rounds it once, at the end. Volumes are microlitres, masses milligrams, molar
masses g/mol, densities g/mL; between units a strength is kept in g/L.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

Number = int | Decimal | Fraction

UL_PER_LITRE = 1_000_000
MG_PER_GRAM = 1000


class Unit(StrEnum):
    """The units in which bottles and recipes say a strength; all but the last four are shares of the solution's volume."""

    MOLAR = "mol/L"
    NORMAL = "N"
    GRAMS = "g/L"
    WEIGHT_BY_VOLUME = "% w/v"
    VOLUME = "% v/v"
    WEIGHT = "% w/w"
    PPM = "ppm"
    PPB = "ppb"


# Shares of the solution's mass, as parts of one.
_OF_MASS = {
    Unit.WEIGHT: Fraction(1, 100),
    Unit.PPM: Fraction(1, 1_000_000),
    Unit.PPB: Fraction(1, 1_000_000_000),
}


@dataclass(frozen=True)
class Facts:
    """What is known of a solution beside its strength; None where nobody said.

    `density` is the solution's, `pure_density` that of the liquid dissolved in it, `equivalents` the acid, base or electrons that a
    mole stands for.
    """

    molar_mass: Decimal | None = None
    density: Number | None = None
    pure_density: Number | None = None
    equivalents: int = 1


@dataclass(frozen=True)
class Missing:
    """Why a strength can't be said in a unit, as a sentence for a person."""

    sentence: str


def _grams_in_one(unit: Unit, facts: Facts) -> Fraction | Missing:
    """Grams per litre that one of the unit stands for."""
    if unit in _OF_MASS:
        if facts.density is None:
            return Missing(f"{unit} is a share of the solution's mass and needs its density.")
        return _OF_MASS[unit] * Fraction(facts.density) * 1000
    if unit == Unit.VOLUME:
        if facts.pure_density is None:
            return Missing("% v/v needs the density of the pure liquid.")
        return Fraction(facts.pure_density) * 10
    if unit in {Unit.MOLAR, Unit.NORMAL}:
        if facts.molar_mass is None:
            return Missing(f"{unit} needs the formula.")
        return Fraction(facts.molar_mass) / (facts.equivalents if unit == Unit.NORMAL else 1)
    return Fraction(10 if unit == Unit.WEIGHT_BY_VOLUME else 1)


def grams_per_litre(strength: Number, unit: Unit, facts: Facts) -> Fraction | Missing:
    """Return a strength in g/L: c · M, a tenth of % w/v, w · ρ, v · ρ of the pure liquid.

    >>> grams_per_litre(Fraction(9, 10), Unit.WEIGHT_BY_VOLUME, Facts())
    Fraction(9, 1)
    """
    one = _grams_in_one(unit, facts)
    return one if isinstance(one, Missing) else Fraction(strength) * one


def is_more_than_all(grams: Fraction, facts: Facts) -> bool:
    """Whether so many g/L are more than the solution weighs, or than the pure liquid does; false where no density is known.

    >>> is_more_than_all(Fraction(1200), Facts(density=Fraction(11, 10)))
    True
    """
    return any(
        density is not None and grams > Fraction(density) * 1000
        for density in (facts.density, facts.pure_density)
    )


def in_unit(grams: Fraction, unit: Unit, facts: Facts) -> Fraction | Missing:
    """Return a strength of so many g/L in another unit."""
    one = _grams_in_one(unit, facts)
    return one if isinstance(one, Missing) else grams / one


def mass_in(*, grams_per_litre: Fraction, volume_ul: int, purity: Number = 1) -> Fraction:
    """Return the milligrams of a substance, weighed at its purity, in a volume of solution: c · V / purity."""
    return grams_per_litre * MG_PER_GRAM * Fraction(volume_ul, UL_PER_LITRE) / Fraction(purity)


def volume_holding(*, grams_per_litre: Fraction, mass_mg: Number) -> Fraction:
    """Return the microlitres of a solution that hold a mass: m / c."""
    return Fraction(mass_mg) / MG_PER_GRAM / grams_per_litre * UL_PER_LITRE


def made_up(*, mass_mg: Number, volume_ul: int, purity: Number = 1) -> Fraction:
    """Return the g/L of a mass, weighed at its purity, made up to a volume: m · purity / V."""
    return Fraction(mass_mg) * Fraction(purity) / MG_PER_GRAM / Fraction(volume_ul, UL_PER_LITRE)


def share_of_mass(*, mass_mg: Number, solvent_mg: Number, purity: Number = 1) -> Fraction:
    """Return the share by mass of a substance, weighed at its purity, added to a solvent."""
    return Fraction(mass_mg) * Fraction(purity) / (Fraction(mass_mg) + Fraction(solvent_mg))


_BETWEEN = "The strength wanted must lie between the two it is mixed from. Check which strength is which."


@dataclass(frozen=True)
class Dilution:
    """So much of a strong solution, made up to a volume with water or a weaker one; strengths in any unit, the same for all."""

    strong: Fraction
    taken_ul: Fraction
    wanted: Fraction
    volume_ul: Fraction


def dilute(
    *,
    strong: Number | None,
    taken_ul: Number | None,
    wanted: Number | None,
    volume_ul: Number | None,
    weak: Number = 0,
) -> Dilution:
    """Return a dilution of which one figure is left open (None): (c₁ − w) · V₁ = (c₂ − w) · V₂, with w = 0 for water.

    ValueError with a sentence for a person when not exactly one is open, or when what comes out is no dilution: more taken than is
    made, or a strength that doesn't lie between the two.
    """
    given = (strong, taken_ul, wanted, volume_ul)
    if given.count(None) != 1:
        message = "Leave exactly one of the four empty: that one is worked out."
        raise ValueError(message)
    thinned = (
        Fraction(weak),
        Fraction(0),
        Fraction(weak),
        Fraction(0),
    )  # strengths count from that of what it is thinned with
    known = [Fraction(one) - w for one, w in zip(given, thinned, strict=True) if one is not None]
    if min(known) <= 0:
        raise ValueError(_BETWEEN)
    place = given.index(None)
    first, second, third = known if place < 2 else reversed(known)  # noqa: PLR2004 - the open one is on the strong side
    known.insert(place, second * third / first)
    if known[2] > known[0]:
        raise ValueError(_BETWEEN)
    return Dilution(*(one + w for one, w in zip(known, thinned, strict=True)))


def alligation(*, strong: Number, wanted: Number, weak: Number) -> tuple[int, int]:
    """Return the parts of the strong and of the weak solution that make the strength wanted, in smallest whole numbers.

    They are as the distances of the wanted strength to the other one. ValueError with a sentence unless it lies between the two.

    >>> alligation(strong=30, wanted=20, weak=15)
    (1, 2)
    """
    c1, c2, w = Fraction(strong), Fraction(wanted), Fraction(weak)
    if not w < c2 < c1:
        raise ValueError(_BETWEEN)
    parts = (c2 - w) / (c1 - c2)
    return parts.numerator, parts.denominator
