"""Parts, life and capacity of working developer."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.working_solution import (
    ChargeState,
    Parts,
    charge_state,
    end_of_life,
    equal_parts,
    largest_mix_ul,
    plates_of_charge,
)

HOUR = 3600
MIXED = datetime(2027, 2, 16, 7, 40, tzinfo=UTC)


@pytest.mark.parametrize(
    ("volume_ul", "part_ul"),
    [
        # The two-part recipe of a Stony Brook student report (2003), A and B in equal parts, scaled to 250 mL.
        (250_000, 125_000),
        # House examples, computed by hand: a charge, two charges for one half day, three charges for a morning.
        (200_000, 100_000),
        (400_000, 200_000),
        (600_000, 300_000),
    ],
)
def test_a_and_b_are_equal_parts(volume_ul: int, part_ul: int) -> None:
    assert equal_parts(volume_ul=volume_ul) == Parts(part_ul, part_ul)


@given(st.integers(min_value=0, max_value=2_000_000_000))
def test_the_parts_are_the_whole_and_differ_by_a_microlitre_at_most(volume_ul: int) -> None:
    parts = equal_parts(volume_ul=volume_ul)

    assert parts.stock_a_ul + parts.stock_b_ul == volume_ul
    assert 0 <= parts.stock_a_ul - parts.stock_b_ul <= 1


@given(st.integers(0, 10**9), st.integers(0, 10**9))
def test_the_largest_mix_can_be_made_and_two_microlitres_more_cannot(a_ul: int, b_ul: int) -> None:
    largest = equal_parts(volume_ul=largest_mix_ul(stock_a_ul=a_ul, stock_b_ul=b_ul))
    more = equal_parts(volume_ul=largest_mix_ul(stock_a_ul=a_ul, stock_b_ul=b_ul) + 2)

    assert largest.stock_a_ul <= a_ul
    assert largest.stock_b_ul <= b_ul
    assert more.stock_a_ul > a_ul or more.stock_b_ul > b_ul


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


@pytest.mark.parametrize(
    ("volume_ul", "plates"), [(200_000, 12), (100_000, 6), (150_000, 9), (199_999, 11), (16_000, 0)]
)
def test_capacity_goes_with_volume_and_is_rounded_down(volume_ul: int, plates: int) -> None:
    """Computed by hand from 12 plates in 200 mL, which is assumed."""
    assert plates_of_charge(volume_ul=volume_ul, usual_charge_ul=200_000, plates_per_charge=12) == plates


@pytest.mark.parametrize(
    ("after_s", "plates", "state"),
    [
        (0, 0, ChargeState.USABLE),
        (-1, 11, ChargeState.USABLE),
        (-1, 12, ChargeState.USED_UP),
        (0, 12, ChargeState.USED_UP),
    ],
)
def test_a_charge_ends_with_its_plates(after_s: int, plates: int, state: ChargeState) -> None:
    now = MIXED + timedelta(seconds=after_s)

    assert (
        charge_state(now=now, ends_at=MIXED + timedelta(hours=1), plates=plates, plates_at_most=12) is state
    )


@pytest.mark.parametrize(
    ("after_s", "state"),
    [(-1, ChargeState.USABLE), (0, ChargeState.PAST_ITS_LIFE), (1, ChargeState.PAST_ITS_LIFE)],
)
def test_a_charge_ends_at_the_very_moment_its_life_does(after_s: int, state: ChargeState) -> None:
    now = MIXED + timedelta(seconds=after_s)

    assert charge_state(now=now, ends_at=MIXED, plates=0, plates_at_most=12) is state
