"""Working developer from stock A and stock B: its parts, its life, and the plates a charge serves."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum


@dataclass(frozen=True)
class Parts:
    """Volumes in microlitres; together they are the volume that was asked for."""

    stock_a_ul: int
    stock_b_ul: int


def equal_parts(*, volume_ul: int) -> Parts:
    """How much of stock A and of stock B make `volume_ul` of working developer, mixed 1 + 1.

    An odd microlitre goes to stock A, so that nothing appears or vanishes. Source of the ratio: the two-part
    metol and ascorbate recipe in a Stony Brook student report of 2003, which mixes A and B in equal parts.

    >>> equal_parts(volume_ul=250_000)
    Parts(stock_a_ul=125000, stock_b_ul=125000)
    """
    stock_b_ul = volume_ul // 2
    return Parts(stock_a_ul=volume_ul - stock_b_ul, stock_b_ul=stock_b_ul)


def largest_mix_ul(*, stock_a_ul: int, stock_b_ul: int) -> int:
    """The most working developer, in microlitres, that these two volumes still make: twice the smaller.

    >>> largest_mix_ul(stock_a_ul=450_000, stock_b_ul=300_000)
    600000
    """
    return 2 * min(stock_a_ul, stock_b_ul)


def end_of_life(*, mixed_at: datetime, life_s: int) -> datetime:
    """The UTC instant at which a batch ends. `mixed_at` must carry its time zone.

    The life is elapsed time since A met B: it is added in UTC, so that the night of a clock change does not
    stretch or shorten it, and pouring a charge later does not begin it anew.
    """
    return mixed_at.astimezone(UTC) + timedelta(seconds=life_s)


def plates_of_charge(*, volume_ul: int, usual_charge_ul: int, plates_per_charge: int) -> int:
    """How many plates a charge of `volume_ul` serves, when `usual_charge_ul` serves `plates_per_charge`.

    Capacity goes with volume; part of a plate is no plate, so it is rounded down.

    >>> plates_of_charge(volume_ul=150_000, usual_charge_ul=200_000, plates_per_charge=12)
    9
    """
    return volume_ul * plates_per_charge // usual_charge_ul


class ChargeState(StrEnum):
    """Whether plates may still go through a charge; life and capacity count, whichever ends first."""

    USABLE = "usable"
    PAST_ITS_LIFE = "past its life"
    USED_UP = "used up"


def charge_state(*, now: datetime, ends_at: datetime, plates: int, plates_at_most: int) -> ChargeState:
    """The state of a charge at `now`. At the very moment its life ends it is past it."""
    if now >= ends_at:
        return ChargeState.PAST_ITS_LIFE
    return ChargeState.USED_UP if plates >= plates_at_most else ChargeState.USABLE
