"""Amounts and strengths of solutions: molarity, percent by weight and volume, dilution.

Exact arithmetic throughout; whoever shows a number rounds it once, at the end. Volumes are microlitres, masses milligrams, molar
masses g/mol, densities g/mL and concentrations mol/L or mg/L, as fractions.
"""

from decimal import Decimal
from fractions import Fraction

Number = int | Decimal | Fraction

UL_PER_LITRE = 1_000_000
MG_PER_GRAM = 1000


def mass_for_molarity(*, molarity: Number, volume_ul: int, molar_mass: Decimal) -> Fraction:
    """Return the milligrams of a substance that make a volume so many mol/L strong: c · V · M."""
    return Fraction(molarity) * Fraction(volume_ul, UL_PER_LITRE) * Fraction(molar_mass) * MG_PER_GRAM


def molarity_of(*, mass_mg: Number, volume_ul: int, molar_mass: Decimal) -> Fraction:
    """Return the mol/L of a mass in a volume of solution: m / (M · V)."""
    return Fraction(mass_mg) / MG_PER_GRAM / Fraction(molar_mass) / Fraction(volume_ul, UL_PER_LITRE)


def volume_of_molarity(*, mass_mg: Number, molarity: Number, molar_mass: Decimal) -> Fraction:
    """Return the microlitres of a solution of so many mol/L that hold a mass: m / (M · c)."""
    return Fraction(mass_mg) / MG_PER_GRAM / Fraction(molar_mass) / Fraction(molarity) * UL_PER_LITRE


def stock_needed(*, strong: Number, weak: Number, volume_ul: int) -> Fraction:
    """Return the microlitres of a strong solution that, made up to a volume, give a weak one: c₁ · V₁ = c₂ · V₂.

    Any unit of strength will do, the same for both. ValueError when the weak one is not the weaker.
    """
    if not 0 < weak <= strong:
        message = "A solution can only be diluted to a weaker one. Check which strength is which."
        raise ValueError(message)
    return Fraction(weak) / Fraction(strong) * volume_ul


def mass_by_weight_percent(
    *, percent: Number, volume_ul: int, density: Number, purity: Number = 1
) -> Fraction:
    """Return the milligrams of a substance in a volume of a solution of so many percent by weight, weighed at its purity.

    w · ρ · V / purity; a gram per millilitre is a milligram per microlitre.
    """
    return Fraction(percent) / 100 * Fraction(density) * volume_ul / Fraction(purity)


def volume_by_weight_percent(*, mass_mg: Number, percent: Number, density: Number) -> Fraction:
    """Return the microlitres of a solution of so many percent by weight that hold a mass: m / (w · ρ)."""
    return Fraction(mass_mg) / (Fraction(percent) / 100 * Fraction(density))


def molarity_by_weight_percent(*, percent: Number, density: Number, molar_mass: Decimal) -> Fraction:
    """Return the mol/L of a solution of so many percent by weight: w · ρ / M, with the litre's thousand millilitres."""
    return Fraction(percent) / 100 * Fraction(density) * 1000 / Fraction(molar_mass)


def grams_per_litre_of_volume_percent(*, percent: Number) -> Fraction:
    """Return the g/L of so many percent by weight in volume: grams in a hundred millilitres of solution, ten times that in a litre."""
    return Fraction(percent) * 10


def parts_to_reach(*, strong: Number, weak: Number, between: Number) -> tuple[int, int]:
    """Return the parts of a strong and of a weak solution that give one between them, in lowest whole numbers (alligation).

    >>> parts_to_reach(strong=30, weak=15, between=20)
    (1, 2)
    """
    if not weak <= between <= strong or weak == strong:
        message = "The strength wanted must lie between the other two. Check the three numbers."
        raise ValueError(message)
    up, down = Fraction(between) - Fraction(weak), Fraction(strong) - Fraction(between)
    if not down:
        return 1, 0
    ratio = up / down
    return ratio.numerator, ratio.denominator
