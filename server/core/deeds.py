"""What each student did in a class: the roles held for plates that were really made, and whether run notes came in time."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import count

from server.core.roles import ONCE_EACH, Duties, Role


@dataclass(frozen=True)
class Held:
    """The roles that a student held for one plate; `plate` is the number of the pass in the plan."""

    plate: int
    roles: tuple[Role, ...]


def plates_noted(numbers: Sequence[int | None]) -> tuple[int, ...]:
    """Which of its group's plates each run is of, counted from 1: the number noted with it, or the first that is free where it has
    none or another run has taken it. `numbers` are in the order in which the notes were written.

    >>> plates_noted([2, None, 2])
    (2, 1, 3)
    """
    taken: set[int] = set()
    found = []
    for index, number in enumerate(numbers):
        spoken_for = taken | {one for one in numbers[index + 1 :] if one is not None}
        own = number if number is not None and number not in taken else None
        found.append(own or next(one for one in count(1) if one not in spoken_for))
        taken.add(found[-1])
    return tuple(found)


def with_recorder(duties: Duties, student: str) -> Duties:
    """The same with the recorder who really filed the note."""
    others = tuple(holder for holder in duties.holders if holder[0] is not Role.RECORDER)
    return replace(duties, holders=(*others, (Role.RECORDER, student)))


def held_by(student: str, duties: Sequence[Duties]) -> tuple[Held, ...]:
    """What a student (a code) held, plate by plate; plates without a role of theirs are left out."""
    return tuple(Held(one.pass_no, roles) for one in duties if (roles := one.roles_of(student)))


def never_held(held: Sequence[Held]) -> tuple[Role, ...]:
    """Which of loading, exposing and processing is left to make up."""
    done = {role for one in held for role in one.roles}
    return tuple(role for role in ONCE_EACH if role not in done)


class OnTime(StrEnum):
    """How a run note's time is judged. Where nobody knows when the plate was exposed, it is not."""

    YES = "on time"
    LATE = "late"
    UNKNOWN = "not judged"


@dataclass(frozen=True)
class NoteTime:
    """`after_s` is how long after its exposure a note was written, none where that is not known."""

    judged: OnTime
    after_s: int | None


def note_time(*, written_at: datetime, exposed_at: datetime | None, within_s: int) -> NoteTime:
    """Whether a note was written within so many seconds of its plate's exposure. When it arrived doesn't count: a tablet without a
    network keeps what was written in time. One that was written before the planned end of the exposure is in time.
    """
    if exposed_at is None:
        return NoteTime(OnTime.UNKNOWN, None)
    after = max(timedelta(0), written_at - exposed_at)
    judged = OnTime.YES if after <= timedelta(seconds=within_s) else OnTime.LATE
    return NoteTime(judged, round(after.total_seconds()))
