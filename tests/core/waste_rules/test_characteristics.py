"""Measured pH, silver and chromium against their limits."""

from datetime import date
from decimal import Decimal
from typing import Protocol

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.waste_rules.carried import carried_into_rinse, chromium_mg_per_l, silver_mg_per_l
from server.core.waste_rules.characteristics import chromium, corrosivity, silver
from server.core.waste_rules.finding import Finding, Verdict
from server.core.waste_rules.rule_book import RuleBook, book_on
from server.core.waste_rules.rule_sets import RULE_SETS


class Metal(Protocol):
    def __call__(self, book: RuleBook, *, ug_per_l: int | None) -> Finding: ...


TODAY = date(2026, 9, 1)
US, EU, OFFICE = BOOKS = tuple(book_on(RULE_SETS[key], TODAY) for key in ("us-small", "eu", "waste-office"))


@pytest.mark.parametrize(
    ("ph_hundredths", "verdict"),
    [
        (200, Verdict.REACHED),
        (201, Verdict.BELOW),
        (-50, Verdict.REACHED),
        (1249, Verdict.BELOW),
        (1250, Verdict.REACHED),
        (1360, Verdict.REACHED),
        (700, Verdict.BELOW),
    ],
)
def test_both_ends_of_the_ph_belong_to_corrosive_waste(ph_hundredths: int, verdict: Verdict) -> None:
    """40 CFR 261.22: pH 2 or less, 12.5 or more."""
    found = corrosivity(US, ph_hundredths=ph_hundredths, temperature_decicelsius=250)

    assert found.verdict == verdict
    assert found.rules[0].edition == "40 CFR 261.22(a)(1)"


@pytest.mark.parametrize(
    ("ph_hundredths", "decicelsius", "verdict"),
    [
        (1249, 240, Verdict.BELOW),
        (1249, 260, Verdict.BELOW),
        (1249, 239, Verdict.MEASURE),
        (1249, 261, Verdict.MEASURE),
        (1249, None, Verdict.MEASURE),
        (1200, 180, Verdict.BELOW),
        (1201, 180, Verdict.MEASURE),
        (1250, 180, Verdict.REACHED),
        (200, None, Verdict.REACHED),
    ],
)
def test_above_ph_12_the_sample_has_25_degrees(
    ph_hundredths: int, decicelsius: int | None, verdict: Verdict
) -> None:
    """Method 9040C, from memory: above pH 12 the sample is measured at 25 ± 1 °C."""
    found = corrosivity(US, ph_hundredths=ph_hundredths, temperature_decicelsius=decicelsius)

    assert found.verdict == verdict


def test_a_ph_that_was_not_measured_is_asked_for() -> None:
    found = corrosivity(US, ph_hundredths=None, temperature_decicelsius=None)

    assert found.verdict == Verdict.MEASURE
    assert found.says.startswith("Measure the pH where the waste arises")


@pytest.mark.parametrize("check", [silver, chromium])
@pytest.mark.parametrize(
    ("ug_per_l", "verdict"),
    [
        (5000, Verdict.REACHED),
        (4990, Verdict.BELOW),
        (4999, Verdict.BELOW),
        (0, Verdict.BELOW),
        (None, Verdict.MEASURE),
    ],
)
def test_five_milligrams_a_litre_reach_the_limit(
    check: Metal, ug_per_l: int | None, verdict: Verdict
) -> None:
    """40 CFR 261.24, table 1: D011 silver and D007 chromium, 5.0 mg/L or more."""
    assert check(US, ug_per_l=ug_per_l).verdict == verdict


@given(
    st.integers(-200, 1600), st.none() | st.integers(0, 1000), st.integers(0, 10**7), st.sampled_from(BOOKS)
)
def test_no_check_ever_concludes_that_a_waste_is_harmless(
    ph: int, celsius: int | None, metal: int, book: RuleBook
) -> None:
    for found in (
        corrosivity(book, ph_hundredths=ph, temperature_decicelsius=celsius),
        silver(book, ug_per_l=metal),
        chromium(book, ug_per_l=metal),
    ):
        assert not any(word in found.says for word in ("not hazardous", "non-hazardous", "harmless", "safe"))
        if found.verdict == Verdict.BELOW:
            assert "does not reach this limit" in found.says
            assert found.says.endswith("The waste office determines what the waste is.")


def test_what_did_not_reach_a_limit_is_measured_again_once_more_was_poured() -> None:
    found = [
        corrosivity(US, ph_hundredths=900, temperature_decicelsius=200, poured_since_ul=250_000),
        silver(US, ug_per_l=100, poured_since_ul=250_000),
    ]

    assert [one.verdict for one in found] == [Verdict.MEASURE] * 2
    assert all("250 mL came in since: measure again" in one.says for one in found)
    assert silver(US, ug_per_l=5000, poured_since_ul=250_000).verdict == Verdict.REACHED


def test_the_european_ph_limit_is_lower_at_the_caustic_end() -> None:
    """CLP Annex I, 3.2.3.1.2, from memory."""
    found = [
        corrosivity(EU, ph_hundredths=ph, temperature_decicelsius=None).verdict
        for ph in (200, 201, 1149, 1150)
    ]

    assert found == [Verdict.REACHED, Verdict.BELOW, Verdict.BELOW, Verdict.REACHED]
    assert silver(EU, ug_per_l=10**6).verdict == Verdict.NO_NUMBER


def test_the_set_that_asks_has_no_limit_of_its_own() -> None:
    assert corrosivity(OFFICE, ph_hundredths=100, temperature_decicelsius=250).verdict == Verdict.NO_NUMBER


def test_two_grams_of_dichromate_bring_707_milligrams_of_chromium() -> None:
    """2 × 51.996 ÷ 294.18 of 2.0 g/L: 707 mg/L, 141 times the limit."""
    strength = chromium_mg_per_l(dichromate_g_per_l=Decimal(2))

    assert abs(strength / 707 - 1) < Decimal("0.002")
    assert int(strength / 5) == 141


def test_the_sixth_plate_brings_the_rinse_to_the_chromium_limit() -> None:
    """0.5 mL of a bleach of 2 g/L dichromate a plate into 400 mL of rinse: 0.88 mg/L each, 5.66 plates."""
    bath = chromium_mg_per_l(dichromate_g_per_l=Decimal(2))
    carried = carried_into_rinse(
        bath_mg_per_l=bath, carried_ul_per_plate=500, rinse_ul=400_000, limit_mg_per_l=Decimal("5.0")
    )

    assert carried.first_plate == 6
    assert round(carried.per_plate_mg_per_l, 2) == Decimal("0.88")
    assert chromium(US, ug_per_l=int(6 * carried.per_plate_mg_per_l * 1000)).verdict == Verdict.REACHED
    assert chromium(US, ug_per_l=int(5 * carried.per_plate_mg_per_l * 1000)).verdict == Verdict.BELOW


@given(st.integers(1, 10**6), st.integers(1, 10**5), st.integers(1, 10**7))
def test_the_named_plate_is_the_first_that_reaches_the_limit(
    bath: int, carried_ul: int, rinse_ul: int
) -> None:
    limit = Decimal("5.0")
    found = carried_into_rinse(
        bath_mg_per_l=Decimal(bath), carried_ul_per_plate=carried_ul, rinse_ul=rinse_ul, limit_mg_per_l=limit
    )

    assert found.first_plate is not None
    assert found.first_plate * bath * carried_ul >= limit * rinse_ul
    assert (found.first_plate - 1) * bath * carried_ul < limit * rinse_ul


def test_a_bath_without_the_metal_brings_none() -> None:
    assert (
        carried_into_rinse(
            bath_mg_per_l=Decimal(0), carried_ul_per_plate=500, rinse_ul=400_000, limit_mg_per_l=Decimal(5)
        ).first_plate
        is None
    )


def test_thirty_plates_half_dissolved_bring_silver_far_over_its_limit() -> None:
    """3 g/m² (assumed) on 63.5 mm plates: 12.1 mg each; 30 plates, half dissolved into a litre, 181 mg/L."""
    strength = silver_mg_per_l(
        coverage_mg_per_m2=Decimal(3000),
        plate_mm2=Decimal("63.5") ** 2,
        plates=30,
        dissolved_percent=Decimal(50),
        volume_ul=1_000_000,
    )

    assert round(strength) == 181
    assert silver(US, ug_per_l=round(strength * 1000)).verdict == Verdict.REACHED
