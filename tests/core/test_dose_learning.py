"""Learning an exposure time, against a worked example and a reference library."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from server.core.dose_learning import LARGEST_STEP, Learned, NotLearned, Shot, learn

TIMES = (6, 8.49, 12, 16.97, 24)
VERDICTS = (2, 3.5, 4.5, 4, 2)
STRIP = [Shot(time_s, verdict) for time_s, verdict in zip(TIMES, VERDICTS, strict=True)]


def _learned(shots: list[Shot], set_s: int = 12) -> Learned:
    answer = learn(shots, set_s=set_s)
    assert isinstance(answer, Learned)
    return answer


def test_a_test_strip_of_five_plates_is_best_between_its_middle_two() -> None:
    """Worked by hand in half stops k = −2 … 2: Σy = 16, Σky = 0.5, Σk²y = 23.5, so the top is at k = 0.041 and 12.2 s."""
    answer = _learned(STRIP)

    assert (answer.best_s, answer.verdict, answer.shots) == (12.2, 4.4, 5)
    assert answer.next_s == (10, 14)
    assert not answer.beyond


def test_two_plates_that_moved_would_pull_the_time_far_down() -> None:
    """Why plates without an image are left out: counted with it, two at 17 s make 9.5 s of 12.2 s."""
    assert _learned([*STRIP, Shot(17, 0), Shot(17, 0)]).best_s == 9.5


@pytest.mark.parametrize("set_s", [5, 10, 12, 13, 30, 600])
def test_one_step_never_changes_a_time_by_more_than_two_fifths(set_s: int) -> None:
    step_s = _learned(STRIP, set_s).step_s

    assert abs(step_s - set_s) <= max(1, set_s * LARGEST_STEP)
    assert abs(step_s - 12.2) <= abs(set_s - 12.2) + 0.5


def test_four_plates_teach_nothing_yet() -> None:
    answer = learn(STRIP[:4], set_s=12)

    assert isinstance(answer, NotLearned)
    assert answer.sentence.startswith("4 of the 5 rated plates")


def test_plates_of_two_times_teach_no_third() -> None:
    answer = learn([*STRIP[:2]] * 3, set_s=12)

    assert isinstance(answer, NotLearned)
    assert "fewer than 3 different times" in answer.sentence


def test_verdicts_that_only_rise_towards_the_ends_have_no_best_time() -> None:
    answer = learn(
        [Shot(time_s, 4 - verdict) for time_s, verdict in zip(TIMES, VERDICTS, strict=True)], set_s=12
    )

    assert isinstance(answer, NotLearned)
    assert "don't fall off" in answer.sentence


def test_verdicts_that_scatter_too_much_name_no_time() -> None:
    shots = [
        Shot(time_s, verdict)
        for time_s, verdict in zip((6, 8, 23, 26, 36, 41.5, 43, 44), (1, 2, 2, 2, 1, 1, 4, 2), strict=True)
    ]
    answer = learn(shots, set_s=12)

    assert isinstance(answer, NotLearned)
    assert "scatter too much" in answer.sentence


def test_a_best_time_outside_the_times_tried_is_only_a_direction() -> None:
    answer = _learned(
        [Shot(time_s, verdict) for time_s, verdict in ((6, 1), (8, 2.2), (10, 2.9), (12, 3.3), (14, 3.6))]
    )

    assert answer.beyond
    assert answer.best_s == 14.0


@given(
    st.lists(
        st.tuples(st.floats(2, 60, allow_nan=False), st.integers(1, 4)),
        min_size=5,
        max_size=20,
        unique_by=lambda shot: round(shot[0]),
    )
)
def test_the_top_and_its_error_are_those_of_a_reference_fit(made: list[tuple[float, int]]) -> None:
    """Reference: SciPy's curve_fit, with the top of the curve as one of its own parameters."""
    answer = learn([Shot(time_s, verdict) for time_s, verdict in made], set_s=12)
    if isinstance(answer, NotLearned) or answer.beyond:
        return
    stops = np.log2([time_s for time_s, _verdict in made])
    verdicts = np.array([verdict for _time_s, verdict in made], dtype=float)

    def curve(x: np.ndarray, height: float, bend: float, top: float) -> np.ndarray:
        return height + bend * (x - top) ** 2

    found, errors = curve_fit(
        curve, stops, verdicts, p0=(answer.verdict, -1.0, np.log2(answer.best_s)), maxfev=20_000
    )

    top, error = found[2], float(np.sqrt(errors[2, 2]))
    assert answer.best_s == pytest.approx(2**top, abs=0.1)
    assert answer.from_s == pytest.approx(2 ** (top - error), rel=0.02, abs=0.15)
    assert answer.to_s == pytest.approx(2 ** (top + error), rel=0.02, abs=0.15)
