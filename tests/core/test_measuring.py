"""Volumes and masses as typed, and how far they may be off."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.measuring import (
    CannotBe,
    Measured,
    Method,
    Quantity,
    mass_of_mg,
    measure,
    part_mg,
    read_give_or_take,
    read_quantity,
    usual_uncertainty_ul,
    volume_of_ul,
    why_off,
)

LITRE = 1_000_000
TYPED = (Method.GRADUATE, Method.SCALE, Method.ESTIMATE)


@pytest.mark.parametrize(
    ("text", "volume_ul", "mass_mg"),
    [
        ("250 mL", 250_000, None),
        ("250", 250_000, None),
        ("1,2 L", 1_200_000, None),
        ("1.2 kg", None, 1_200_000),
        ("850 g", None, 850_000),
        ("850 mg", None, 850),
    ],
)
def test_the_unit_says_whether_it_was_weighed(text: str, volume_ul: int | None, mass_mg: int | None) -> None:
    assert read_quantity(text) == Quantity(text, volume_ul, mass_mg)


@pytest.mark.parametrize("text", ["", "lots", "3 drops", "1.2 stone", "1,500 kg", "-1 L", "kg"])
def test_what_is_no_quantity_is_asked_back(text: str) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        read_quantity(text)


def test_a_weighed_litre_and_a_bit_of_developer_becomes_a_volume_by_its_density() -> None:
    """22.25 kg at 1.05 kg/L are 21.19 L: worked by hand."""
    found = measure(read_quantity("22.25 kg"), Method.SCALE, density_ug_per_ul=1050)

    assert found == Measured(21_190_476, 22_250_000, 211_905, "22.25 kg")


def test_a_mass_is_never_read_off_a_graduate() -> None:
    for method in (Method.GRADUATE, Method.ESTIMATE):
        found = measure(read_quantity("1.2 kg"), method, density_ug_per_ul=1000)
        assert found == CannotBe("A mass was weighed: choose the scale, or write a volume.")


@pytest.mark.parametrize("text", ["0 mL", "0.0001 mg"])
def test_nothing_is_not_measured(text: str) -> None:
    found = measure(read_quantity(text), Method.SCALE, density_ug_per_ul=1000)

    assert isinstance(found, CannotBe)


def test_more_than_any_lab_holds_is_asked_back() -> None:
    """Two tonnes of something that weighs a tenth of water would be twenty cubic metres."""
    assert isinstance(measure(read_quantity("2000 kg"), Method.SCALE, density_ug_per_ul=100), CannotBe)


@pytest.mark.parametrize(
    ("method", "volume_ul", "off_ul"),
    [
        (Method.GRADUATE, 250_000, 5_000),
        (Method.GRADUATE, LITRE, 10_000),
        (Method.SCALE, 250_000, 10_000),
        (Method.SCALE, 2 * LITRE, 20_000),
        (Method.ESTIMATE, 250_000, 50_000),
        (Method.SUM, 250_000, 0),
    ],
)
def test_how_far_it_may_be_off_follows_from_how_it_was_measured(
    method: Method, volume_ul: int, off_ul: int
) -> None:
    """Assumed: a graduate 1 % and at least 5 mL, a scale 1 % and at least 10 g, an estimate 20 %."""
    assert usual_uncertainty_ul(method, volume=volume_ul, density_ug_per_ul=1000) == off_ul


@pytest.mark.parametrize(
    ("text", "off_ul"), [("50 mL", 50_000), ("± 5 %", 50_000), ("2,5%", 25_000), ("21 g", 20_000)]
)
def test_a_person_may_say_how_far_it_may_be_off(text: str, off_ul: int) -> None:
    found = measure(
        read_quantity("1 L"),
        Method.ESTIMATE,
        density_ug_per_ul=1050,
        give_or_take=read_give_or_take(text),
    )

    assert isinstance(found, Measured)
    assert found.uncertainty_ul == off_ul
    assert found.typed == f"1 L ± {text.removeprefix('± ')}"


def test_give_or_take_more_than_the_whole_is_no_measurement() -> None:
    found = measure(
        read_quantity("1 L"),
        Method.ESTIMATE,
        density_ug_per_ul=1000,
        give_or_take=read_give_or_take("1.1 L"),
    )

    assert isinstance(found, CannotBe)
    assert "no measurement" in found.sentence


def test_the_ledger_says_where_an_uncertainty_comes_from() -> None:
    words = {
        method: why_off(method, typed="1 L", volume=LITRE, uncertainty_ul=10_000)
        for method in (*TYPED, Method.SUM)
    }

    assert all("assumed" in words[method] for method in TYPED)
    assert "assumed" not in words[Method.SUM]
    assert (
        why_off(Method.SCALE, typed="1 L ± 5 %", volume=LITRE, uncertainty_ul=50_000) == "± 50 mL, as typed"
    )


@given(held_ul=st.integers(1, 200 * LITRE), density=st.integers(700, 1800), part=st.fractions(0, 1))
def test_a_part_and_its_rest_weigh_what_the_whole_did(held_ul: int, density: int, part: Fraction) -> None:
    held_mg, volume = mass_of_mg(held_ul, density), int(part * held_ul)
    taken = part_mg(held_ul=held_ul, held_mg=held_mg, volume=volume)

    assert 0 <= taken <= held_mg
    assert abs(taken - mass_of_mg(volume, density)) <= 1
    assert part_mg(held_ul=held_ul, held_mg=held_mg, volume=held_ul) == held_mg


@given(mass=st.integers(1, 200_000_000), density=st.integers(700, 1800))
def test_a_mass_survives_the_way_to_a_volume_and_back_to_a_milligram_or_two(mass: int, density: int) -> None:
    assert abs(mass_of_mg(volume_of_ul(mass, density), density) - mass) <= 2


@given(volume=st.integers(1, 200 * LITRE), density=st.integers(700, 1800), method=st.sampled_from(TYPED))
def test_what_is_larger_is_never_surer(volume: int, density: int, method: Method) -> None:
    smaller, larger = (
        usual_uncertainty_ul(method, volume=each, density_ug_per_ul=density) for each in (volume, 2 * volume)
    )

    assert 0 < smaller <= larger
