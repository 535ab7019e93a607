"""Quantities as people write them."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.units import (
    LARGEST_VOLUME_UL,
    LONGEST_LIFE_S,
    celsius_words,
    clock_words,
    digits,
    duration_words,
    life_s,
    life_words,
    near_volume_words,
    ph_words,
    volume_ul,
    volume_words,
)


@pytest.mark.parametrize(
    ("text", "microlitres"),
    [
        ("250 mL", 250_000),
        ("250", 250_000),
        ("0.25 L", 250_000),
        ("0,25 l", 250_000),
        ("2.5 ML", 2_500),
        ("1 L", 1_000_000),
        ("500 µl", 500),
        ("0.0005 mL", 0),
        ("0.0015 mL", 2),
        ("0", 0),
    ],
)
def test_a_volume_is_read(text: str, microlitres: int) -> None:
    assert volume_ul(text) == microlitres


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("1,500 mL", "could mean two things"),
        ("a cup", "is not a volume"),
        ("3 gal", "is not a unit of volume"),
        ("-5 mL", "less than nothing"),
        ("2001 L", "more than any lab holds"),
        ("1e3 mL", "is not a volume"),
        ("", "is not a volume"),
    ],
)
def test_what_is_no_clear_volume_is_asked_back(text: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        volume_ul(text)


@given(st.integers(0, LARGEST_VOLUME_UL))
def test_a_volume_in_microlitres_is_read_exactly(volume: int) -> None:
    assert volume_ul(f"{volume} µL") == volume


@given(st.integers(0, LARGEST_VOLUME_UL))
def test_a_volume_in_words_is_read_back_to_within_its_last_figure(volume: int) -> None:
    step = 1_000 if volume >= 1_000_000 else 100
    assert abs(volume_ul(volume_words(volume)) - volume) * 2 <= step


@pytest.mark.parametrize(
    ("volume", "words"),
    [
        (13_200_000, "13.2 L"),
        (1_000_000, "1 L"),
        (166_667, "166.7 mL"),
        (500, "0.5 mL"),
        (0, "0 mL"),
        (-2_000, "−2 mL"),
    ],
)
def test_a_volume_in_words(volume: int, words: str) -> None:
    assert volume_words(volume) == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (45, "45 s"),
        (60, "1 min"),
        (510, "8 min 30 s"),
        (4800, "1 h 20 min"),
        (-90, "−1 min 30 s"),
    ],
)
def test_a_duration_in_words(seconds: int, words: str) -> None:
    assert duration_words(seconds) == words


def test_a_clock_in_words() -> None:
    assert [clock_words(seconds) for seconds in (0, 65, 3600, 3725)] == ["0:00", "1:05", "1:00:00", "1:02:05"]


@pytest.mark.parametrize(
    ("text", "seconds", "words"),
    [
        ("6 h", 21_600, "6 h"),
        ("1.5 h", 5_400, "1 h 30 min"),
        ("90 days", 7_776_000, "90 days"),
        ("2 Weeks", 1_209_600, "14 days"),
        ("1 day", 86_400, "24 h"),
        ("45min", 2_700, "45 min"),
    ],
)
def test_a_life_is_read_and_said(text: str, seconds: int, words: str) -> None:
    assert life_s(text) == seconds
    assert life_words(seconds) == words


@pytest.mark.parametrize(
    "text", ["", "6", "h", "6 moons", "for ever", "6 h!", "-6 h", "0 h", "21 years", "7400 days"]
)
def test_what_is_no_life_gets_a_sentence(text: str) -> None:
    with pytest.raises(ValueError, match="Please"):
        life_s(text)


@given(st.integers(1, LONGEST_LIFE_S))
def test_a_life_in_words_is_read_back(seconds: int) -> None:
    assert life_s(life_words(seconds)) == seconds


def test_temperatures_and_ph_are_told_as_finely_as_they_are_kept() -> None:
    assert [celsius_words(tenths) for tenths in (200, 375, -5)] == ["20 °C", "37.5 °C", "−0.5 °C"]
    assert [ph_words(hundredths) for hundredths in (1250, 1283, 700, 0)] == [
        "pH 12.5",
        "pH 12.83",
        "pH 7",
        "pH 0",
    ]


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (Fraction(45, 8), "5.625"),
        (Fraction(1000, 3), "333.3"),
        (Fraction(10**9), "1000000000"),
        (Fraction(1, 30_000), "0.00003333"),
    ],
)
def test_a_number_to_four_digits_is_never_a_power_of_ten(number: Fraction, words: str) -> None:
    assert digits(number) == words


def test_a_computed_volume_is_said_to_four_digits() -> None:
    assert near_volume_words(Fraction(10**6, 3)) == "333.3 mL"
    assert near_volume_words(Fraction(10**7, 3)) == "3.333 L"
