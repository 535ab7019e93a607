"""What a day's rotations need laid out: plates out of boxes, and how long before class.

Durations are in seconds.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

# Assumed: the first rotation finds its developer mixed, stood and poured this long before it starts.
MIX_LEAD_S = 20 * 60
# Assumed: a class may start this late and its last plate must still leave a living developer.
LATE_START_S = 10 * 60
# Assumed: a charge in a tray is poured away and the next one poured in this time.
CHANGE_S = 3 * 60
# Assumed: laying out water, bleach, waste containers and station times begins this long before the first rotation.
LAY_OUT_LEAD_S = 40 * 60


@dataclass(frozen=True)
class BoxOnShelf:
    """A plate box, with the last day on which its plates count."""

    id: int
    plates: int
    expires_on: date | None


@dataclass(frozen=True)
class BoxPick:
    """So many plates out of one box."""

    box_id: int
    plates: int


@dataclass(frozen=True)
class PlatePicks:
    """`expired` plates stood in boxes that are past their day and were not counted."""

    picks: tuple[BoxPick, ...]
    short: int
    expired: int


def pick_plates(boxes: Sequence[BoxOnShelf], *, plates: int, day: date) -> PlatePicks:
    """Take `plates` from the boxes that expire first; a box whose day is past is left alone.

    >>> pick_plates([BoxOnShelf(1, 4, date(2027, 2, 28)), BoxOnShelf(2, 30, None)], plates=6, day=date(2027, 2, 16)).picks
    (BoxPick(box_id=1, plates=4), BoxPick(box_id=2, plates=2))
    """
    picks, wanted, expired = [], plates, 0
    for box in sorted(boxes, key=lambda box: (box.expires_on or date.max, box.id)):
        if box.expires_on is not None and box.expires_on < day:
            expired += box.plates
            continue
        taken = min(box.plates, wanted)
        if taken:
            picks.append(BoxPick(box.id, taken))
            wanted -= taken
    return PlatePicks(tuple(picks), wanted, expired)
