"""Strengths of solutions, against the printed answers of a textbook.

Source of the worked examples unless said otherwise: OpenStax, Chemistry 2e (CC BY 4.0), sections 3.3 (Molarity) and 3.4 (Other units for
solution concentrations). The figures are the book's, and the tolerance is its rounding to three digits.
"""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.concentration import (
    mass_by_weight_percent,
    mass_for_molarity,
    molarity_by_weight_percent,
    molarity_of,
    stock_needed,
    volume_by_weight_percent,
    volume_of_molarity,
)
from server.core.molar_mass import molar_mass

ML, LITRE, GRAM = 1000, 1_000_000, 1000
STRENGTHS = st.fractions(Fraction(1, 1000), 20, max_denominator=1000)
VOLUMES = st.integers(1, 50 * LITRE)


def three_digits(expected: float) -> object:
    return pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize(
    ("formula", "grams", "millilitres", "printed"),
    [
        ("C2H4O2", "25.2", 500, 0.839),
        ("Na2SO4·10H2O", "10500", 18_600, 1.75),
        ("Ca(OH)2", "0.2074", 40, 0.06998),
        ("KMnO4", "0.0908", 500, 1.15e-3),
    ],
)
def test_a_mass_in_a_volume_has_its_molarity(
    formula: str, grams: str, millilitres: int, printed: float
) -> None:
    """The second needs the water of crystallisation in its molar mass."""
    found = molarity_of(
        mass_mg=Decimal(grams) * GRAM, volume_ul=millilitres * ML, molar_mass=molar_mass(formula)
    )

    assert float(found) == three_digits(printed)


def test_cobalt_chloride_with_the_molar_mass_the_book_prints() -> None:
    found = molarity_of(mass_mg=6520, volume_ul=75 * ML, molar_mass=Decimal("128.9"))

    assert float(found) == three_digits(0.674)


@pytest.mark.parametrize(
    ("formula", "molarity", "millilitres", "printed"),
    [("NaCl", "5.30", 250, 77.4), ("CaCl2", "0.200", 250, 5.55)],
)
def test_a_volume_of_so_many_mol_per_litre_holds_its_mass(
    formula: str, molarity: str, millilitres: int, printed: float
) -> None:
    """The book warns of 77.1 g, which comes of rounding the moles on the way."""
    found = mass_for_molarity(
        molarity=Decimal(molarity), volume_ul=millilitres * ML, molar_mass=molar_mass(formula)
    )

    assert round(float(found) / GRAM, 1 if printed > 10 else 2) == printed


def test_the_volume_that_holds_a_mass_of_potassium_bromide() -> None:
    found = volume_of_molarity(mass_mg=66 * GRAM, molarity=Decimal("1.50"), molar_mass=molar_mass("KBr"))

    assert float(found) / LITRE == three_digits(0.370)


@pytest.mark.parametrize(
    ("strong", "weak", "litres", "printed"),
    [("1.59", "0.100", "5.00", 0.314), ("5.00", "2.3611", "1.80", 0.850)],
)
def test_a_dilution_takes_so_much_of_the_stock(strong: str, weak: str, litres: str, printed: float) -> None:
    found = stock_needed(strong=Decimal(strong), wanted=Decimal(weak), volume_ul=int(Decimal(litres) * LITRE))

    assert float(found) / LITRE == three_digits(printed)


def test_hydrochloric_acid_by_weight_percent_and_density() -> None:
    """Half a litre of 37.2 % acid of 1.19 g/mL holds 221 g; 282 mL of it hold 125 g."""
    acid = {"percent": Decimal("37.2"), "density": Decimal("1.19")}

    assert float(mass_by_weight_percent(volume_ul=500 * ML, **acid)) / GRAM == three_digits(221)
    assert float(volume_by_weight_percent(mass_mg=125 * GRAM, **acid)) / ML == three_digits(282)


def test_sodium_hydroxide_needs_its_purity_and_the_density() -> None:
    """A litre of 10.0 % solution of 1.109 g/mL takes 114 g of pellets that are 97.0 % pure."""
    found = mass_by_weight_percent(
        percent=10, volume_ul=LITRE, density=Decimal("1.109"), purity=Decimal("0.970")
    )

    assert float(found) / GRAM == three_digits(114)


@pytest.mark.parametrize(
    ("formula", "percent", "density", "printed"),
    [
        ("C2H4O2", "99.5", "1.05", 17.4),
        ("H2SO4", "96", "1.84", 18.0),
        ("NaOH", "50", "1.53", 19.1),
        ("HCl", "36", "1.18", 11.6),
    ],
)
def test_a_bottle_of_so_many_percent_by_weight_has_its_molarity(
    formula: str, percent: str, density: str, printed: float
) -> None:
    """Source: OpenStax, Chemistry 2e, appendix F, composition of commercial acids and bases."""
    found = molarity_by_weight_percent(
        percent=Decimal(percent), density=Decimal(density), molar_mass=molar_mass(formula)
    )

    assert float(found) == three_digits(printed)


@pytest.mark.parametrize(("wanted", "of_the_strong"), [(20, Fraction(1, 3)), (30, 1), (15, 0)])
def test_two_strengths_make_one_between(wanted: int, of_the_strong: Fraction) -> None:
    """Source: a worked alligation, howded.com: 30 % and 15 % make 20 % at 5 parts to 10."""
    found = stock_needed(strong=30, wanted=wanted, with_strength=15, volume_ul=LITRE)

    assert found == of_the_strong * LITRE


@pytest.mark.parametrize(("strong", "wanted", "weak"), [(1, 2, 0), (30, 10, 15), (15, 15, 15), (30, 0, 0)])
def test_nothing_is_mixed_to_a_strength_outside_the_two(strong: int, wanted: int, weak: int) -> None:
    with pytest.raises(ValueError, match="lie between the two"):
        stock_needed(strong=strong, wanted=wanted, with_strength=weak, volume_ul=LITRE)


@given(STRENGTHS, VOLUMES)
def test_mass_and_molarity_are_each_others_inverse(molarity: Fraction, volume_ul: int) -> None:
    salt = molar_mass("KBr")
    mass_mg = mass_for_molarity(molarity=molarity, volume_ul=volume_ul, molar_mass=salt)

    assert molarity_of(mass_mg=mass_mg, volume_ul=volume_ul, molar_mass=salt) == molarity
    assert volume_of_molarity(mass_mg=mass_mg, molarity=molarity, molar_mass=salt) == volume_ul


@given(STRENGTHS, STRENGTHS, STRENGTHS, VOLUMES)
def test_mixing_neither_makes_nor_loses_substance(
    one: Fraction, other: Fraction, third: Fraction, volume_ul: int
) -> None:
    weak, wanted, strong = sorted((one, other, third))
    if weak == strong:
        return
    taken = stock_needed(strong=strong, wanted=wanted, with_strength=weak, volume_ul=volume_ul)

    assert 0 <= taken <= volume_ul
    assert taken * strong + (volume_ul - taken) * weak == volume_ul * wanted
