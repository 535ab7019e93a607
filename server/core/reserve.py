"""Reserve plates: how many to have ready so that enough good ones come out.

The good ones among n plates that come out well independently, each with the same chance p, follow the binomial
distribution: P(exactly k) = C(n, k) · p^k · (1 − p)^(n − k), in whole numbers. Over a term, in which boxes
expire, the number of plates made is followed from day to day instead.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from itertools import accumulate, count, takewhile
from math import comb, exp, lgamma, log, log1p

from server.core.supply import Lot, Need, Use, expired_before, needs_by_day

# Assumed until the log holds enough rated runs: published accounts run from no success at all to every plate.
ASSUMED_SUCCESS = Fraction(8, 10)
FEWEST_RATED = 5
# Assumed: how sure a lab wants to be that its plates last.
CONFIDENCES = (Fraction(90, 100), Fraction(95, 100))
# Over a term: a chance that is left out, and by how little a chance may fall short of the confidence for the rounding of its sum.
_NEVER, _NEARLY = 1e-18, 1e-9


@dataclass(frozen=True)
class Success:
    """The chance `share` that a plate comes out well: `good` of `rated` runs and what was assumed beside them.

    `is_assumed` says that too few runs were rated to count.
    """

    good: int
    rated: int
    share: Fraction
    is_assumed: bool


@dataclass(frozen=True)
class PlateUse:
    """The plates of one day: `good` ones are wanted, a plate for each is planned, `tests` come first, `repeats` have their round kept free."""

    day: date
    good: int
    tests: int = 0
    repeats: int = 0

    @property
    def planned(self) -> int:
        return self.good + self.tests + self.repeats


def success(*, good: int, rated: int) -> Success:
    """The share of plates that come out well, from the runs rated so far.

    Below `FEWEST_RATED` it is the assumed share. From there on the assumed share still counts as that many runs more, so
    that a few lucky plates never promise that none can fail: five good ones of five make (5 + 4) of (5 + 5).

    >>> success(good=5, rated=5).share
    Fraction(9, 10)
    >>> success(good=2, rated=4).share
    Fraction(4, 5)
    """
    if rated < FEWEST_RATED:
        return Success(good, rated, ASSUMED_SUCCESS, is_assumed=True)
    share = (good + ASSUMED_SUCCESS * FEWEST_RATED) / (rated + FEWEST_RATED)
    return Success(good, rated, share, is_assumed=False)


def _percent(share: Fraction) -> str:
    return f"{round(float(share) * 100)} %"


def success_words(found: Success) -> tuple[str, ...]:
    """Where the chance that a plate comes out well is from, in sentences for the page that counts with it."""
    assumed = f"{_percent(ASSUMED_SUCCESS)} of the plates come out well"
    if found.is_assumed:
        return (
            f"Assumed: {assumed}. Runs rated in this lab so far: {found.rated}; from {FEWEST_RATED} on they count.",
        )
    return (
        f"{found.good} of {found.rated} rated runs of this lab are good, that is with a verdict of 3 or 4.",
        (
            f"Beside them the assumption that {assumed} counts as {FEWEST_RATED} runs more, so that a few lucky plates never "
            f"promise that none can fail: ({found.good} + {float(ASSUMED_SUCCESS * FEWEST_RATED):g}) ÷ "
            f"({found.rated} + {FEWEST_RATED}) = {_percent(found.share)}."
        ),
    )


def chance_of_enough(*, plates: int, good: int, share: Fraction) -> Fraction:
    """The chance that at least `good` of `plates` come out well: the upper tail of the binomial distribution.

    >>> float(round(chance_of_enough(plates=49, good=36, share=Fraction(8, 10)), 3))
    0.903
    """
    won, lost, whole = share.numerator, share.denominator - share.numerator, share.denominator
    ways = sum(comb(plates, k) * won**k * lost ** (plates - k) for k in range(max(0, good), plates + 1))
    return Fraction(ways, whole**plates)


def _must_be_chances(share: Fraction, confidence: Fraction) -> None:
    if not (0 < share <= 1 and 0 <= confidence < 1):
        message = "The share must lie above 0 and up to 1, the confidence from 0 to below 1."
        raise ValueError(message)


def fewest_plates(*, good: int, share: Fraction, confidence: Fraction, classes: int = 1) -> int:
    """The fewest plates of which at least `good` come out well with at least `confidence`.

    With several `classes` that each keep so many plates of their own, the confidence is that of all of them together.
    `share` is above 0 and `confidence` below 1; otherwise no number would do, and ValueError is raised.

    >>> fewest_plates(good=9, share=Fraction(8, 10), confidence=Fraction(9, 10))
    13
    """
    _must_be_chances(share, confidence)
    if good <= 0:
        return 0
    won, lost, whole = share.numerator, share.denominator - share.numerator, share.denominator
    # In ways of whole ** plates: the last good one wanted is plate number `plates` in `last`, or an earlier one in `ways`.
    plates, last = good, won**good
    ways, all_ways = last, whole**plates
    while ways**classes * confidence.denominator < confidence.numerator * all_ways**classes:
        last = last * plates * lost // (plates - good + 1)
        plates += 1
        ways, all_ways = ways * whole + last, all_ways * whole
    return plates


def plates_by_day(
    lots: Sequence[Lot], uses: Sequence[PlateUse], *, share: Fraction, confidence: Fraction
) -> tuple[Need, ...]:
    """The plates that must have been on the shelf by the end of each day of the uses, which stand in the order of their days.

    All classes share the boxes, and what expires first is used first. With at least `confidence`, so many plates are enough for every good
    one wanted up to that day; a plate that fails is repeated on its own day. They are never fewer than the plans take, which includes the
    repeats. Where nothing expires, they are `fewest_plates` of all good ones wanted, and the tests.

    >>> [need.needed for need in plates_by_day([], [PlateUse(date(2027, 3, 2), good=9)], share=Fraction(8, 10), confidence=Fraction(9, 10))]
    [13]
    """
    _must_be_chances(share, confidence)
    planned = needs_by_day(lots, [Use(use.day, use.planned) for use in uses])
    wanted = _plates_wanted(lots, uses, share=share, confidence=confidence)
    return tuple(
        replace(need, needed=max(need.needed, plates)) for need, plates in zip(planned, wanted, strict=True)
    )


def _plates_wanted(
    lots: Sequence[Lot], uses: Sequence[PlateUse], *, share: Fraction, confidence: Fraction
) -> list[int]:
    """How many plates of the shelf's line must be there so that the wants up to each day are met with the confidence asked.

    `chances[i]` is the chance that the wants so far are met by just `least + i` plates. A day begins beyond what has expired; a test is
    met by any plate.
    """
    chances, least, found = [1.0], 0, []
    for use in uses:
        if use.tests or use.good:
            expired = expired_before(lots, use.day) - least
            if expired > 0:
                chances, least = [sum(chances[: expired + 1]), *chances[expired + 1 :]], least + expired
            by_good, fewest = _plates_until(use.good, float(share))
            both = [0.0] * (len(chances) + len(by_good) - 1)
            for i, chance in enumerate(chances):
                for j, other in enumerate(by_good, start=i):
                    both[j] += chance * other
            chances, dropped = _without_tails(both)
            least += use.tests + fewest + dropped
        met = list(accumulate(chances))
        found.append(least + bisect_left(met, float(confidence) - _NEARLY, hi=len(met) - 1))
    return found


def _plates_until(good: int, share: float) -> tuple[list[float], int]:
    """The chance that just so many plates, and one more, and one more, are made for `good` good ones; and the first such number.

    The negative binomial distribution: P(n) = C(n − 1, good − 1) · p^good · (1 − p)^(n − good), where it is above `_NEVER`.
    """
    if good == 0 or share == 1:
        return [1.0], good

    def chance(plates: int) -> float:
        ways = lgamma(plates) - lgamma(good) - lgamma(plates - good + 1)
        return exp(ways + good * log(share) + (plates - good) * log1p(-share))

    likeliest = good + int((good - 1) * (1 - share) / share)
    fewer = takewhile(lambda one: one > _NEVER, map(chance, range(likeliest, good - 1, -1)))
    more = takewhile(lambda one: one > _NEVER, map(chance, count(likeliest + 1)))
    below = [*fewer]
    return [*reversed(below), *more], likeliest - len(below) + 1


def _without_tails(chances: list[float]) -> tuple[list[float], int]:
    """The chances without those at both ends that are next to nothing, and how many are gone at the front."""
    first = next(i for i, chance in enumerate(chances) if chance > _NEVER)
    last = next(i for i in range(len(chances) - 1, -1, -1) if chances[i] > _NEVER)
    return chances[first : last + 1], first
