"""How much longer classes take, worked by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.class_pace import ASSUMED_SPREAD, Pace, pace

RATIOS = st.lists(st.floats(0.3, 4), min_size=1, max_size=6)


def test_four_classes_are_not_counted_yet() -> None:
    assert pace([[1.2], [1.3], [1.1], [1.2]]) == Pace(1.0, ASSUMED_SPREAD, 4, is_assumed=True)


def test_five_classes_weigh_as_much_as_the_assumption() -> None:
    """Worked by hand: five classes at 1.2 beside five assumed at 1.0 make 1.1; each lies 0.1 away, and the assumed ones spread by
    0.1 more: variance (5 · 0.01 + 5 · (0.01 + 0.01)) / 10 = 0.015, and 0.1225 / 1.1 = 0.111.
    """
    found = pace([[1.2]] * 5)

    assert found.longer == pytest.approx(1.1)
    assert found.spread == pytest.approx(0.1113, abs=1e-4)
    assert (found.classes, found.is_assumed) == (5, False)


def test_a_note_that_was_written_late_does_not_count_for_its_class() -> None:
    assert pace([[1.0, 1.0, 3.0]] * 5).longer == pytest.approx(1.0)


def test_a_class_without_a_note_is_no_class() -> None:
    assert pace([[1.2]] * 4 + [[]]).is_assumed


@given(st.lists(RATIOS, min_size=5, max_size=12))
def test_the_pace_lies_between_the_assumption_and_what_was_seen(classes: list[list[float]]) -> None:
    found = pace(classes)

    seen = [sorted(ratios) for ratios in classes]
    assert min(1.0, *(ratios[0] for ratios in seen)) <= found.longer + 1e-9
    assert found.longer - 1e-9 <= max(1.0, *(ratios[-1] for ratios in seen))
    assert found.spread > 0
