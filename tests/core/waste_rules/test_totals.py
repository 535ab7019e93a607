"""A site's month, an area's and a laboratory's total, and the mass of a liquid."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.measuring import mass_of_mg
from server.core.waste_rules.finding import Verdict
from server.core.waste_rules.rule_book import book_on
from server.core.waste_rules.rule_sets import RULE_SETS
from server.core.waste_rules.totals import (
    Category,
    Masses,
    area_acute_liquid,
    area_acute_solid,
    area_total,
    generator_category,
    laboratory_acute_liquid,
    laboratory_acute_solid,
    laboratory_total,
    site_clock_total,
    site_month,
    site_total,
)
from server.core.waste_rules.united_states import ACADEMIC_LABORATORIES, LARGE, SMALL, VERY_SMALL

TODAY = date(2026, 9, 1)
KG = 1_000_000
GALLONS_55_UL = 208_197_648
SMALL_BOOK, VERY_SMALL_BOOK = book_on(SMALL, TODAY), book_on(VERY_SMALL, TODAY)


def _kg(acute: str, non_acute: str, spill: str) -> Masses:
    return Masses(*(int(Decimal(text) * KG) for text in (acute, non_acute, spill)))


@pytest.mark.parametrize(
    ("acute", "non_acute", "spill", "category"),
    [
        ("0", "100", "0", Category.VERY_SMALL),
        ("0", "100.01", "0", Category.SMALL),
        ("0", "999.99", "0", Category.SMALL),
        ("0", "1000", "0", Category.LARGE),
        ("1.0", "50", "0", Category.VERY_SMALL),
        ("1.01", "0", "0", Category.LARGE),
        ("0", "0", "100", Category.VERY_SMALL),
        ("0", "0", "100.1", Category.LARGE),
        ("0", "0", "0", Category.VERY_SMALL),
    ],
)
def test_a_month_s_category_keeps_to_the_table_exactly(
    acute: str, non_acute: str, spill: str, category: Category
) -> None:
    """40 CFR 262.13, table 1."""
    assert generator_category(SMALL_BOOK, _kg(acute, non_acute, spill)) == category


@pytest.mark.parametrize(
    ("mg", "category"), [(99_790_000, Category.VERY_SMALL), (997_900_000, Category.SMALL)]
)
def test_the_rounded_pounds_of_the_rule_are_not_its_limits(mg: int, category: Category) -> None:
    """220 lb are 99.79 kg and 2200 lb 997.90 kg: neither is a limit."""
    assert generator_category(SMALL_BOOK, Masses(non_acute_mg=mg)) == category


def test_one_milligram_more_makes_a_small_generator() -> None:
    assert generator_category(SMALL_BOOK, Masses(non_acute_mg=100 * KG)) == Category.VERY_SMALL
    assert generator_category(SMALL_BOOK, Masses(non_acute_mg=100 * KG + 1)) == Category.SMALL
    assert generator_category(SMALL_BOOK, Masses(non_acute_mg=1000 * KG - 1)) == Category.SMALL


_MASSES = st.builds(
    Masses, *(st.integers(0, 2000 * KG) | st.sampled_from([0, KG, 100 * KG, 1000 * KG]) for _ in range(3))
)


@given(_MASSES, _MASSES)
def test_more_waste_never_makes_a_smaller_category(one: Masses, more: Masses) -> None:
    before, after = (generator_category(SMALL_BOOK, masses) for masses in (one, one.plus(more)))

    assert before is not None
    assert after is not None
    assert not before.is_larger_than(after)


def test_a_lab_alone_never_makes_the_site_s_category() -> None:
    """40 CFR 262.13: the category is the whole site's."""
    found = site_month(SMALL_BOOK, lab=Masses(non_acute_mg=40 * KG), rest=None)

    assert (found.category, found.at_least, found.verdict) == (None, Category.VERY_SMALL, Verdict.UNKNOWN)
    assert "contribution" in found.says


def test_a_site_s_month_adds_what_the_rest_of_the_site_counted() -> None:
    found = site_month(SMALL_BOOK, lab=Masses(non_acute_mg=40 * KG), rest=Masses(non_acute_mg=60 * KG + 1))

    assert (found.category, found.verdict) == (Category.SMALL, Verdict.WITHIN)
    assert {rule.edition for rule in found.rules} == {"40 CFR 262.13, table 1; 40 CFR 260.10"}
    assert "acute > 1 kg, or non-acute ≥ 1000 kg, or spill residue > 100 kg: large" in found.formula
    assert ("this lab, non-acute", "40 kg") in [(given.name, given.value) for given in found.given]


def test_a_month_above_the_set_s_category_is_told_to_the_waste_office() -> None:
    lab, rest = Masses(non_acute_mg=40 * KG), Masses(non_acute_mg=70 * KG)

    assert site_month(VERY_SMALL_BOOK, lab=lab, rest=rest).verdict == Verdict.OVER
    assert site_month(SMALL_BOOK, lab=lab, rest=rest).verdict == Verdict.WITHIN
    assert site_month(book_on(LARGE, TODAY), lab=lab, rest=rest).verdict == Verdict.WITHIN
    assert site_month(book_on(ACADEMIC_LABORATORIES, TODAY), lab=lab, rest=rest).category == Category.SMALL


def test_a_lab_that_alone_is_above_the_set_s_category_need_not_wait_for_the_rest_of_the_site() -> None:
    """40 CFR 262.13: 150 kg are more than the 100 of a very small generator, whatever else the site made."""
    found = site_month(VERY_SMALL_BOOK, lab=Masses(non_acute_mg=150 * KG), rest=None)

    assert (found.category, found.at_least, found.verdict) == (None, Category.SMALL, Verdict.OVER)
    assert "at least a small quantity generator" in found.says
    assert site_month(SMALL_BOOK, lab=Masses(non_acute_mg=150 * KG), rest=None).verdict == Verdict.UNKNOWN


def test_a_set_without_categories_says_so() -> None:
    found = site_month(book_on(RULE_SETS["eu"], TODAY), lab=Masses(non_acute_mg=KG), rest=None)

    assert (found.category, found.verdict) == (None, Verdict.NO_NUMBER)


@pytest.mark.parametrize(
    ("volume_ul", "verdict"),
    [(GALLONS_55_UL, Verdict.WITHIN), (GALLONS_55_UL + 1, Verdict.OVER), (0, Verdict.WITHIN)],
)
def test_an_area_holds_55_gallons_and_no_drop_more(volume_ul: int, verdict: Verdict) -> None:
    """40 CFR 262.15(a): 55 gal = 208.198 L, for the whole area."""
    found = area_total(SMALL_BOOK, volume_ul=volume_ul)

    assert found.verdict == verdict
    assert "55 gal (208.198 L)" in found.says
    assert laboratory_total(book_on(ACADEMIC_LABORATORIES, TODAY), volume_ul=volume_ul).verdict == verdict


def test_an_area_holds_a_quart_or_a_kilogram_of_acute_waste() -> None:
    """40 CFR 262.15(a): one quart is 946.353 mL."""
    assert area_acute_liquid(SMALL_BOOK, volume_ul=946_352).verdict == Verdict.WITHIN
    assert area_acute_liquid(SMALL_BOOK, volume_ul=946_353).verdict == Verdict.OVER
    assert area_acute_solid(SMALL_BOOK, mass_mg=KG).verdict == Verdict.WITHIN
    assert area_acute_solid(SMALL_BOOK, mass_mg=KG + 1).verdict == Verdict.OVER


def test_an_academic_laboratory_holds_a_quart_or_a_kilogram_of_reactive_acute_material() -> None:
    """40 CFR 262.208(d)(2)."""
    book = book_on(ACADEMIC_LABORATORIES, TODAY)

    assert laboratory_acute_liquid(book, volume_ul=946_353).verdict == Verdict.OVER
    assert laboratory_acute_liquid(book, volume_ul=946_352).verdict == Verdict.WITHIN
    assert laboratory_acute_solid(book, mass_mg=KG + 1).verdict == Verdict.OVER
    assert laboratory_acute_solid(book, mass_mg=KG).verdict == Verdict.WITHIN


def test_a_very_small_generator_s_area_has_no_federal_limit() -> None:
    found = area_total(VERY_SMALL_BOOK, volume_ul=10**9)

    assert found.verdict == Verdict.NO_NUMBER
    assert "ask the waste office" in found.says


@pytest.mark.parametrize(
    ("kg", "runs", "over"), [(999, False, False), (1000, True, False), (6000, True, False)]
)
def test_a_very_small_generator_s_clock_runs_from_1000_kg_on_the_site(
    kg: int, runs: bool, over: bool
) -> None:
    """40 CFR 262.14(a)(4)."""
    lab, rest = 10 * KG, (kg - 10) * KG
    assert (site_clock_total(VERY_SMALL_BOOK, lab_mg=lab, rest_mg=rest).verdict == Verdict.REACHED) is runs
    assert (site_total(VERY_SMALL_BOOK, lab_mg=lab, rest_mg=rest).verdict == Verdict.OVER) is over
    assert site_total(VERY_SMALL_BOOK, lab_mg=lab + 1, rest_mg=5990 * KG).verdict == Verdict.OVER
    assert site_clock_total(SMALL_BOOK, lab_mg=lab, rest_mg=rest).verdict == Verdict.NO_NUMBER


def test_what_stands_on_the_site_is_not_known_from_one_lab() -> None:
    assert site_total(VERY_SMALL_BOOK, lab_mg=KG, rest_mg=None).verdict == Verdict.UNKNOWN
    assert site_clock_total(VERY_SMALL_BOOK, lab_mg=KG, rest_mg=None).verdict == Verdict.UNKNOWN
    assert site_total(VERY_SMALL_BOOK, lab_mg=6001 * KG, rest_mg=None).verdict == Verdict.OVER
    assert site_total(book_on(LARGE, TODAY), lab_mg=KG, rest_mg=None).verdict == Verdict.NO_NUMBER


def test_55_gallons_of_specific_gravity_1_05_weigh_what_the_guidance_says() -> None:
    """Washington's guidance on counting: specific gravity × 8.34 lb × gallons = 481.6 lb, 218.5 kg; within 0.1 %."""
    pounds = Decimal("1.05") * Decimal("8.34") * 55
    by_thumb_kg = pounds * Decimal("0.45359237")
    mass_kg = Decimal(mass_of_mg(GALLONS_55_UL, 1050)) / KG

    assert (round(pounds, 1), round(by_thumb_kg, 1)) == (Decimal("481.6"), Decimal("218.5"))
    assert abs(mass_kg / by_thumb_kg - 1) < Decimal("0.001")
