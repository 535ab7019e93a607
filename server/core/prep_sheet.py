"""What a day's rotations need laid out: mixes of developer, and plates out of boxes.

Volumes are in microlitres, durations in seconds. The figures of two worked days stand in the tests.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from server.core.waste_forecast import charges_for
from server.core.working_solution import end_of_life

# Assumed: the first rotation finds its developer mixed, stood and poured this long before it starts.
MIX_LEAD_S = 20 * 60
# Assumed: a class may start this late and its last plate must still leave a living developer.
LATE_START_S = 10 * 60
# Assumed: laying out water, bleach, waste containers and station times begins this long before the first rotation.
LAY_OUT_LEAD_S = 40 * 60


@dataclass(frozen=True)
class DayRotation:
    """A rotation as the developer sees it: `last_out_at` is when its last plate leaves the developer tray."""

    name: str
    starts_at: datetime
    last_out_at: datetime
    plates: int


@dataclass(frozen=True)
class Mix:
    """One mixing: `rotations` it serves in their order, with `test_plates` where it is the day's first.

    `margin_s` is how long after the last plate the developer still lives.
    """

    mixed_at: datetime
    ends_at: datetime
    rotations: tuple[DayRotation, ...]
    test_plates: int
    charges: int
    volume_ul: int
    margin_s: int

    @property
    def plates(self) -> int:
        return self.test_plates + sum(rotation.plates for rotation in self.rotations)


@dataclass(frozen=True)
class MixPlan:
    """The fewest mixes that serve the day; `too_long` are rotations that outlast any one mix, and are in no mix."""

    mixes: tuple[Mix, ...]
    too_long: tuple[DayRotation, ...]


def plan_mixes(
    rotations: Sequence[DayRotation],
    *,
    test_plates: int,
    life_s: int,
    charge_ul: int,
    plates_per_charge: int,
    lead_s: int = MIX_LEAD_S,
    late_start_s: int = LATE_START_S,
) -> MixPlan:
    """Divide the day into the fewest mixes, each serving rotations that follow each other.

    A mix is made `lead_s` before the first rotation it serves, and the last plate of each rotation it serves leaves the
    developer within `life_s` of the mixing, even when that rotation starts `late_start_s` late. Among the divisions with
    the fewest mixes the one with the fewest charges is taken, then the one whose shortest margin is longest. The test
    plates go into the first mix.
    """
    ordered = sorted(rotations, key=lambda rotation: (rotation.starts_at, rotation.last_out_at))

    def mix(served: Sequence[DayRotation], tests: int) -> Mix:
        mixed_at = served[0].starts_at - timedelta(seconds=lead_s)
        ends_at = end_of_life(mixed_at=mixed_at, life_s=life_s)
        charges = charges_for(
            plates=tests + sum(rotation.plates for rotation in served), plates_per_charge=plates_per_charge
        )
        last_out_at = max(rotation.last_out_at for rotation in served)
        margin_s = int((ends_at - last_out_at).total_seconds())
        return Mix(mixed_at, ends_at, tuple(served), tests, charges, charges * charge_ul, margin_s)

    too_long = tuple(rotation for rotation in ordered if mix([rotation], 0).margin_s < late_start_s)
    lasting = [rotation for rotation in ordered if rotation not in too_long]
    best: list[tuple[Mix, ...]] = [()]
    for end in range(1, len(lasting) + 1):
        ways = []
        for start in range(end):
            last = mix(lasting[start:end], 0 if start else test_plates)
            if last.margin_s >= late_start_s:
                ways.append((*best[start], last))
        best.append(min(ways, key=_cost))
    return MixPlan(best[-1], too_long)


def _cost(mixes: tuple[Mix, ...]) -> tuple[int, int, int]:
    return len(mixes), sum(mix.charges for mix in mixes), -min(mix.margin_s for mix in mixes)


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


def plates_short(boxes: Sequence[BoxOnShelf], uses: Sequence[tuple[date, int]]) -> int:
    """Plates that are missing when each use, a day and so many plates, takes in its turn from the boxes that expire first.

    >>> plates_short([BoxOnShelf(1, 30, date(2027, 3, 31))], [(date(2027, 3, 30), 12), (date(2027, 4, 14), 12)])
    12
    """
    shelf, short = list(boxes), 0
    for day, plates in sorted(uses):
        picks = pick_plates(shelf, plates=plates, day=day)
        taken = {pick.box_id: pick.plates for pick in picks.picks}
        shelf = [replace(box, plates=box.plates - taken.get(box.id, 0)) for box in shelf]
        short += picks.short
    return short
