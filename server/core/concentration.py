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


def stock_needed(*, strong: Number, wanted: Number, volume_ul: int, with_strength: Number = 0) -> Fraction:
    """Return the microlitres of a strong solution that, made up to a volume with water or a weaker one, give the strength wanted.

    V₁ = V · (c − c₂) / (c₁ − c₂), which with water is c₁ · V₁ = c · V. Any unit of strength will do, the same for all. ValueError when
    what is wanted does not lie between the two.
    """
    if not with_strength <= wanted <= strong or with_strength == strong or not wanted:
        message = (
            "The strength wanted must lie between the two it is mixed from. Check which strength is which."
        )
        raise ValueError(message)
    weak = Fraction(with_strength)
    return (Fraction(wanted) - weak) / (Fraction(strong) - weak) * volume_ul


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
