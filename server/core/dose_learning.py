"""The exposure time that past plates of one station and one plate box speak for.

Verdicts fall off on both sides of the best exposure, and an exposure counts by its ratio to another, so a parabola in the
logarithm of the time is fitted by least squares and its top is the best time.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log2

import numpy as np

# Assumed: fewer plates than this teach nothing.
FEWEST_SHOTS = 5
# Three coefficients need three different times, and the spread of the verdicts around the curve more plates than three.
FEWEST_TIMES = 3
# Assumed: an exposure is never changed by more than this share in one step.
LARGEST_STEP = 0.4
# Assumed: a best time that may as well be half or double, by one standard error, is no answer.
MOST_ERROR_STOPS = 1.0
# Half of a half stop to either side of the best time tells most about where the top is.
NEXT_STOPS = 0.25


@dataclass(frozen=True)
class Shot:
    """One plate that may teach: its exposure in seconds and its verdict when dry."""

    time_s: float
    verdict: float


@dataclass(frozen=True)
class Learned:
    """The top of the fitted curve: `best_s` with its standard error as the band `from_s` to `to_s`, and the verdict there.

    `step_s` is the whole second to set the station to now, at most `LARGEST_STEP` away from what it has; `next_s` are the two
    exposures that would sharpen the answer most. `beyond` says that the top lies outside the times tried. All times are seconds,
    to a tenth where not whole.
    """

    best_s: float
    from_s: float
    to_s: float
    verdict: float
    shots: int
    step_s: int
    next_s: tuple[int, int]
    beyond: bool


@dataclass(frozen=True)
class NotLearned:
    """These plates say nothing about the time; `sentence` says why and what to do."""

    sentence: str
    shots: int


def learn(shots: Sequence[Shot], *, set_s: int) -> Learned | NotLearned:
    """Return the best exposure time of a station that is set to `set_s` seconds.

    The standard error is that of the top −b / 2c of a fitted a + b·x + c·x², carried over from the errors of b and c (the delta
    method, as in any textbook on regression), with x the logarithm of the time to base 2.
    """
    count = len(shots)
    if count < FEWEST_SHOTS:
        return NotLearned(
            f"{count} of the {FEWEST_SHOTS} rated plates that a time can be learned from. Rate the plates that are dry.",
            count,
        )
    stops = np.array([log2(shot.time_s) for shot in shots])
    if len({round(shot.time_s, 1) for shot in shots}) < FEWEST_TIMES:
        return NotLearned(
            f"The {count} rated plates have fewer than {FEWEST_TIMES} different times. Expose a test strip around the usual time.",
            count,
        )
    middle = float(stops.mean())
    terms = np.vander(stops - middle, 3, increasing=True)
    verdicts = np.array([shot.verdict for shot in shots])
    fitted, *_ = np.linalg.lstsq(terms, verdicts, rcond=None)
    flat, slope, bend = (float(value) for value in fitted)
    if bend >= 0:
        return NotLearned(
            f"The verdicts of {count} plates don't fall off on both sides of any time. Expose some much shorter and much longer.",
            count,
        )
    top = -slope / (2 * bend)
    spread = float(((verdicts - terms @ fitted) ** 2).sum()) / (count - 3)
    errors = spread * np.linalg.inv(terms.T @ terms)
    towards = np.array([0.0, -1 / (2 * bend), slope / (2 * bend**2)])
    error = float(np.sqrt(towards @ errors @ towards))
    if error > MOST_ERROR_STOPS:
        return NotLearned(
            f"The verdicts of {count} plates scatter too much to name a time. Rate all under one lamp, and expose a test strip.",
            count,
        )
    beyond = not stops.min() <= top + middle <= stops.max()
    # Outside the times tried the curve is a guess, so that only its direction counts.
    best = min(max(top + middle, float(stops.min())), float(stops.max()))
    return Learned(
        best_s=round(2**best, 1),
        from_s=round(2 ** (best - error), 1),
        to_s=round(2 ** (best + error), 1),
        verdict=round(flat + slope * (best - middle) + bend * (best - middle) ** 2, 1),
        shots=count,
        step_s=_step(2**best, set_s),
        next_s=(_whole(2 ** (best - NEXT_STOPS)), _whole(2 ** (best + NEXT_STOPS))),
        beyond=beyond,
    )


def _whole(seconds: float) -> int:
    return max(1, round(seconds))


def _step(best_s: float, set_s: int) -> int:
    """The whole second nearest to the best one that is not more than one step away; at least one second may always be moved."""
    reach = max(1, int(set_s * LARGEST_STEP))
    return max(1, min(max(_whole(best_s), set_s - reach), set_s + reach))
