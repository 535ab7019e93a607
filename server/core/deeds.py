"""What each student did in a class: the roles held for plates that were really made, and whether run notes came in time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from server.core.roles import ONCE_EACH, Duties, Role


@dataclass(frozen=True)
class Held:
    """The roles that a student held for one plate; `plate` is the number of the pass in the plan."""

    plate: int
    roles: tuple[Role, ...]


def duties_done(duties: Sequence[Duties], made: Mapping[str, int]) -> tuple[Duties, ...]:
    """The duties of plates that were made, when each group made so many (by its name): the first of its plan.

    >>> plan = [Duties("G1", plate, ((Role.LOADER, "a"),)) for plate in (1, 2)]
    >>> [one.pass_no for one in duties_done(plan, {"G1": 1})]
    [1]
    """
    left = dict(made)
    done = []
    for one in duties:
        if left.get(one.group, 0) > 0:
            left[one.group] -= 1
            done.append(one)
    return tuple(done)


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
