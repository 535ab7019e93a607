"""What a group does minute by minute: its visits, its activities, and the waiting between them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from server.core.filling import Busy, Filled, Stretch, attended, without


@dataclass(frozen=True)
class Doing:
    """One line of a group's agenda: a visit, an activity, or waiting. `what` names the step or the activity."""

    kind: Literal["visit", "activity", "waiting"]
    what: str
    start_s: int
    end_s: int
    place: str = ""
    pass_no: int = 0


@dataclass(frozen=True)
class NowAndNext:
    """What a group does at one moment, and what begins next; a plate may dry while its group does something else."""

    now: tuple[Doing, ...]
    then: tuple[Doing, ...]


def agenda(
    group: str, *, spans: Sequence[Stretch], busy: Sequence[Busy], filled: Iterable[Filled]
) -> tuple[Doing, ...]:
    """What the group does from the first to the last minute, in the order of time."""
    visits = [one for one in busy if one.group == group]
    activities = [one for one in filled if one.group == group]
    taken = [*attended(visits, group), *((one.start_s, one.end_s) for one in activities)]
    found = [
        *(Doing("visit", one.step, one.start_s, one.end_s, one.place, one.pass_no) for one in visits),
        *(Doing("activity", one.activity, one.start_s, one.end_s) for one in activities),
        *(Doing("waiting", "", start, end) for start, end in without(spans, taken)),
    ]
    return tuple(sorted(found, key=lambda one: (one.start_s, one.end_s)))


def now_and_next(doings: Sequence[Doing], second: int) -> NowAndNext:
    """What goes on at ``second`` (from its start up to and not including its end), and what begins next after it."""
    later = [one for one in doings if one.start_s > second]
    first = min((one.start_s for one in later), default=None)
    return NowAndNext(
        tuple(one for one in doings if one.start_s <= second < one.end_s),
        tuple(one for one in later if one.start_s == first),
    )
