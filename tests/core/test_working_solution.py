"""Life and capacity of what was mixed."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.working_solution import (
    ChargeState,
    capacity_mm2,
    charge_state,
    end_of_life,
    plate_area_mm2,
    plates_within,
)

HOUR = 3600
MIXED = datetime(2027, 2, 16, 7, 40, tzinfo=UTC)


def test_a_mix_of_0840_with_six_hours_ends_at_1440() -> None:
    """House example, computed by hand: 08:40 in winter Berlin is 07:40 UTC, and 14:40 there is 13:40 UTC."""
    assert end_of_life(mixed_at=MIXED, life_s=6 * HOUR) == datetime(2027, 2, 16, 13, 40, tzinfo=UTC)


def test_the_life_is_elapsed_time_through_the_night_of_a_clock_change() -> None:
    """Berlin skips 02:00 to 03:00 on 28 March 2027: six hours after 22:00 its clocks show 05:00."""
    evening = datetime(2027, 3, 27, 22, 0, tzinfo=ZoneInfo("Europe/Berlin"))
    end = end_of_life(mixed_at=evening, life_s=6 * HOUR)

    assert end - evening.astimezone(UTC) == timedelta(hours=6)
    assert f"{end.astimezone(ZoneInfo('Europe/Berlin')):%H:%M}" == "05:00"


@given(
    st.datetimes(min_value=datetime(2000, 1, 1), max_value=datetime(2100, 1, 1)),  # noqa: DTZ001 - the zone is drawn
    st.integers(-14, 14),
    st.integers(0, 10**8),
)
def test_the_end_does_not_depend_on_the_zone_it_is_said_in(naive: datetime, hours: int, life_s: int) -> None:
    mixed_at = naive.replace(tzinfo=timezone(timedelta(hours=hours)))

    assert end_of_life(mixed_at=mixed_at, life_s=life_s) == end_of_life(
        mixed_at=mixed_at.astimezone(UTC), life_s=life_s
    )


# The plate that the usual figure speaks of, and a 4 × 5 inch plate.
USUAL_MM2 = plate_area_mm2(width_um=63_500, height_um=63_500)
FOUR_BY_FIVE_MM2 = plate_area_mm2(width_um=101_600, height_um=127_000)


@pytest.mark.parametrize(
    ("volume_ul", "plates"), [(200_000, 12), (100_000, 6), (150_000, 9), (199_999, 11), (16_000, 0)]
)
def test_capacity_goes_with_volume_and_is_rounded_down(volume_ul: int, plates: int) -> None:
    """Computed by hand from 12 plates in 200 mL, which is assumed."""
    capacity = capacity_mm2(
        volume_ul=volume_ul, usual_charge_ul=200_000, plates_per_charge=12, plate_mm2=USUAL_MM2
    )

    assert plates_within(area_mm2=capacity, plate_mm2=USUAL_MM2) == plates


def test_a_four_by_five_inch_plate_uses_up_as_much_as_three_and_a_quarter_of_63_mm() -> None:
    """A trap told by the lab's practice notes: 39.7 cm² against 129 cm², 3.25 times, though both are one plate."""
    small = plate_area_mm2(width_um=63_000, height_um=63_000)

    assert (small, FOUR_BY_FIVE_MM2) == (3969, 12_903)
    assert FOUR_BY_FIVE_MM2 / small == pytest.approx(3.25, abs=0.005)


def test_a_charge_for_twelve_usual_plates_serves_three_of_four_by_five_inches() -> None:
    """Computed by hand: 12 × 40.32 cm² = 483.84 cm², and 483.84 ÷ 129.03 = 3.75."""
    capacity = capacity_mm2(
        volume_ul=200_000, usual_charge_ul=200_000, plates_per_charge=12, plate_mm2=USUAL_MM2
    )

    assert capacity == 48_384
    assert plates_within(area_mm2=capacity, plate_mm2=FOUR_BY_FIVE_MM2) == 3


GALLON_UL = 3_785_411.784
SQUARE_FOOT_MM2 = 92_903.04


@pytest.mark.parametrize(
    ("gallons", "ml_per_square_foot", "square_feet"),
    [(25, 200, 475), (100, 100, 3780), (50, 100, 1890), (5, 20, 950), (320, 100, 12_110)],
)
def test_volume_by_rate_is_the_area_of_a_published_table(
    gallons: int, ml_per_square_foot: int, square_feet: int
) -> None:
    """Source: a colour-reversal process manual, Table 2-1 (yumpu.com/en/document/view/18827492), whose figures are rounded:
    half a percent is allowed.
    """
    capacity = capacity_mm2(
        volume_ul=round(gallons * GALLON_UL),
        usual_charge_ul=ml_per_square_foot * 1000,
        plates_per_charge=1,
        plate_mm2=round(SQUARE_FOOT_MM2),
    )

    assert capacity / SQUARE_FOOT_MM2 == pytest.approx(square_feet, rel=0.005)


@given(st.integers(0, 10**9), st.integers(1, 10**6), st.integers(1, 1000), st.integers(1, 10**6))
def test_plates_of_the_usual_size_are_what_the_usual_figure_says(
    volume_ul: int, usual_ul: int, plates: int, plate_mm2: int
) -> None:
    capacity = capacity_mm2(
        volume_ul=volume_ul, usual_charge_ul=usual_ul, plates_per_charge=plates, plate_mm2=plate_mm2
    )

    assert plates_within(area_mm2=capacity, plate_mm2=plate_mm2) == volume_ul * plates // usual_ul


@pytest.mark.parametrize(
    ("after_s", "room_mm2", "state"),
    [
        (0, 8064, ChargeState.USABLE),
        (-1, 4032, ChargeState.USABLE),
        (-1, 4031, ChargeState.USED_UP),
        (0, 0, ChargeState.USED_UP),
        (0, -4032, ChargeState.USED_UP),
    ],
)
def test_a_charge_is_used_up_when_the_plate_does_not_fit_into_its_capacity(
    after_s: int, room_mm2: int, state: ChargeState
) -> None:
    now = MIXED + timedelta(seconds=after_s)

    assert (
        charge_state(now=now, ends_at=MIXED + timedelta(hours=1), room_mm2=room_mm2, plate_mm2=4032) is state
    )


@pytest.mark.parametrize(
    ("after_s", "state"),
    [(-1, ChargeState.USABLE), (0, ChargeState.PAST_ITS_LIFE), (1, ChargeState.PAST_ITS_LIFE)],
)
def test_a_charge_ends_at_the_very_moment_its_life_does(after_s: int, state: ChargeState) -> None:
    now = MIXED + timedelta(seconds=after_s)

    assert charge_state(now=now, ends_at=MIXED, room_mm2=48_384, plate_mm2=4032) is state


def test_an_end_by_a_failed_check_is_told_apart_from_the_end_of_a_life() -> None:
    state = charge_state(now=MIXED, ends_at=MIXED, by_check=True, room_mm2=48_384, plate_mm2=4032)

    assert state is ChargeState.FAILED
