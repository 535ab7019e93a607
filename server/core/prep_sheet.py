"""A prep sheet: what its lines are, when they are done and by whom, and which box its plates come from.

Durations are in seconds.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from server.core.moments import day_at


class LineKind(StrEnum):
    """What a line of the sheet asks for; a lab says for each kind who does it."""

    TAKE_OUT = "take out"
    WEIGH = "weigh"
    MIX = "mix"
    LABEL = "label"
    BATH_CHECK = "check a bath"
    POUR = "pour"
    LAY_OUT = "lay out"
    LASERS = "lasers"
    ROOM_CHECK = "check the room"
    AFTER_CLASS = "after class"


class Who(StrEnum):
    """For whom a line is."""

    TECHNICIAN = "technician"
    INSTRUCTOR = "instructor"
    ASSISTANT = "assistant"


# Common practice: the technician takes out, mixes and clears away, the assistant readies the room, the instructor the lasers.
USUAL_WHO: Mapping[LineKind, Who] = {
    kind: {LineKind.LASERS: Who.INSTRUCTOR, LineKind.ROOM_CHECK: Who.ASSISTANT}.get(kind, Who.TECHNICIAN)
    for kind in LineKind
}

_FRIDAY = 4


def when_at_work(needed_at: datetime, *, zone: str, opens_s: int, day_before_s: int) -> datetime:
    """Return when a thing is done that is needed by `needed_at`: then, or the working day before, where nobody is there yet.

    `opens_s` and `day_before_s` are seconds after midnight on the lab's clock: when work begins on a day, and when things are made ready
    for the next. Working days are Monday to Friday.
    """
    day = day_at(needed_at, zone)
    if needed_at >= _on_the_clock(day, opens_s, zone):
        return needed_at
    return day_before_at(day, zone=zone, day_before_s=day_before_s)


def day_before_at(day: date, *, zone: str, day_before_s: int) -> datetime:
    """Return when things are made ready on the last working day before `day`."""
    before = day - timedelta(days=1)
    while before.weekday() > _FRIDAY:
        before -= timedelta(days=1)
    return _on_the_clock(before, day_before_s, zone)


def _on_the_clock(day: date, seconds: int, zone: str) -> datetime:
    return datetime.combine(day, seconds_after_midnight(seconds), tzinfo=ZoneInfo(zone)).astimezone(UTC)


def seconds_after_midnight(seconds: int) -> time:
    """The wall clock's time so many seconds after midnight."""
    return time(seconds // 3600, seconds // 60 % 60)


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


def after_picks(boxes: Sequence[BoxOnShelf], picks: PlatePicks) -> tuple[BoxOnShelf, ...]:
    """Return the boxes as they stand when the picks are taken out of them."""
    taken = {pick.box_id: pick.plates for pick in picks.picks}
    return tuple(replace(box, plates=box.plates - taken.get(box.id, 0)) for box in boxes)
