"""Evaporation from open water, by published examples and by hand."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from server.core.evaporation import (
    UNCERTAINTY,
    evaporated_kg_per_h,
    evaporated_ul,
    humidity_ratio,
    still_room_rates_ul_per_m2_h,
)


def test_a_pool_loses_four_hundredths_of_a_kilogram_a_second() -> None:
    """A worked pool of 25 × 20 m at 0.5 m/s (physicsforums.com, thread 242677): 143.6 kg/h are 0.0399 kg/s, not 0.04 kg/h."""
    pool = evaporated_kg_per_h(
        area_m2=25 * 20,
        air_m_per_s=Fraction("0.5"),
        saturated=Fraction("0.019826"),
        humidity=Fraction("0.0115"),
    )

    assert round(pool, 1) == Fraction("143.6")
    assert round(pool / 3600, 4) == Fraction("0.0399")


def test_five_square_metres_in_a_draught_lose_3_15_kilograms_an_hour() -> None:
    """A worked example (askvity.info): v = 2 m/s, A = 5 m², x_s − x = 0.01."""
    assert evaporated_kg_per_h(
        area_m2=5, air_m_per_s=2, saturated=Fraction("0.02"), humidity=Fraction("0.01")
    ) == Fraction("3.15")


def test_air_that_is_damper_than_the_surface_takes_nothing() -> None:
    assert (
        evaporated_kg_per_h(area_m2=1, air_m_per_s=1, saturated=Fraction("0.01"), humidity=Fraction("0.02"))
        == 0
    )
    assert still_room_rates_ul_per_m2_h(celsius=20, humidity_percent=100) == (0, 0)


def test_a_still_room_at_20_degrees_and_half_humidity_takes_112_to_185_millilitres_a_square_metre() -> None:
    """By hand: x_s = 0.01466 and x = 0.00725 make 0.185 kg; 0.3445 inHg over 1054 Btu/lb and 74 % make 0.112 kg."""
    lower, upper = still_room_rates_ul_per_m2_h(celsius=20, humidity_percent=50)

    assert round(humidity_ratio(vapour_torr=Fraction("17.5")), 5) == Fraction("0.01466")
    assert lower // 1000 == 112
    assert round(upper, -3) == 185_000


def test_a_small_tray_loses_45_to_74_millilitres_in_eight_hours() -> None:
    """By hand: 20 × 25 cm are 0.05 m²."""
    eight_hours = [
        round(evaporated_ul(rate_ul_per_m2_h=rate, area_mm2=50_000, seconds=8 * 3600), -3)
        for rate in still_room_rates_ul_per_m2_h(celsius=20, humidity_percent=50)
    ]

    assert eight_hours == [45_000, 74_000]


def test_half_either_way_of_the_middle_covers_both_formulas() -> None:
    middle = 150_000
    lower, upper = still_room_rates_ul_per_m2_h(celsius=20, humidity_percent=50)

    assert middle * (1 - UNCERTAINTY) < lower < upper < middle * (1 + UNCERTAINTY)


@given(
    rate=st.integers(0, 1_000_000),
    area=st.integers(0, 10_000_000),
    first=st.integers(0, 86_400),
    second=st.integers(0, 86_400),
)
def test_two_stretches_lose_what_the_whole_does_to_the_microlitre(
    rate: int, area: int, first: int, second: int
) -> None:
    def lost(seconds: int) -> int:
        return evaporated_ul(rate_ul_per_m2_h=rate, area_mm2=area, seconds=seconds)

    assert abs(lost(first) + lost(second) - lost(first + second)) <= 1
