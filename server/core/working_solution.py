"""The life of what was mixed, and the plates that a charge of it serves."""

from datetime import UTC, datetime, timedelta
from enum import StrEnum


def end_of_life(*, mixed_at: datetime, life_s: int) -> datetime:
    """The UTC instant at which a batch ends. `mixed_at` must carry its time zone.

    The life is elapsed time since A met B: it is added in UTC, so that the night of a clock change does not
    stretch or shorten it, and pouring a charge later does not begin it anew.
    """
    return mixed_at.astimezone(UTC) + timedelta(seconds=life_s)


def plate_area_mm2(*, width_um: int, height_um: int) -> int:
    """The area of a plate's coated face in whole square millimetres, rounded to the nearest.

    Every plate is rounded by itself, so that so many usual plates are exactly the capacity they stand for.

    >>> plate_area_mm2(width_um=63_500, height_um=63_500)
    4032
    """
    return (width_um * height_um + 500_000) // 1_000_000


def capacity_mm2(*, volume_ul: int, usual_charge_ul: int, plates_per_charge: int, plate_mm2: int) -> int:
    """The plate area, in square millimetres, that `volume_ul` serves, when `usual_charge_ul` serves `plates_per_charge`
    plates of `plate_mm2` each.

    Capacity is volume ÷ rate, rounded down: developer is used up by the area that goes through it, not by the number of
    plates. Source of the rule: the capacity table of a colour-reversal process manual (Table 2-1), checked in the tests. No
    published area per litre is known for two-part developer; what serves what is the lab's own figure, assumed until set.

    >>> capacity_mm2(volume_ul=150_000, usual_charge_ul=200_000, plates_per_charge=12, plate_mm2=4032)
    36288
    """
    return volume_ul * plates_per_charge * plate_mm2 // usual_charge_ul


def plates_within(*, area_mm2: int, plate_mm2: int) -> int:
    """How many plates of `plate_mm2` fit in `area_mm2`; part of a plate is no plate, and less than nothing holds none.

    >>> plates_within(area_mm2=48_384, plate_mm2=12_903)
    3
    """
    return max(0, area_mm2) // plate_mm2


class ChargeState(StrEnum):
    """Whether plates may still go through a charge: the earliest of life, failed check and capacity ends it."""

    USABLE = "usable"
    PAST_ITS_LIFE = "past its life"
    FAILED = "failed its check"
    USED_UP = "used up"


def charge_state(
    *, now: datetime, ends_at: datetime, by_check: bool = False, room_mm2: int, plate_mm2: int
) -> ChargeState:
    """The state of a charge at `now` for a plate of `plate_mm2`, with `room_mm2` of its capacity left.

    `by_check` says that it ends with a failed check and not with its life. At the very moment its life ends it is past it.
    """
    if now >= ends_at:
        return ChargeState.FAILED if by_check else ChargeState.PAST_ITS_LIFE
    return (
        ChargeState.USABLE if plates_within(area_mm2=room_mm2, plate_mm2=plate_mm2) else ChargeState.USED_UP
    )
