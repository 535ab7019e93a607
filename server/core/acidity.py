"""Measured pH, as people write it and as hundredths."""

from decimal import Decimal

# Regulation (EC) No 1272/2008, Annex I, 3.2.3.1.2: a pH of 2 or less, or of 11.5 or more, counts as corrosive to skin unless its
# buffer says otherwise. Both ends belong to it.
ACID_UP_TO, ALKALINE_FROM = 200, 1150


def ph_words(ph_hundredths: int) -> str:
    """A pH in words, as finely as it was written.

    >>> ph_words(1250)
    'pH 12.5'
    """
    return f"pH {(Decimal(ph_hundredths) / 100).normalize():f}"


def is_corrosive(ph_hundredths: int) -> bool:
    """Whether a measured pH alone says that a solution is to be treated as corrosive. No other answer says that it is harmless."""
    return ph_hundredths <= ACID_UP_TO or ph_hundredths >= ALKALINE_FROM
