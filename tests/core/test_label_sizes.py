"""Sizes of labels, signs and letters, and when a vessel needs a label."""

import pytest

from server.core.label_sizes import (
    LITRE,
    ML,
    SIZES,
    Part,
    counts_as_corrosive,
    is_for_immediate_use,
    least_letter_um,
    letter_um_read_from,
    size_for,
    small_container,
)


@pytest.mark.parametrize(
    ("vessel_ul", "short_mm", "long_mm", "pictogram_mm"),
    [
        (2 * LITRE + LITRE // 2, 52, 74, 16),
        (3 * LITRE, 52, 74, 16),
        (5 * LITRE, 74, 105, 23),
        (50 * LITRE, 74, 105, 23),
        (50 * LITRE + 100 * ML, 105, 148, 32),
        (501 * LITRE, 148, 210, 46),
    ],
)
def test_a_label_s_size_follows_its_vessel(
    vessel_ul: int, short_mm: int, long_mm: int, pictogram_mm: int
) -> None:
    """CLP Annex I, table 1.3."""
    size = size_for(vessel_ul)

    assert (size.short_um, size.long_um, size.pictogram_um) == (
        short_mm * 1000,
        long_mm * 1000,
        pictogram_mm * 1000,
    )


@pytest.mark.parametrize("size", SIZES)
def test_a_pictogram_covers_a_fifteenth_of_the_least_label_and_a_square_centimetre(size: object) -> None:
    """CLP Annex I, 1.2.1.1: the table's own 16 and 32 mm fall short of the fifteenth by a hair."""
    found = next(one for one in SIZES if one is size)

    assert found.side_um**2 * 15 >= found.short_um * found.long_um
    assert found.side_um >= found.pictogram_um
    assert found.pictogram_least_um**2 >= 10_000**2


@pytest.mark.parametrize(
    ("vessel_ul", "x_height_um"),
    [(LITRE // 2, 1200), (LITRE // 2 + 1, 1400), (3 * LITRE, 1400), (50 * LITRE, 1800), (51 * LITRE, 2000)],
)
def test_letters_are_no_lower_than_their_vessel_asks_for(vessel_ul: int, x_height_um: int) -> None:
    """Regulation (EU) 2024/2865; an x is at least half as high as its letter size."""
    assert least_letter_um(vessel_ul) == 2 * x_height_um


def test_small_vessels_carry_at_least_what_the_standard_names() -> None:
    """HCS of 2024: up to 3 mL what it is; up to 100 mL its signal word and whose it is too."""
    assert small_container(3 * ML).must == {Part.NAME}
    assert small_container(100 * ML).must == {Part.NAME, Part.SIGNAL, Part.LAB}
    assert Part.STATEMENT in small_container(100 * ML + 1).must


@pytest.mark.parametrize(
    ("alone", "in_shift", "immediate"),
    [(True, True, True), (True, False, False), (False, True, False), (False, False, False)],
)
def test_only_what_its_filler_uses_alone_within_the_shift_needs_no_label(
    alone: bool, in_shift: bool, immediate: bool
) -> None:
    """29 CFR 1910.1200(f)(8): a class's shared developer tray is not for immediate use."""
    assert is_for_immediate_use(only_by_who_filled_it=alone, within_the_shift=in_shift) is immediate


def test_a_measured_ph_at_either_end_counts_as_corrosive() -> None:
    """CLP Annex I, 3.2.3.1.2: 2 and below, 11.5 and above."""
    assert [ph for ph in (0, 200, 201, 700, 1149, 1150, 1400) if counts_as_corrosive(ph)] == [
        0,
        200,
        1150,
        1400,
    ]


def test_words_read_from_one_metre_have_capitals_of_five_millimetres() -> None:
    """Common practice for signs: distance over two hundred; capitals are seven tenths of the letter size."""
    assert letter_um_read_from(distance_um=1_000_000) == round(5000 / 0.7)
