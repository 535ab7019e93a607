"""Density of water against a printed table, and by its shape."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.water_density import water_ug_per_ul

# g/mL; OpenStax, Chemistry 2e, appendix E.
TABLE = {
    0: "0.9998395",
    4: "0.9999720",
    10: "0.9997026",
    15: "0.9991026",
    20: "0.9982071",
    22: "0.9977735",
    25: "0.9970479",
    30: "0.9956502",
    40: "0.9922",
    60: "0.9832",
}


@pytest.mark.parametrize(("celsius", "g_per_ml"), TABLE.items())
def test_it_is_as_the_table_has_it(celsius: int, g_per_ml: str) -> None:
    found = water_ug_per_ul(celsius=celsius) / 1000
    # The last two of the table have four decimals, so half of the last may be missing there.
    allowed = Fraction(4, 1_000_000) if len(g_per_ml) == 9 else Fraction(5, 100_000)

    assert abs(found - Fraction(g_per_ml)) <= allowed


def test_between_two_lines_of_the_table_it_bends_above_the_straight_line() -> None:
    """By hand: 15 and 20 °C of the table make 0.99857 at 18 °C on a straight line; the equation has 0.99860."""
    straight = Fraction(TABLE[15]) * 2 / 5 + Fraction(TABLE[20]) * 3 / 5
    found = water_ug_per_ul(celsius=18) / 1000

    assert round(straight, 5) == Fraction("0.99857")
    assert round(found, 5) == Fraction("0.99860")
    assert round(found, 4) == Fraction("0.9986")


@pytest.mark.parametrize(("celsius", "kg_per_m3"), [(50, "988.036"), (55, "985.695")])
def test_it_is_as_handbooks_have_it_where_filling_rules_ask(celsius: int, kg_per_m3: str) -> None:
    """Kell, J. Chem. Eng. Data 20 (1975) 97, from memory."""
    assert abs(water_ug_per_ul(celsius=celsius) - Fraction(kg_per_m3)) < Fraction(1, 1000)


@given(st.decimals(4, 99, places=1))
def test_warmer_water_is_lighter_from_four_degrees_on(celsius: Decimal) -> None:
    assert water_ug_per_ul(celsius=celsius) > water_ug_per_ul(celsius=celsius + 1)


@pytest.mark.parametrize("celsius", [Decimal("-0.1"), Decimal("100.1")])
def test_ice_and_steam_have_no_density_here(celsius: Decimal) -> None:
    with pytest.raises(ValueError, match="no liquid"):
        water_ug_per_ul(celsius=celsius)
