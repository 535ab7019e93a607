"""Reserve plates: how many to have ready so that enough good ones come out. Exact, with whole numbers.

The good ones among n plates that come out well independently, each with the same chance p, follow the binomial
distribution: P(exactly k) = C(n, k) · p^k · (1 − p)^(n − k). Over a term, in which boxes expire, plate after plate is followed instead.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from math import comb

from server.core.supply import Lot, Need, Use, expired_before, needs_by_day

# Assumed until the log holds enough rated runs: published accounts run from no success at all to every plate.
ASSUMED_SUCCESS = Fraction(8, 10)
FEWEST_RATED = 5
# Assumed: how sure a lab wants to be that its plates last.
CONFIDENCES = (Fraction(90, 100), Fraction(95, 100))


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
    ways = last
    while Fraction(ways, whole**plates) ** classes < confidence:
        last = last * plates * lost // (plates - good + 1)
        plates += 1
        ways = ways * whole + last
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

    `ways[i]`, in ways of whole ** plates, is the chance that the plates so far have met just the first i wants, tests and good ones in
    their order. The next plate is past its day for want i, or meets it, or fails it: a test is met by any plate.
    """
    won, lost, whole = share.numerator, share.denominator - share.numerator, share.denominator
    expired = [(expired_before(lots, use.day), use) for use in uses]
    wants = [(skip, kind) for skip, use in expired for kind in [False] * use.tests + [True] * use.good]
    ways, plates, all_ways, met, found = [1] + [0] * len(wants), 0, 1, 0, []
    for use in uses:
        met += use.tests + use.good
        while Fraction(sum(ways[met:]), all_ways) < confidence:
            ways[-1] *= whole
            for i in range(min(plates, len(wants) - 1), -1, -1):
                skip, must_be_good = wants[i]
                if plates < skip:
                    ways[i] *= whole
                elif must_be_good:
                    ways[i + 1] += ways[i] * won
                    ways[i] *= lost
                else:
                    ways[i + 1] += ways[i] * whole
                    ways[i] = 0
            plates += 1
            all_ways *= whole
        found.append(plates)
    return found
