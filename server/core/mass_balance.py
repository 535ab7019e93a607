"""Whether a day, a class or a term of liquids adds up: what came in against what went and what is still there.

Mixed + drawn = poured + stock + carried out + evaporated + spilled + drained where that is permitted ± difference. The difference is shown
with what measuring alone may make, and asked about where it is more; nothing here closes a balance. Volumes are microlitres; they are
taken to add up when baths are mixed, which is true to a percent for thin watery ones.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import isqrt

from server.core.reconciling import POUR_TOLERANCE, Account, percent_words
from server.core.units import volume_words

# Assumed: below a quarter of a litre nobody asks, however little came in.
LEAST_TOLERANCE_UL = 250_000


class Side(StrEnum):
    """Where a term stands: it came in, it has gone, or it is there still."""

    CAME_IN = "came in"
    GONE = "gone"
    THERE = "there still"


@dataclass(frozen=True)
class Term:
    """One line of a balance. `uncertainty_ul` is how far it may be off either way; `is_assumed`: no entry says it."""

    name: str
    side: Side
    amount_ul: int
    uncertainty_ul: int = 0
    is_assumed: bool = False


def root_of_squares(uncertainties_ul: Iterable[int]) -> int:
    """Return what independent uncertainties make together, rounded up: the root of the sum of their squares.

    >>> root_of_squares([30_000, 40_000])
    50000
    """
    squares = sum(one * one for one in uncertainties_ul)
    root = isqrt(squares)
    return root if root * root == squares else root + 1


def carried_out_ul(*, plates: int, plate_area_mm2: int, rate_ul_per_m2: int) -> int:
    """Return the microlitres that plates take with them: number × both faces × rate, each plate's share rounded to the nearest.

    No measured figure for plates of a hologram lab is known; the rate is the lab's own. `plate_area_mm2` is one face; edges are left out.

    >>> carried_out_ul(plates=48, plate_area_mm2=4032, rate_ul_per_m2=50_000)
    19344
    """
    return plates * round(Fraction(2 * plate_area_mm2 * rate_ul_per_m2, 1_000_000))


@dataclass(frozen=True)
class Balance:
    """The terms with their account, and the difference that is asked about from `allowed_ul` on."""

    terms: tuple[Term, ...]
    account: Account
    allowed_ul: Fraction

    def on(self, side: Side) -> tuple[Term, ...]:
        return tuple(term for term in self.terms if term.side is side)

    @property
    def difference_ul(self) -> int:
        """What came in and has no entry; below zero more went, or is there, than came in."""
        return self.account.missing

    @property
    def uncertainty_ul(self) -> int:
        """How far the difference may be off by the terms' own uncertainties, taken as independent."""
        return root_of_squares(term.uncertainty_ul for term in self.terms)

    @property
    def is_asked_about(self) -> bool:
        return abs(self.difference_ul) > self.allowed_ul

    @property
    def sentence(self) -> str:
        """What to tell, or to ask, of the difference."""
        much, share = volume_words(abs(self.difference_ul)), percent_words(abs(self.account.share))
        allowed = volume_words(round(self.allowed_ul))
        if self.difference_ul == 0:
            return "Everything that came in has an entry."
        if not self.is_asked_about:
            return f"{much} ({share} of what came in) is within the {allowed} that measuring may make."
        if self.difference_ul > 0:
            return (
                f"{much} ({share} of what came in) went where no entry says, and measuring explains {allowed}. Was something poured "
                "without an entry, spilled, or is it in a tray still? Look and ask; then write what you know."
            )
        return (
            f"{much} more went, or is there, than came in, and measuring explains {allowed}. Was water filled in that nobody logged, "
            "or a pour entered twice? Look and ask; then write what you know."
        )


def balance(
    terms: Iterable[Term],
    *,
    tolerance: Fraction = POUR_TOLERANCE,
    tolerance_at_least_ul: int = LEAST_TOLERANCE_UL,
) -> Balance:
    """Add up the terms in whatever order they come; a difference beyond the larger of both tolerances is asked about."""
    kept = tuple(terms)

    def total(side: Side) -> int:
        return sum(term.amount_ul for term in kept if term.side is side)

    account = Account(total(Side.CAME_IN), total(Side.GONE), total(Side.THERE))
    return Balance(kept, account, account.allowed(tolerance, at_least=tolerance_at_least_ul))
