"""How much longer than planned the lab's classes take, learned from when their plates were really exposed."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import median

# Assumed until the log holds enough classes: the plan is right on average, and a class is slower or faster by a tenth.
ASSUMED_LONGER = 1.0
ASSUMED_SPREAD = 0.1
FEWEST_CLASSES = 5


@dataclass(frozen=True)
class Pace:
    """Real ÷ planned time of a whole class: its mean, and its standard deviation ÷ mean, from so many `classes`."""

    longer: float
    spread: float
    classes: int
    is_assumed: bool


def pace(classes: Sequence[Sequence[float]]) -> Pace:
    """The pace from the ratios of real to planned time of each class's plates.

    A class counts by the median of its plates, for some notes are written late. Below `FEWEST_CLASSES` the pace is assumed; from
    there on the assumption still counts as that many classes more, so that a few quick classes never promise that none is slow.
    """
    found = [median(ratios) for ratios in classes if ratios]
    if len(found) < FEWEST_CLASSES:
        return Pace(ASSUMED_LONGER, ASSUMED_SPREAD, len(found), is_assumed=True)
    count = len(found) + FEWEST_CLASSES
    mean = (sum(found) + FEWEST_CLASSES * ASSUMED_LONGER) / count
    squares = sum((ratio - mean) ** 2 for ratio in found)
    squares += FEWEST_CLASSES * ((ASSUMED_LONGER - mean) ** 2 + ASSUMED_SPREAD**2)
    return Pace(mean, sqrt(squares / count) / mean, len(found), is_assumed=False)
