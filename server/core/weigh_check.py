"""A container on a scale against its ledger: gross − tare = net, net ÷ density = volume.

Volumes are microlitres, masses milligrams, densities µg/µL, a thousand being a gram per millilitre.
"""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import ceil

from server.core.mass_balance import root_of_squares
from server.core.measuring import CannotBe
from server.core.reconciling import POUR_TOLERANCE, Account, percent_words
from server.core.units import digits, mass_words, near_volume_words, volume_words

# Assumed: baths of a tray line weigh 1.05 to 1.09 kg a litre where a gram per millilitre was taken for them.
DENSITY_TOLERANCE = Fraction(5, 100)


class Found(StrEnum):
    """What a weighing says of a ledger."""

    AGREES = "agrees"
    DIFFERS = "differs"
    TOO_FULL = "over the line"


@dataclass(frozen=True)
class Tolerance:
    """What may come of measuring alone, and what it is made of."""

    entries_ul: int
    scale_ul: Fraction
    density_ul: Fraction

    @property
    def all_ul(self) -> int:
        """The three are independent of each other, so their squares add up."""
        return root_of_squares(round(part) for part in (self.entries_ul, self.scale_ul, self.density_ul))


@dataclass(frozen=True)
class WeighCheck:
    """What is in the container by weight, what its ledger says, and how far they may be apart."""

    net_mg: int
    volume_ul: Fraction
    ledger_ul: int
    tolerance: Tolerance
    found: Found
    sentence: str

    @property
    def account(self) -> Account:
        """What the ledger says came in against what is there by weight."""
        return Account(self.ledger_ul, 0, round(self.volume_ul))


def entries_tolerance_ul(*, stated_ul: int, handled_ul: int, share: Fraction = POUR_TOLERANCE) -> int:
    """Return how far a ledger may be off by its entries, rounded up: their own uncertainties, and at least `share` of what was handled.

    `stated_ul` is the sum of the entries' uncertainties: one graduate errs the same way each time, so they are added up and not their
    squares. Draining loses what no reading sees, hence the share of `handled_ul`, the sum of the entries.
    """
    return max(stated_ul, ceil(share * handled_ul))


def weigh(
    *,
    gross_mg: int,
    tare_mg: int,
    density_ug_per_ul: int,
    is_density_assumed: bool = False,
    step_mg: int,
    ledger_ul: int,
    entries_ul: int,
    size_ul: int,
    fill_line_ul: int,
) -> WeighCheck | CannotBe:
    """Hold a weighing against the ledger, which may be off by `entries_ul`, and against the fill line.

    The scale is read to `step_mg`: gross and tare may each be off by half of it. An assumed density may be off by a twentieth; a measured
    one is taken as it is.
    """
    net_mg = gross_mg - tare_mg
    if net_mg <= 0:
        return CannotBe(
            f"The container would weigh {mass_words(tare_mg)} empty and {mass_words(gross_mg)} with what is in it. "
            "Look whether gross and tare were mixed up, and whether both are of this container."
        )
    volume_ul = Fraction(net_mg * 1000, density_ug_per_ul)
    tolerance = Tolerance(
        entries_ul=entries_ul,
        scale_ul=Fraction(step_mg * 1000, density_ug_per_ul),
        density_ul=DENSITY_TOLERANCE * volume_ul if is_density_assumed else Fraction(0),
    )
    agrees = abs(volume_ul - ledger_ul) <= tolerance.all_ul
    working = (
        f"{mass_words(gross_mg)} − {mass_words(tare_mg)} = {mass_words(net_mg)}; at "
        f"{digits(Fraction(density_ug_per_ul, 1000))} g/mL that is {near_volume_words(volume_ul)}"
    )
    if volume_ul > fill_line_ul:
        found, judged = Found.TOO_FULL, _too_full(ledger_ul, size_ul, fill_line_ul, volume_ul, agrees=agrees)
    elif agrees:
        found, judged = Found.AGREES, _agrees(ledger_ul, volume_ul, tolerance)
    else:
        found, judged = Found.DIFFERS, _differs(ledger_ul, volume_ul, tolerance)
    return WeighCheck(net_mg, volume_ul, ledger_ul, tolerance, found, f"{working}. {judged}")


def _too_full(ledger_ul: int, size_ul: int, fill_line_ul: int, volume_ul: Fraction, *, agrees: bool) -> str:
    line = f"its fill line at {volume_words(fill_line_ul)}"
    if agrees and ledger_ul > fill_line_ul:
        return f"By weight and by its ledger it stands over {line}. Pour nothing more into it."
    over = (
        f"more than the {volume_words(size_ul)} that it holds to the brim"
        if volume_ul > size_ul
        else f"over {line}"
    )
    return (
        f"That is {over}, and its ledger says {volume_words(ledger_ul)}: the density or the tare is wrong, or more was poured than was "
        "entered. Pour nothing more into it, look at it, weigh it again, and measure a litre of what is in it."
    )


def _difference(ledger_ul: int, volume_ul: Fraction) -> str:
    apart = round(volume_ul) - ledger_ul
    share = f" ({percent_words(Fraction(apart, ledger_ul))})" if ledger_ul else ""
    sign = "+" if apart > 0 else ""
    return f"{sign}{volume_words(apart)}{share}"


def _agrees(ledger_ul: int, volume_ul: Fraction, tolerance: Tolerance) -> str:
    return (
        f"Its ledger says {volume_words(ledger_ul)}; {_difference(ledger_ul, volume_ul)} is within the "
        f"{volume_words(tolerance.all_ul)} that measuring may make."
    )


def _differs(ledger_ul: int, volume_ul: Fraction, tolerance: Tolerance) -> str:
    why = (
        "Was something poured without an entry, or into the wrong container?"
        if volume_ul > ledger_ul
        else "Was a pour entered twice, did something leak or evaporate, or was something taken out?"
    )
    return (
        f"Its ledger says {volume_words(ledger_ul)}; {_difference(ledger_ul, volume_ul)} is more than the "
        f"{volume_words(tolerance.all_ul)} that measuring may make. {why} Look and ask; then write what you know."
    )
