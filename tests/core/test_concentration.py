"""Strengths of solutions, against the printed answers of a textbook.

Source of the worked examples unless said otherwise: OpenStax, Chemistry 2e (CC BY 4.0), sections 3.3 (Molarity) and 3.4 (Other units for
solution concentrations). The figures are the book's, and the tolerance is its rounding to three digits.
"""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from server.core.concentration import (
    Dilution,
    Facts,
    Missing,
    Unit,
    alligation,
    dilute,
    grams_per_litre,
    in_unit,
    made_up,
    mass_in,
    share_of_mass,
    volume_holding,
)
from server.core.molar_mass import molar_mass

ML, LITRE, GRAM = 1000, 1_000_000, 1000
STRENGTHS = st.fractions(Fraction(1, 1000), 20, max_denominator=1000)
VOLUMES = st.integers(1, 50 * LITRE)
FACTS = Facts(
    molar_mass=Decimal("98.072"), density=Decimal("1.84"), pure_density=Decimal("1.05"), equivalents=2
)


def three_digits(expected: float) -> object:
    return pytest.approx(expected, rel=0.005)


def known(found: Fraction | Missing) -> Fraction:
    assert isinstance(found, Fraction), found
    return found


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
    strength = made_up(mass_mg=Decimal(grams) * GRAM, volume_ul=millilitres * ML)

    assert float(known(in_unit(strength, Unit.MOLAR, Facts(molar_mass(formula))))) == three_digits(printed)


def test_copper_sulfate_in_a_small_volume() -> None:
    """A question of the same book without a printed answer; hand calculation: 2760 g ÷ 249.677 g/mol ÷ 1.45 L = 7.62 mol/L."""
    strength = made_up(mass_mg=2_760 * GRAM, volume_ul=1_450 * ML)

    assert float(known(in_unit(strength, Unit.MOLAR, Facts(molar_mass("CuSO4·5H2O"))))) == three_digits(7.62)


def test_so_many_moles_in_a_volume() -> None:
    """0.133 mol of a sugar in 355 mL are 0.375 mol/L, whatever a mole of it weighs."""
    sugar = molar_mass("C12H22O11")
    strength = made_up(mass_mg=Decimal("0.133") * sugar * GRAM, volume_ul=355 * ML)

    assert float(known(in_unit(strength, Unit.MOLAR, Facts(sugar)))) == three_digits(0.375)


def test_cobalt_chloride_with_the_molar_mass_the_book_prints() -> None:
    strength = made_up(mass_mg=6520, volume_ul=75 * ML)

    assert float(known(in_unit(strength, Unit.MOLAR, Facts(Decimal("128.9"))))) == three_digits(0.674)


@pytest.mark.parametrize(
    ("formula", "molarity", "millilitres", "printed"),
    [("NaCl", "5.30", 250, 77.4), ("CaCl2", "0.200", 250, 5.55)],
)
def test_a_volume_of_so_many_mol_per_litre_holds_its_mass(
    formula: str, molarity: str, millilitres: int, printed: float
) -> None:
    """The book warns of 77.1 g, which comes of rounding the moles on the way."""
    strength = known(grams_per_litre(Decimal(molarity), Unit.MOLAR, Facts(molar_mass(formula))))
    found = mass_in(grams_per_litre=strength, volume_ul=millilitres * ML)

    assert round(float(found) / GRAM, 1 if printed > 10 else 2) == printed


def test_the_volume_that_holds_a_mass_of_potassium_bromide() -> None:
    strength = known(grams_per_litre(Decimal("1.50"), Unit.MOLAR, Facts(molar_mass("KBr"))))

    assert float(volume_holding(grams_per_litre=strength, mass_mg=66 * GRAM)) / LITRE == three_digits(0.370)


@pytest.mark.parametrize(
    ("strong", "taken", "wanted", "litres", "printed"),
    [
        ("5.00", "0.850", None, "1.80", 2.36),
        ("0.45", "0.011", "0.12", None, 0.041),
        ("1.59", None, "0.100", "5.00", 0.314),
        ("3.00", "0.05000", "0.575", None, 0.261),
        # Without a printed answer; hand calculations of what boiled away: 0.150 L × 0.556 ÷ 0.105 L and 225.5 mL × 0.09988 ÷ 45 mL.
        (None, "0.105", "0.556", "0.150", 0.794),
        (None, "0.045", "0.09988", "0.2255", 0.5005),
    ],
)
def test_a_dilution_gives_the_figure_that_is_left_open(
    strong: str | None, taken: str | None, wanted: str | None, litres: str | None, printed: float
) -> None:
    given_figures = [None if one is None else Fraction(one) for one in (strong, taken, wanted, litres)]
    found = dilute(
        strong=given_figures[0],
        taken_ul=given_figures[1],
        wanted=given_figures[2],
        volume_ul=given_figures[3],
    )
    solved = (found.strong, found.taken_ul, found.wanted, found.volume_ul)[given_figures.index(None)]

    assert float(solved) == pytest.approx(printed, rel=0.015 if printed == 0.041 else 0.005)


def test_hydrochloric_acid_by_weight_percent_and_density() -> None:
    """Half a litre of 37.2 % acid of 1.19 g/mL holds 221 g; 282 mL of it hold 125 g."""
    strength = known(grams_per_litre(Decimal("37.2"), Unit.WEIGHT, Facts(density=Decimal("1.19"))))

    assert float(mass_in(grams_per_litre=strength, volume_ul=500 * ML)) / GRAM == three_digits(221)
    assert float(volume_holding(grams_per_litre=strength, mass_mg=125 * GRAM)) / ML == three_digits(282)


def test_sodium_hydroxide_needs_its_purity_and_the_density() -> None:
    """A litre of 10.0 % solution of 1.109 g/mL takes 114 g of pellets that are 97.0 % pure."""
    strength = known(grams_per_litre(10, Unit.WEIGHT, Facts(density=Decimal("1.109"))))
    found = mass_in(grams_per_litre=strength, volume_ul=LITRE, purity=Decimal("0.970"))

    assert float(found) / GRAM == three_digits(114)


def test_a_percent_by_weight_comes_of_what_was_weighed_together() -> None:
    """135 g of hydrogen chloride and 775 g of water are 14.8 %."""
    assert float(share_of_mass(mass_mg=135 * GRAM, solvent_mg=775 * GRAM)) == three_digits(0.148)


def test_traces_are_said_in_parts_per_million_and_per_billion() -> None:
    """0.48 mg in 50.0 g are 9.6 ppm and 9600 ppb; 300 mL of 15 ppb hold 4.5 µg, at the density of water."""
    water = Facts(density=1)
    strength = Fraction(48, 100) / 50_000 * 1000  # a litre is a thousand grams

    assert in_unit(strength, Unit.PPM, water) == Fraction(96, 10)
    assert in_unit(strength, Unit.PPB, water) == 9600
    lead = known(grams_per_litre(15, Unit.PPB, water))
    assert mass_in(grams_per_litre=lead, volume_ul=300 * ML) * 1000 == Fraction(45, 10)


@pytest.mark.parametrize(
    ("formula", "percent", "density", "printed"),
    [
        ("C2H4O2", "99.5", "1.05", 17.4),
        ("H2SO4", "96", "1.84", 18.0),
        ("NaOH", "50", "1.53", 19.1),
        ("HCl", "36", "1.18", 11.6),
        ("NH3", "28", "0.90", 14.8),
    ],
)
def test_a_bottle_of_so_many_percent_by_weight_has_its_molarity(
    formula: str, percent: str, density: str, printed: float
) -> None:
    """Source: OpenStax, Chemistry 2e, appendix F, composition of commercial acids and bases."""
    facts = Facts(molar_mass(formula), Decimal(density))
    strength = known(grams_per_litre(Decimal(percent), Unit.WEIGHT, facts))

    assert float(known(in_unit(strength, Unit.MOLAR, facts))) == three_digits(printed)
    assert known(in_unit(strength, Unit.WEIGHT, facts)) == Fraction(percent)


def test_a_salt_solution_of_nine_tenths_of_a_percent_by_volume_of_solution() -> None:
    """Section 3.4: 0.9 % m/v is 0.9 g in every 100 mL of solution."""
    assert grams_per_litre(Fraction(9, 10), Unit.WEIGHT_BY_VOLUME, Facts()) == 9


def test_a_normal_solution_counts_what_a_mole_stands_for() -> None:
    """Hand calculation: sulfuric acid gives two acid hydrogens, so 18.0 mol/L are 36 normal."""
    acid = Facts(molar_mass("H2SO4"), Decimal("1.84"), equivalents=2)
    strength = known(grams_per_litre(96, Unit.WEIGHT, acid))

    assert float(known(in_unit(strength, Unit.NORMAL, acid))) == three_digits(36.0)


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        (Unit.MOLAR, "mol/L needs the formula"),
        (Unit.NORMAL, "N needs the formula"),
        (Unit.WEIGHT, "needs its density"),
        (Unit.PPM, "needs its density"),
        (Unit.VOLUME, "density of the pure liquid"),
    ],
)
def test_what_a_unit_needs_is_said_where_it_is_missing(unit: Unit, words: str) -> None:
    found = grams_per_litre(1, unit, Facts())

    assert isinstance(found, Missing)
    assert words in found.sentence
    assert in_unit(Fraction(1), unit, Facts()) == found


def test_two_strengths_make_one_between() -> None:
    """Source: a worked alligation, howded.com: 30 % and 15 % make 20 % at 5 parts to 10."""
    assert alligation(strong=30, wanted=20, weak=15) == (1, 2)
    assert dilute(strong=30, taken_ul=None, wanted=20, volume_ul=LITRE, weak=15).taken_ul == Fraction(
        LITRE, 3
    )


def test_a_published_approximation_is_kept_apart_from_the_exact_dilution() -> None:
    """Source of the approximation: cjballphotography.org.uk, chemicals: three parts of glacial acetic acid and eight of water are called 28 %.

    Hand calculation: 3 ÷ 11 is 27.3 % by volume, and from acid of 99.5 % only 27.1 %; 28 % takes 281.4 mL in a litre.
    """
    called_28 = dilute(strong=Decimal("99.5"), taken_ul=3, wanted=None, volume_ul=11)
    exactly_28 = dilute(strong=Decimal("99.5"), taken_ul=None, wanted=28, volume_ul=LITRE)

    assert float(Fraction(3, 11)) == pytest.approx(0.273, abs=0.0005)
    assert float(called_28.wanted) == pytest.approx(27.1, abs=0.05)
    assert float(exactly_28.taken_ul) / ML == pytest.approx(281.4, abs=0.05)


@pytest.mark.parametrize(
    ("strong", "wanted", "weak"), [(1, 2, 0), (30, 10, 15), (15, 15, 15), (30, 0, 0), (30, 15, 15)]
)
def test_nothing_is_mixed_to_a_strength_outside_the_two(strong: int, wanted: int, weak: int) -> None:
    with pytest.raises(ValueError, match="lie between the two"):
        dilute(strong=strong, taken_ul=None, wanted=wanted, volume_ul=LITRE, weak=weak)
    with pytest.raises(ValueError, match="lie between the two"):
        alligation(strong=strong, wanted=wanted, weak=weak)


def test_more_than_is_made_can_t_be_taken() -> None:
    with pytest.raises(ValueError, match="lie between the two"):
        dilute(strong=1, taken_ul=2, wanted=None, volume_ul=1)


@pytest.mark.parametrize("figures", [(1, 1, 1, 1), (None, None, 1, 1), (None, None, None, None)])
def test_exactly_one_figure_is_left_open(figures: tuple[int | None, ...]) -> None:
    strong, taken_ul, wanted, volume_ul = figures
    with pytest.raises(ValueError, match="exactly one"):
        dilute(strong=strong, taken_ul=taken_ul, wanted=wanted, volume_ul=volume_ul)


@given(STRENGTHS, st.sampled_from(Unit), st.sampled_from(Unit))
def test_a_strength_said_in_another_unit_and_back_is_the_same(
    strength: Fraction, one: Unit, other: Unit
) -> None:
    there = known(in_unit(known(grams_per_litre(strength, one, FACTS)), other, FACTS))

    assert in_unit(known(grams_per_litre(there, other, FACTS)), one, FACTS) == strength


@given(STRENGTHS, VOLUMES, st.fractions(Fraction(1, 100), 1, max_denominator=100))
def test_mass_and_strength_are_each_others_inverse(grams: Fraction, volume_ul: int, purity: Fraction) -> None:
    mass_mg = mass_in(grams_per_litre=grams, volume_ul=volume_ul, purity=purity)

    assert made_up(mass_mg=mass_mg, volume_ul=volume_ul, purity=purity) == grams
    assert volume_holding(grams_per_litre=grams, mass_mg=mass_mg * purity) == volume_ul


@given(STRENGTHS, STRENGTHS, STRENGTHS, VOLUMES)
def test_mixing_neither_makes_nor_loses_substance(
    one: Fraction, other: Fraction, third: Fraction, volume_ul: int
) -> None:
    weak, wanted, strong = sorted((one, other, third))
    assume(weak < wanted < strong)
    found = dilute(strong=strong, taken_ul=None, wanted=wanted, volume_ul=volume_ul, weak=weak)

    assert 0 < found.taken_ul < volume_ul
    assert found.taken_ul * strong + (volume_ul - found.taken_ul) * weak == volume_ul * wanted
    parts = alligation(strong=strong, wanted=wanted, weak=weak)
    assert found.taken_ul == Fraction(volume_ul * parts[0], sum(parts))
    for left_open in ("strong", "taken_ul", "wanted", "volume_ul"):
        figures = {**vars(found), left_open: None}
        assert dilute(weak=weak, **figures) == found
    assert found == Dilution(strong, found.taken_ul, wanted, Fraction(volume_ul))
