"""Exposure times against published figures and hand-worked ones."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.exposure import (
    Exposure,
    NoExposure,
    cosine_of,
    exposure,
    irradiance_nw_per_cm2,
    irradiance_words,
    ladder,
)


def _time_s(dose_uj: int, irradiance_nw: int, tilt: int = 0) -> Decimal:
    answer = exposure(dose_uj_per_cm2=dose_uj, irradiance_nw_per_cm2=irradiance_nw, tilt_deg=tilt)
    assert isinstance(answer, Exposure)
    return answer.time_s


def test_thirty_millijoules_at_a_third_of_a_milliwatt_take_100_seconds() -> None:
    """Source: a worked answer in a holography forum (holographyforum.org, topic t=8896): 30 mJ/cm² at 0.3 mW/cm².

    The asker's own first way, total joules over laser watts, gave 77 s.
    """
    assert _time_s(30_000, 300_000) == Decimal("100.0")


def test_a_published_series_of_doses_becomes_its_times() -> None:
    """Source: holowiki.org, Cold_Water_Processing (E. Wesly): 180 µW/cm² and five doses; the times are dose over irradiance."""
    times = [_time_s(dose, 180_000) for dose in (3000, 4200, 6000, 8400, 12_000)]

    assert times == [Decimal(text) for text in ("16.7", "23.3", "33.3", "46.7", "66.7")]


def test_three_stations_of_different_brightness_get_different_times() -> None:
    """Hand calculation: 600 µJ/cm² at 60, 48 and 31 µW/cm²."""
    times = [_time_s(600, reading) for reading in (60_000, 48_000, 31_000)]

    assert times == [Decimal("10.0"), Decimal("12.5"), Decimal("19.4")]


def test_a_meter_square_to_the_beam_shows_more_than_the_tilted_plate_gets() -> None:
    """Source: 3dimagery.com, create_exposure_techniques.html: 4 µW/cm² facing the beam are 2.237 µW/cm² at 56°."""
    assert (4 * cosine_of(56)).quantize(Decimal("0.001")) == Decimal("2.237")


def test_forgetting_the_tilt_would_underexpose() -> None:
    """Hand calculation: 600 µJ/cm² at 60 µW/cm² and 56° (33.55 µW/cm² in the plate) take 17.9 s, not 10 s."""
    answer = exposure(dose_uj_per_cm2=600, irradiance_nw_per_cm2=60_000, tilt_deg=56)

    assert isinstance(answer, Exposure)
    assert answer.time_s == Decimal("17.9")
    assert answer.plate_uw_per_cm2 == Decimal("33.55")
    assert answer.cosine == Decimal("0.5592")


def test_sixty_degrees_halve_the_light_exactly() -> None:
    assert cosine_of(60) == Decimal("0.5")


def test_a_test_strip_goes_up_in_half_stops() -> None:
    """Hand calculation: from 6 s by √2, the usual half stop: 6, 8.5, 12, 17, 24 s."""
    assert ladder(first_s=Decimal(6), steps=5) == tuple(
        Decimal(text) for text in ("6.0", "8.5", "12.0", "17.0", "24.0")
    )


def test_the_ladder_of_an_exposure_stands_around_it() -> None:
    """Half the time, the time itself in the middle, twice the time at the end."""
    answer = exposure(dose_uj_per_cm2=720, irradiance_nw_per_cm2=60_000, tilt_deg=0)

    assert isinstance(answer, Exposure)
    assert answer.ladder_s == tuple(Decimal(text) for text in ("6.0", "8.5", "12.0", "17.0", "24.0"))


def test_the_band_is_thirty_percent_to_either_side() -> None:
    """Source: hololaser.kwaoo.me, exposures.html: margins of ±30 % are drawn as tolerable."""
    answer = exposure(dose_uj_per_cm2=600, irradiance_nw_per_cm2=60_000, tilt_deg=0)

    assert isinstance(answer, Exposure)
    assert (answer.from_s, answer.to_s) == (Decimal("7.0"), Decimal("13.0"))


def test_half_a_second_is_rounded_up_for_the_station() -> None:
    answer = exposure(dose_uj_per_cm2=600, irradiance_nw_per_cm2=48_000, tilt_deg=0)

    assert isinstance(answer, Exposure)
    assert answer.station_s == 13


@pytest.mark.parametrize(
    ("dose", "reading", "tilt", "words"),
    [
        (0, 60_000, 0, "no dose"),
        (600, 0, 0, "no light"),
        (600, 60_000, 90, "grazes"),
        (600, 60_000, -1, "grazes"),
        (600, 2_000_000, 0, "reached in 0.30 s"),
        (100_000, 1_000, 0, "longer than an hour"),
    ],
)
def test_what_has_no_time_gets_a_sentence(dose: int, reading: int, tilt: int, words: str) -> None:
    answer = exposure(dose_uj_per_cm2=dose, irradiance_nw_per_cm2=reading, tilt_deg=tilt)

    assert isinstance(answer, NoExposure)
    assert words in answer.sentence


@given(
    dose=st.integers(min_value=1, max_value=100_000),
    reading=st.integers(min_value=1, max_value=10_000_000),
    tilt=st.integers(min_value=0, max_value=89),
)
def test_time_times_light_is_the_dose_again(dose: int, reading: int, tilt: int) -> None:
    """To the rounding of the time, which is a twentieth of a second either way."""
    answer = exposure(dose_uj_per_cm2=dose, irradiance_nw_per_cm2=reading, tilt_deg=tilt)

    if isinstance(answer, Exposure):
        light = Decimal(reading) / 1000 * cosine_of(tilt)
        assert abs(answer.time_s * light - dose) <= light * Decimal("0.0500001")
        assert 1 <= answer.station_s <= 3600


@pytest.mark.parametrize(
    ("text", "nanowatts"),
    [
        ("31", 31_000),
        ("31.4", 31_400),
        ("31,4", 31_400),
        ("0,125", 125),
        ("31.4 µW/cm²", 31_400),
        ("31.4 uW", 31_400),
        ("0.3 mW/cm2", 300_000),
        ("250 nW", 250),
    ],
)
def test_a_reading_is_understood_as_people_write_it(text: str, nanowatts: int) -> None:
    assert irradiance_nw_per_cm2(text) == nanowatts


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("bright", "is not a reading"),
        ("-3", "is not a reading"),
        ("12 W", "is not a reading"),
        ("1,500", "two things"),
        ("0", "no light"),
        ("0.0001", "no light"),
        ("101 mW", "check the unit"),
    ],
)
def test_a_reading_that_makes_no_sense_is_asked_back(text: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        irradiance_nw_per_cm2(text)


@pytest.mark.parametrize(
    ("nanowatts", "words"),
    [(31_400, "31.4 µW/cm²"), (60_000, "60 µW/cm²"), (250, "0.25 µW/cm²"), (1_200_000, "1200 µW/cm²")],
)
def test_a_reading_is_shown_without_idle_noughts(nanowatts: int, words: str) -> None:
    assert irradiance_words(nanowatts) == words


@pytest.mark.parametrize("typed", ["9" * 40, "1" + "0" * 30 + " nW"])
def test_a_reading_of_forty_digits_is_too_much_and_not_a_fault(typed: str) -> None:
    with pytest.raises(ValueError, match="more than 100 mW"):
        irradiance_nw_per_cm2(typed)
