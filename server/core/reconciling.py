"""What came in, what is known to have gone, and what is there: the difference is shown and asked about, never booked away."""

from dataclasses import dataclass
from fractions import Fraction

# Assumed: reading graduates and draining bottles lose or find this share of what was handled.
POUR_TOLERANCE = Fraction(5, 100)


@dataclass(frozen=True)
class Account:
    """Plates, or microlitres, of one thing over a time: `came_in`, `gone` with an entry that says where, and `on_hand` as counted."""

    came_in: int
    gone: int
    on_hand: int

    @property
    def missing(self) -> int:
        """What nobody can say the whereabouts of; below zero more was found than can be."""
        return self.came_in - self.gone - self.on_hand

    @property
    def share(self) -> Fraction:
        """What is missing, as a share of what came in; 0 where nothing came in."""
        return Fraction(self.missing, self.came_in) if self.came_in else Fraction(0)

    def allowed(self, tolerance: Fraction, *, at_least: int = 0) -> Fraction:
        """What measuring alone may make missing: a share of what came in, or `at_least` where that is more."""
        return max(tolerance * self.came_in, Fraction(at_least))

    def is_within(self, tolerance: Fraction, *, at_least: int = 0) -> bool:
        """Tell whether so much may come of measuring alone. Where nothing came in, nothing beyond `at_least` may be found."""
        return abs(self.missing) <= self.allowed(tolerance, at_least=at_least)


def percent_words(share: Fraction) -> str:
    """A share in hundredths with one decimal: `1.2 %`, `−1.6 %`."""
    return f"{float(share):.1%}".replace("%", " %").replace("-", "−")


def count_question(ledger: int, counted: int) -> str:
    """What to ask where a count of plates is not what the ledger says; nothing is corrected before it is answered.

    >>> count_question(4, 2)
    'The ledger says 4, you counted 2: 2 missing. Look for them and ask, then write what you know.'
    """
    if counted < ledger:
        return (
            f"The ledger says {ledger}, you counted {counted}: {ledger - counted} missing. "
            "Look for them and ask, then write what you know."
        )
    return (
        f"The ledger says {ledger}, you counted {counted}: {counted - ledger} too many. "
        "Look whether plates of another box lie in it, then write what you know."
    )
