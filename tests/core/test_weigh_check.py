"""Containers on a scale, worked by hand."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.measuring import CannotBe
from server.core.weigh_check import Found, Tolerance, WeighCheck, entries_tolerance_ul, weigh

CAN_UL, LINE_UL = 20_000_000, 18_000_000


def _of(handled_ul: int) -> int:
    return entries_tolerance_ul(stated_ul=0, handled_ul=handled_ul)


def _can(
    *,
    gross_mg: int,
    tare_mg: int = 1_200_000,
    density: int = 1050,
    assumed: bool = False,
    ledger_ul: int,
    entries_ul: int | None = None,
) -> WeighCheck:
    """A weighing of a can of 20 L. Where nothing else is said, its entries came without uncertainties."""
    found = weigh(
        gross_mg=gross_mg,
        tare_mg=tare_mg,
        density_ug_per_ul=density,
        is_density_assumed=assumed,
        step_mg=10_000,
        ledger_ul=ledger_ul,
        entries_ul=_of(ledger_ul) if entries_ul is None else entries_ul,
        size_ul=CAN_UL,
        fill_line_ul=LINE_UL,
    )
    assert isinstance(found, WeighCheck)
    return found


def test_more_by_weight_than_a_can_may_hold_raises_the_alarm() -> None:
    """Worked by hand: 23.45 − 1.20 = 22.25 kg; at 1.05 kg/L 21.19 L, over 90 % of 20 L."""
    found = _can(gross_mg=23_450_000, ledger_ul=17_900_000)

    assert found.net_mg == 22_250_000
    assert round(found.volume_ul, -4) == 21_190_000
    assert found.found is Found.TOO_FULL
    assert "the density or the tare is wrong" in found.sentence
    assert found.sentence.startswith(
        "23.45 kg − 1.2 kg = 22.25 kg; at 1.05 g/mL that is 21.19 L. That is more than the 20 L"
    )


def test_the_alarm_begins_above_the_fill_line() -> None:
    def weighs(net_mg: int) -> Found:
        return _can(gross_mg=1_200_000 + net_mg, ledger_ul=LINE_UL).found

    assert weighs(18_900_000) is Found.AGREES
    assert weighs(18_900_001) is Found.TOO_FULL


def test_what_stands_over_the_line_by_its_ledger_too_is_said_so() -> None:
    found = _can(gross_mg=1_200_000 + 19_950_000, ledger_ul=19_000_000)

    assert found.found is Found.TOO_FULL
    assert "By weight and by its ledger" in found.sentence
    assert "tare is wrong" not in found.sentence


def test_a_term_s_carboys_that_weigh_1_6_hundredths_less_agree() -> None:
    """Worked by hand: 31.4 L poured in and 30.9 kg, near enough 30.9 L: −1.6 %."""
    found = weigh(
        gross_mg=30_900_000 + 2_400_000,
        tare_mg=2_400_000,
        density_ug_per_ul=1000,
        step_mg=0,
        ledger_ul=31_400_000,
        entries_ul=_of(31_400_000),
        size_ul=40_000_000,
        fill_line_ul=36_000_000,
    )

    assert isinstance(found, WeighCheck)
    assert found.found is Found.AGREES
    assert "−500 mL (−1.6 %) is within the 1.57 L" in found.sentence


@pytest.mark.parametrize(
    ("net_kg", "asks"), [(10, "poured without an entry"), (5, "entered twice, did something leak")]
)
def test_a_difference_beyond_measuring_is_asked_about_by_its_direction(net_kg: int, asks: str) -> None:
    found = _can(gross_mg=1_200_000 + net_kg * 1_000_000, density=1000, ledger_ul=8_000_000)

    assert found.found is Found.DIFFERS
    assert asks in found.sentence


def test_estimates_widen_the_tolerance_and_exact_readings_leave_what_draining_loses() -> None:
    """Worked by hand: 5 % of 9 L are 450 mL; nine pours read to 10 mL would leave 90 mL, nine estimates of a fifth 1.8 L."""
    assert entries_tolerance_ul(stated_ul=90_000, handled_ul=9_000_000) == 450_000
    assert entries_tolerance_ul(stated_ul=1_800_000, handled_ul=9_000_000) == 1_800_000

    gross_mg = 1_200_000 + 9_600_000
    read = _can(gross_mg=gross_mg, density=1000, ledger_ul=9_000_000)
    judged = _can(gross_mg=gross_mg, density=1000, ledger_ul=9_000_000, entries_ul=1_800_000)

    assert read.tolerance.scale_ul == 10_000
    assert read.found is Found.DIFFERS
    assert judged.found is Found.AGREES


def test_an_assumed_density_widens_the_tolerance() -> None:
    """Worked by hand: 9.6 kg at an assumed 1 g/mL are 9.6 L ± 0.48 L; with 0.45 L of the entries √(0.48² + 0.45²) = 0.658 L."""
    measured = _can(gross_mg=1_200_000 + 9_600_000, density=1000, ledger_ul=9_000_000)
    assumed = _can(gross_mg=1_200_000 + 9_600_000, density=1000, assumed=True, ledger_ul=9_000_000)

    assert measured.found is Found.DIFFERS
    assert assumed.found is Found.AGREES
    assert round(assumed.tolerance.all_ul, -3) == 658_000


def test_a_full_container_is_heavier_than_an_empty_one() -> None:
    found = weigh(
        gross_mg=1_200_000,
        tare_mg=1_200_000,
        density_ug_per_ul=1000,
        step_mg=0,
        ledger_ul=0,
        entries_ul=0,
        size_ul=CAN_UL,
        fill_line_ul=LINE_UL,
    )

    assert isinstance(found, CannotBe)
    assert "mixed up" in found.sentence


def test_an_empty_ledger_has_no_share() -> None:
    assert "+500 mL is more than" in _can(gross_mg=1_700_000, density=1000, ledger_ul=0).sentence


@given(
    net_mg=st.integers(1, 2_000_000_000),
    tare_mg=st.integers(1, 10_000_000),
    density=st.integers(700, 2000),
    ledger_ul=st.integers(0, 2_000_000_000),
    step_mg=st.integers(0, 100_000),
)
def test_volume_times_density_is_the_net_mass_and_the_verdict_follows_the_numbers(
    net_mg: int, tare_mg: int, density: int, ledger_ul: int, step_mg: int
) -> None:
    found = weigh(
        gross_mg=net_mg + tare_mg,
        tare_mg=tare_mg,
        density_ug_per_ul=density,
        step_mg=step_mg,
        ledger_ul=ledger_ul,
        entries_ul=_of(ledger_ul),
        size_ul=CAN_UL,
        fill_line_ul=LINE_UL,
    )

    assert isinstance(found, WeighCheck)
    assert found.volume_ul * density == net_mg * 1000
    assert (found.found is Found.TOO_FULL) == (found.volume_ul > LINE_UL)
    if found.found is Found.AGREES:
        assert abs(found.account.missing) <= found.tolerance.all_ul + 1


@given(entries_ul=st.integers(0, 10**8), scale_ul=st.fractions(0, 10**5), density_ul=st.fractions(0, 10**7))
def test_no_source_of_error_alone_is_more_than_all_together(
    entries_ul: int, scale_ul: Fraction, density_ul: Fraction
) -> None:
    tolerance = Tolerance(entries_ul, scale_ul, density_ul)
    parts = [Fraction(entries_ul), scale_ul, density_ul]

    assert max(parts) - 1 <= tolerance.all_ul <= sum(parts) + 2


def test_what_entries_may_be_off_is_rounded_up() -> None:
    assert entries_tolerance_ul(stated_ul=0, handled_ul=1_000_001) == 50_001
