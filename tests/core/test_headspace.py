"""Fill limits of a container of water, by the published rules and by hand."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.headspace import (
    expansion_per_kelvin,
    headspace,
    needs_a_marked_packaging,
    share_by_boiling,
    share_by_expansion,
    share_of_water_full_when_hot,
)

CAN_UL = 20_000_000
ALPHA = expansion_per_kelvin(at_15=Fraction("999.10"), at_50=Fraction("988.04"))


def test_water_expands_as_the_rule_s_formula_has_it() -> None:
    """ADR 4.1.1.4: (d15 − d50) / (35 · d50) of water is 3.20 · 10⁻⁴."""
    assert round(ALPHA, 6) == Fraction("0.000320")


def test_a_can_filled_with_water_at_15_degrees_may_be_filled_to_96_9_hundredths() -> None:
    """ADR 4.1.1.4 (b), worked by hand: 98 / (1 + 3.20e-4 · 35) = 96.9 %, 19.38 L of 20 L."""
    share = share_by_expansion(per_kelvin=ALPHA, filled_at_celsius=15)

    assert round(share * 100, 1) == Fraction("96.9")
    assert round(share * 20, 2) == Fraction("19.38")


@pytest.mark.parametrize(
    ("boils_from", "percent"), [(59, 90), (60, 92), (99, 92), (100, 94), (199, 94), (200, 96), (300, 98)]
)
def test_the_boiling_point_decides_the_degree_of_filling(boils_from: int, percent: int) -> None:
    """ADR 4.1.1.4 (a): below 60 °C 90 %, from 60 92, from 100 94, from 200 96, from 300 98."""
    assert share_by_boiling(boils_from) == Fraction(percent, 100)


def test_water_filled_in_at_20_degrees_is_full_at_55() -> None:
    """49 CFR 173.24a(d) with the densities of water: 985.70 / 998.20 = 98.75 %, 19.75 L of 20 L."""
    share = share_of_water_full_when_hot(filled_at_celsius=20)

    assert round(share * 100, 2) == Fraction("98.75")
    assert round(share * 20, 2) == Fraction("19.75")
    assert share_of_water_full_when_hot(filled_at_celsius=60) == 1


def test_a_20_litre_can_has_four_limits_and_the_lab_s_own_line_is_the_lowest() -> None:
    found = headspace(size_ul=CAN_UL, fill_line_ul=18_000_000, filled_at_celsius=15)

    assert [round(limit.share * 100, 1) for limit in found.limits] == [
        90,
        94,
        Fraction("96.9"),
        Fraction("98.7"),
    ]
    assert [limit.volume_ul // 1000 for limit in found.limits] == [18_000, 18_800, 19_382, 19_731]
    assert found.lowest.volume_ul == 18_000_000
    assert not found.is_line_too_high


def test_a_line_above_what_carriage_allows_is_said_so() -> None:
    found = headspace(size_ul=CAN_UL, fill_line_ul=19_000_000)

    assert found.is_line_too_high
    assert found.lowest.source.startswith("ADR 4.1.1.4 (a)")
    assert not headspace(size_ul=CAN_UL, fill_line_ul=18_800_000).is_line_too_high


def test_a_liquid_beyond_1_2_needs_a_packaging_marked_for_it() -> None:
    """49 CFR 173.24a(b)(1): an unmarked packaging is good for a relative density of 1.2 at most."""
    assert not needs_a_marked_packaging(1200)
    assert needs_a_marked_packaging(1201)


@given(
    size_ul=st.integers(1000, 2_000_000_000),
    line=st.fractions(Fraction(1, 10), 1),
    boils_from=st.integers(35, 400),
    filled_at=st.integers(0, 54),
)
def test_the_lowest_keeps_every_limit_and_no_limit_is_the_brim(
    size_ul: int, line: Fraction, boils_from: int, filled_at: int
) -> None:
    found = headspace(
        size_ul=size_ul,
        fill_line_ul=max(1, int(line * size_ul)),
        boils_from_celsius=boils_from,
        filled_at_celsius=filled_at,
    )

    assert all(found.lowest.volume_ul <= limit.share * size_ul for limit in found.limits)
    assert all(limit.share < 1 for limit in found.limits[1:])
    assert all(limit.working and limit.source for limit in found.limits)
