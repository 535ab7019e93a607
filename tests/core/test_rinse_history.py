"""Rinse per plate from the classes before, worked by hand."""

from hypothesis import given
from hypothesis import strategies as st

from server.core.rinse_history import ClassRinse, RinsePerPlate, rinse_per_plate

LITRE = 1_000_000


def _classes(*figures: tuple[int, int]) -> list[ClassRinse]:
    return [ClassRinse(key, f"class {key}", plates, ul) for key, (plates, ul) in enumerate(figures)]


def test_four_classes_are_too_few_and_the_usual_figure_is_assumed_with_its_spread() -> None:
    """One litre for six plates and a fifth of it."""
    found = rinse_per_plate(_classes(*[(12, 3 * LITRE)] * 4), usual_ul_per_plate=166_667)

    assert found == RinsePerPlate(166_667, 33_333, 4, is_assumed=True)
    assert found.behind == 5


def test_five_classes_are_the_labs_own_figure() -> None:
    """By hand: 12 plates each, 2, 2, 2, 3 and 3 L: 12 L ÷ 60 plates = 200 mL; a class is 33.3 mL below or 50 mL above it, the mean
    square is (3 · 1111 + 2 · 2500) ÷ 5 = 1667 mL², times 5 ÷ 4 under the root 45.6 mL.
    """
    found = rinse_per_plate(
        _classes(*[(12, 2 * LITRE)] * 3, *[(12, 3 * LITRE)] * 2), usual_ul_per_plate=166_667
    )

    assert found == RinsePerPlate(200_000, 45_643, 5, is_assumed=False)


def test_a_class_of_one_plate_weighs_as_one_plate() -> None:
    """By hand: a litre for a single plate beside five classes at 200 mL a plate: 13 L ÷ 61 plates, not the mean of the six figures, 333 mL."""
    found = rinse_per_plate(_classes(*[(12, 2_400_000)] * 5, (1, LITRE)), usual_ul_per_plate=166_667)

    assert found.mean_ul == 213_115
    assert found.classes == 6


def test_a_class_without_a_plate_tells_nothing() -> None:
    assert rinse_per_plate(_classes(*[(12, LITRE)] * 4, (0, LITRE)), usual_ul_per_plate=1).is_assumed


@given(st.lists(st.tuples(st.integers(1, 40), st.integers(0, 10**8)), min_size=5, max_size=20))
def test_the_mean_lies_among_the_classes_and_makes_their_sum(figures: list[tuple[int, int]]) -> None:
    classes = _classes(*figures)
    found = rinse_per_plate(classes, usual_ul_per_plate=166_667)

    assert (
        min(one.per_plate_ul for one in classes) <= found.mean_ul <= max(one.per_plate_ul for one in classes)
    )
    plates = sum(one.plates for one in classes)
    assert abs(found.mean_ul * plates - sum(one.rinse_ul for one in classes)) <= plates
    assert found.spread_ul >= 0
