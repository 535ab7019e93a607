"""Labels on their sheets."""

from itertools import combinations

import pytest

from server.core.label_sheets import A4, FORMATS, LETTER, Format, find_format, is_large_enough, spots
from server.core.label_sizes import LITRE, size_for


def _named(key: str) -> Format:
    found = find_format(key)
    assert found is not None
    return found


@pytest.mark.parametrize("one", FORMATS, ids=lambda one: str(one.key))
def test_all_labels_of_a_sheet_stand_on_it_and_apart(one: Format) -> None:
    on_page = spots(one, labels=one.labels, first=1)

    for spot in on_page:
        assert spot.page == 0
        assert 0 <= spot.x_um <= one.page_width_um - one.width_um
        assert 0 <= spot.y_um <= one.page_height_um - one.height_um
    for a, b in combinations(on_page, 2):
        assert abs(a.x_um - b.x_um) >= one.width_um or abs(a.y_um - b.y_um) >= one.height_um
    assert spots(one, labels=1, first=one.labels + 1)[0].page == 1


def test_formats_are_named_by_their_measures_and_have_keys_of_their_own() -> None:
    assert _named("a4-2x4").name == "A4, 2 × 4, 99.1 × 67.7 mm"
    assert _named("one-74x52").name == "single labels, 74 × 52 mm"
    assert len({one.key for one in FORMATS}) == len({one.name for one in FORMATS}) == len(FORMATS)
    assert {(one.page_width_um, one.page_height_um) for one in FORMATS if one.labels > 1} == {A4, LETTER}


def test_the_sheet_s_margins_are_alike_on_both_sides() -> None:
    """210 − 2 × 99.1 − 2.5 = 9.3, and 297 − 4 × 67.7 = 26.2 mm."""
    one = _named("a4-2x4")

    assert (one.left_um, one.top_um) == (4650, 13_100)


def test_labels_begin_at_the_first_free_one_and_go_on_on_the_next_sheet() -> None:
    one = _named("a4-2x4")
    found = spots(one, labels=3, first=7)

    assert [(spot.page, spot.x_um, spot.y_um) for spot in found] == [
        (0, 4650, 13_100 + 3 * 67_700),
        (0, 4650 + 101_600, 13_100 + 3 * 67_700),
        (1, 4650, 13_100),
    ]


def test_a_label_on_its_side_is_as_large() -> None:
    assert is_large_enough(_named("a4-2x4"), size_for(3 * LITRE))
    assert not is_large_enough(_named("a4-2x4"), size_for(5 * LITRE))
    assert is_large_enough(_named("a4-2x2"), size_for(5 * LITRE))
    assert not is_large_enough(_named("a4-2x3"), size_for(5 * LITRE))


@pytest.mark.parametrize("vessel_l", [1, 5, 60, 600])
def test_every_vessel_s_size_is_met_by_a_sheet_and_by_a_single_label(vessel_l: int) -> None:
    fitting = [one for one in FORMATS if is_large_enough(one, size_for(vessel_l * LITRE))]

    assert any(one.page == "A4" for one in fitting)
    assert any(one.page == "US Letter" for one in fitting)
    assert any(one.page == "single labels" for one in fitting)
