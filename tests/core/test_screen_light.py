"""The light of a screen near plates, against published numbers.

Relative luminance and contrast: WCAG 2.2, “relative luminance” and “contrast ratio” (w3.org/TR/WCAG22). The fog estimate is checked by hand
with V of CIE 1924. What is called assumed is the house's own.
"""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.screen_light import (
    LEVELS,
    SAFE_FROM_S,
    TEXT_CONTRAST,
    Channel,
    FogTest,
    Level,
    Rgb,
    Stage,
    Trust,
    contrast,
    contrast_of_level,
    dimmest,
    fog_dose,
    look,
    of_channel,
    palette,
    relative_luminance,
    safe_s,
    screening,
)

BLACK, WHITE = (0, 0, 0), (255, 255, 255)
CHANNELS: tuple[Channel, ...] = ("green", "red")
# 20 cm by 15 cm.
TABLET_MM2 = 200 * 150


@pytest.mark.parametrize(
    ("colour", "ratio"),
    [((0, 255, 0), 15.30), ((255, 0, 0), 5.25), ((0, 0, 255), 2.44), ((0, 128, 0), 4.09), (WHITE, 21.0)],
)
def test_contrast_with_black_is_as_wcag_has_it(colour: Rgb, ratio: float) -> None:
    assert contrast(colour, BLACK) == pytest.approx(ratio, abs=0.005)
    assert contrast(BLACK, colour) == contrast(colour, BLACK)


@pytest.mark.parametrize(
    ("channel", "ratio", "value"),
    [("green", 3, 105), ("red", 3, 183), ("green", 4.5, 136), ("red", 4.5, 235), ("green", 7, 174), ("red", 7, None)],
)  # fmt: skip
def test_the_dimmest_letters_on_black(channel: Channel, ratio: float, value: int | None) -> None:
    assert dimmest(channel, reaching=ratio) == value


@pytest.mark.parametrize(("panel", "value"), [(0x30, 166), (0x40, 184)])
def test_the_dimmest_letters_on_a_dark_green_panel(panel: int, value: int) -> None:
    assert dimmest("green", reaching=4.5, on=panel) == value


def test_white_is_one_and_black_is_nothing() -> None:
    assert relative_luminance(WHITE) == pytest.approx(1)
    assert relative_luminance(BLACK) == 0


@pytest.mark.parametrize("channel", CHANNELS)
@pytest.mark.parametrize("level", LEVELS)
def test_nothing_is_brighter_than_the_ink_of_its_level(channel: Channel, level: Level) -> None:
    shown = palette(channel, level)

    assert max(shown.ink, shown.quiet, shown.edge, shown.chosen) == shown.ink
    assert shown.chosen == 0 or (
        contrast(of_channel(channel, shown.ink), of_channel(channel, shown.chosen)) >= TEXT_CONTRAST
    )


@pytest.mark.parametrize("channel", CHANNELS)
def test_every_level_is_brighter_than_the_one_below(channel: Channel) -> None:
    inks = [palette(channel, level).ink for level in LEVELS]

    assert inks == sorted(set(inks))


def test_letters_reach_what_is_asked_of_text_but_at_the_lowest_levels() -> None:
    assert [round(contrast_of_level("green", level), 1) for level in LEVELS] == [3.0, 4.5, 7.1, 9.3]
    assert [round(contrast_of_level("red", level), 2) for level in LEVELS] == [2.01, 3.01, 4.53, 5.25]


def test_a_screen_full_of_green_fogs_whatever_sees_a_hundredth_of_it() -> None:
    """By hand: 250 cd/m² x 0.7152 x 0.03 m² / 0.25 m² = 21.5 lux; / (683 x 0.862) = 3.64 µW/cm²; x 300 s = 1093 µJ/cm²."""
    dose = fog_dose(
        channel="green",
        mean_luminance=relative_luminance((0, 255, 0)),
        white_cd_per_m2=250,
        screen_mm2=TABLET_MM2,
        distance_mm=500,
        seconds=300,
        sensitivity=0.01,
    )

    assert dose.lux == pytest.approx(21.5, abs=0.05)
    assert dose.uw_per_cm2 == pytest.approx(3.64, abs=0.005)
    assert dose.uj_per_cm2 == pytest.approx(1093, abs=0.5)
    assert dose.counted_uj_per_cm2 == pytest.approx(10.93, abs=0.005)


def test_a_tenth_of_it_lit_on_a_screen_turned_down_is_a_fiftieth_of_a_microjoule() -> None:
    dose = fog_dose(
        channel="green",
        mean_luminance=0.1 * relative_luminance((0, 255, 0)),
        white_cd_per_m2=5,
        screen_mm2=TABLET_MM2,
        distance_mm=500,
        seconds=300,
        sensitivity=0.01,
    )

    assert dose.lux == pytest.approx(0.043, abs=0.0005)
    assert dose.uj_per_cm2 == pytest.approx(2.2, abs=0.05)
    assert dose.counted_uj_per_cm2 == pytest.approx(0.02, abs=0.005)


@pytest.mark.parametrize(("white", "energy"), [(250, 0.74), (10, 0.03)])
def test_what_leaks_through_a_black_page_is_red_too(white: float, energy: float) -> None:
    """A display of contrast 1000 : 1 leaks a thousandth of its white in every channel, at full sensitivity here."""
    dose = fog_dose(
        channel="red",
        mean_luminance=relative_luminance((255, 0, 0)) / 1000,
        white_cd_per_m2=white,
        screen_mm2=TABLET_MM2,
        distance_mm=500,
        seconds=300,
        sensitivity=1,
    )

    assert dose.counted_uj_per_cm2 == pytest.approx(energy, abs=0.005)


@given(st.dictionaries(st.tuples(*[st.integers(0, 255)] * 3), st.integers(1, 1000), min_size=1))
def test_what_a_picture_shows_is_never_more_than_all_of_it(pixels: dict[Rgb, int]) -> None:
    shown = look(pixels)

    assert 0 <= shown.mean_luminance <= shown.lit_share + 1e-9 <= 1 + 2e-9
    assert shown.most == tuple(max(colour[channel] for colour in pixels) for channel in range(3))


def test_too_much_light_is_said_in_words() -> None:
    assert look({BLACK: 95, (0, 174, 0): 5}).faults == ()
    assert look({BLACK: 70, (0, 174, 0): 30}).faults == (
        "30.0% of the screen is lit",
        "its mean luminance is 9.08% of white",
    )


TODAY = date(2027, 2, 16)


def _test(
    last_clear_s: int, *, stage: Stage = Stage.AFTER, level: int = 3, days_ago: int = 0, mm: int = 500
) -> FogTest:
    return FogTest(1, "green", level, stage, last_clear_s, mm, TODAY - timedelta(days=days_ago))


def test_half_of_the_last_clear_step_is_safe() -> None:
    found = screening([_test(420), _test(600, stage=Stage.BEFORE)], box_id=1, colour="green", level=3)

    assert safe_s(420) == 210
    assert (found.trust, found.safe_s) == (Trust.PASSED, 210)


@pytest.mark.parametrize(("box_id", "colour", "level"), [(2, "green", 3), (1, "red", 3), (1, "green", 4)])
def test_a_test_tells_nothing_of_another_box_another_colour_or_a_brighter_screen(
    box_id: int, colour: Channel, level: int
) -> None:
    found = screening([_test(600)], box_id=box_id, colour=colour, level=level)

    assert (found.trust, found.safe_s, found.made_on) == (Trust.UNTESTED, 0, None)


def test_what_was_tested_from_afar_holds_from_there_on_only() -> None:
    found = screening(
        [_test(600, mm=300), _test(600, stage=Stage.BEFORE, mm=2000)], box_id=1, colour="green", level=3
    )

    assert (found.trust, found.distance_mm) == (Trust.PASSED, 2000)


def test_a_screen_turned_darker_since_its_test_is_no_worse() -> None:
    assert screening([_test(600)], box_id=1, colour="green", level=1).trust is Trust.PASSED


def test_a_test_before_exposure_alone_is_not_enough() -> None:
    found = screening([_test(600, stage=Stage.BEFORE)], box_id=1, colour="green", level=3)

    assert found.trust is Trust.UNTESTED


def test_the_newest_test_counts_and_a_mark_after_too_short_a_time_fails_it() -> None:
    old, new = _test(600, days_ago=30), _test(2 * SAFE_FROM_S - 1)

    assert screening([old, new], box_id=1, colour="green", level=3).trust is Trust.FAILED
    assert screening([new, old], box_id=1, colour="green", level=3).trust is Trust.FAILED
    assert screening([_test(0, days_ago=1), old], box_id=1, colour="green", level=3).trust is Trust.FAILED
    assert screening([_test(2 * SAFE_FROM_S)], box_id=1, colour="green", level=3).trust is Trust.PASSED
