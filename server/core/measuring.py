"""How a quantity of waste was measured, and how far it may be off.

Volumes are microlitres, masses milligrams, densities µg/µL, a thousand being a gram per millilitre.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from server.core.units import (
    LARGEST_VOLUME_UL,
    MICROLITRES,
    MILLIGRAMS,
    mass_mg,
    mass_words,
    volume_ul,
    volume_words,
)


class Method(StrEnum):
    """How a quantity was measured; what a pickup takes is the sum of the container's entries."""

    GRADUATE = "graduate"
    SCALE = "scale"
    ESTIMATE = "estimate"
    SUM = "sum of entries"


# Assumed, each either way: what is read off a graduate with wet gloves, weighed on a plain scale, or judged by eye.
SHARE_OFF = {
    Method.GRADUATE: Fraction(1, 100),
    Method.SCALE: Fraction(1, 100),
    Method.ESTIMATE: Fraction(1, 5),
}
GRADUATE_LEAST_UL = 5_000
SCALE_STEP_MG = 10_000

NOT_WEIGHED = "A mass was weighed: choose the scale, or write a volume."

Density = int | Fraction

_SHARE = re.compile(r"([0-9]{1,3}(?:[.,][0-9]{1,3})?)\s*%")


@dataclass(frozen=True)
class Quantity:
    """What was typed: a volume, or a mass that was weighed."""

    typed: str
    volume_ul: int | None = None
    mass_mg: int | None = None


@dataclass(frozen=True)
class GiveOrTake:
    """How far a person says that a quantity may be off: a share of it, or an amount."""

    typed: str
    share: Fraction | None = None
    amount: Quantity | None = None


@dataclass(frozen=True)
class Measured:
    """A quantity as the ledger keeps it. `weighed_mg` is its mass where that is what was measured."""

    volume_ul: int
    weighed_mg: int | None
    uncertainty_ul: int
    typed: str


@dataclass(frozen=True)
class CannotBe:
    """Why a quantity can't be kept, as a sentence for a person."""

    sentence: str


def read_quantity(text: str) -> Quantity:
    """Return a volume or a mass from text such as `250 mL` or `1.2 kg`; a bare number is millilitres.

    Raises ValueError with a sentence for a person.

    >>> read_quantity("1.2 kg")
    Quantity(typed='1.2 kg', volume_ul=None, mass_mg=1200000)
    """
    typed = text.strip()
    unit = re.search(r"[a-zA-Zµμ]*$", typed)
    if unit is not None and unit[0].lower() in MILLIGRAMS:
        return Quantity(typed, mass_mg=mass_mg(typed))
    if unit is not None and unit[0] and unit[0].lower() not in MICROLITRES:
        message = f"“{typed}” is no volume and no mass. Please write it like 250 mL, or like 1.2 kg where it was weighed."
        raise ValueError(message)
    return Quantity(typed, volume_ul=volume_ul(typed))


def read_give_or_take(text: str) -> GiveOrTake:
    """Return how far a quantity may be off from text such as `50 mL`, `20 g` or `5 %`. Raises ValueError with a sentence."""
    typed = text.strip().removeprefix("±").strip()
    share = _SHARE.fullmatch(typed)
    if share is not None:
        return GiveOrTake(typed, share=Fraction(Decimal(share[1].replace(",", "."))) / 100)
    return GiveOrTake(typed, amount=read_quantity(typed))


def typed_words(quantity: Quantity, give_or_take: GiveOrTake | None) -> str:
    """Return what was typed as the ledger keeps it.

    >>> typed_words(read_quantity("1 L"), read_give_or_take("5 %"))
    '1 L ± 5 %'
    """
    return quantity.typed if give_or_take is None else f"{quantity.typed} ± {give_or_take.typed}"


def was_weighed(typed: str) -> bool:
    """Tell whether what the ledger keeps as typed is a mass.

    >>> was_weighed("1.2 kg ± 5 %"), was_weighed("1.2 L")
    (True, False)
    """
    try:
        return read_quantity(typed.partition("±")[0]).mass_mg is not None
    except ValueError:
        return False


def volume_of_ul(mass: int, density_ug_per_ul: Density) -> int:
    """Return the microlitres of a mass in milligrams: mass ÷ density, to the nearest.

    >>> volume_of_ul(1_200_000, 1050)
    1142857
    """
    return round(Fraction(mass * 1000) / density_ug_per_ul)


def mass_of_mg(volume: int, density_ug_per_ul: int) -> int:
    """Return the milligrams of a volume in microlitres: volume × density, half a milligram to the even one.

    >>> mass_of_mg(1_000_000, 1050)
    1050000
    """
    return round(Fraction(volume * density_ug_per_ul, 1000))


def usual_uncertainty_ul(method: Method, *, volume: int, density_ug_per_ul: Density) -> int:
    """Return how far a volume may be off by how it was measured, as assumed: a share of it, and at least what the vessel or scale shows.

    >>> usual_uncertainty_ul(Method.GRADUATE, volume=250_000, density_ug_per_ul=1000)
    5000
    >>> usual_uncertainty_ul(Method.ESTIMATE, volume=250_000, density_ug_per_ul=1000)
    50000
    """
    if method is Method.SUM:
        return 0
    share = -(-volume * SHARE_OFF[method].numerator // SHARE_OFF[method].denominator)
    if method is Method.GRADUATE:
        return max(share, GRADUATE_LEAST_UL)
    if method is Method.SCALE:
        return max(share, volume_of_ul(SCALE_STEP_MG, density_ug_per_ul))
    return share


def measure(
    quantity: Quantity, method: Method, *, density_ug_per_ul: Density, give_or_take: GiveOrTake | None = None
) -> Measured | CannotBe:
    """Turn what was typed into what the ledger keeps. What was weighed becomes a volume by the density of what it is."""
    if quantity.mass_mg is not None and method is not Method.SCALE:
        return CannotBe(NOT_WEIGHED)
    volume = (
        volume_of_ul(quantity.mass_mg, density_ug_per_ul)
        if quantity.mass_mg is not None
        else quantity.volume_ul or 0
    )
    if volume <= 0:
        return CannotBe("Please write more than nothing, such as 250 mL.")
    if volume > LARGEST_VOLUME_UL:
        return CannotBe("That is more than any lab holds. Please check the unit.")
    if give_or_take is None:
        off = usual_uncertainty_ul(method, volume=volume, density_ug_per_ul=density_ug_per_ul)
        return Measured(volume, quantity.mass_mg, off, quantity.typed)
    off = _off_ul(give_or_take, volume, density_ug_per_ul)
    if off > volume:
        return CannotBe("Give or take more than the whole is no measurement. Please write less.")
    return Measured(volume, quantity.mass_mg, off, typed_words(quantity, give_or_take))


def _off_ul(give_or_take: GiveOrTake, volume: int, density_ug_per_ul: Density) -> int:
    """What a person says, in microlitres, rounded up."""
    if give_or_take.share is not None:
        return -(-volume * give_or_take.share.numerator // give_or_take.share.denominator)
    amount = give_or_take.amount
    assert amount is not None
    if amount.mass_mg is not None:
        return volume_of_ul(amount.mass_mg, density_ug_per_ul)
    return amount.volume_ul or 0


def part_mg(*, held_ul: int, held_mg: int, volume: int) -> int:
    """Return the mass that goes with a part of what is held, in proportion to its volume; with the whole goes all of it.

    >>> part_mg(held_ul=3_000_000, held_mg=3_150_000, volume=1_000_000)
    1050000
    """
    return held_mg if volume == held_ul else round(Fraction(held_mg * volume, held_ul))


def why_off(method: Method, *, typed: str, volume: int, uncertainty_ul: int) -> str:
    """Return where an uncertainty comes from, in words."""
    if method is Method.SUM:
        return "what the ledger says: its entries have their own"
    if not uncertainty_ul:
        return "how far it may be off was not kept"
    off = f"± {volume_words(uncertainty_ul)}"
    if "±" in typed:
        return f"{off}, as typed"
    if method is Method.GRADUATE:
        return f"{off}: a graduate, 1 % and at least {volume_words(GRADUATE_LEAST_UL)}, assumed"
    if method is Method.SCALE:
        return f"{off}: a scale, 1 % and at least {mass_words(SCALE_STEP_MG)}, assumed"
    return f"{off}: an estimate, 20 % of {volume_words(abs(volume))}, assumed"
