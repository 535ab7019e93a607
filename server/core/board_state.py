"""What the board says at one instant of a rotation: the state of the room, its next change, and who moves next."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Literal


class RoomState(StrEnum):
    """The state in the words of the board. Stillness is said before darkness, because it also forbids walking."""

    LIGHTS = "Lights allowed"
    DARK = "Dark"
    STILL = "Hold still"


@dataclass(frozen=True)
class BoardVisit:
    """One step of one group, from `starts_at` up to and not including `ends_at`."""

    group: str
    pass_no: int
    step: str
    place: str
    is_dark: bool
    is_still: bool
    starts_at: datetime
    ends_at: datetime

    def covers(self, instant: datetime) -> bool:
        return self.starts_at <= instant < self.ends_at


@dataclass(frozen=True)
class Change:
    """At `at` the room becomes `state`; `is_dark` also where the state says to hold still."""

    at: datetime
    state: RoomState
    is_dark: bool


@dataclass(frozen=True)
class BoardState:
    """`change` is None after the last one. `moves` all begin at the same instant; `going_on` are by group."""

    state: RoomState
    is_dark: bool
    change: Change | None
    going_on: tuple[BoardVisit, ...]
    moves: tuple[BoardVisit, ...]
    is_over: bool


def _room(visits: Iterable[BoardVisit], instant: datetime) -> tuple[RoomState, bool]:
    now = [visit for visit in visits if visit.covers(instant)]
    is_dark = any(visit.is_dark for visit in now)
    if any(visit.is_still for visit in now):
        return RoomState.STILL, is_dark
    return (RoomState.DARK if is_dark else RoomState.LIGHTS), is_dark


def _next_change(visits: Sequence[BoardVisit], instant: datetime) -> Change | None:
    current = _room(visits, instant)
    for later in sorted(
        {edge for visit in visits for edge in (visit.starts_at, visit.ends_at) if edge > instant}
    ):
        following = _room(visits, later)
        if following != current:
            return Change(later, *following)
    return None


def _moves(visits: Sequence[BoardVisit], instant: datetime) -> tuple[BoardVisit, ...]:
    """The next visits that begin elsewhere than the same plate's visit before; a group's first step is a move too."""
    stands: dict[tuple[str, int], str] = {}
    moves = []
    for visit in sorted(
        visits, key=lambda visit: (visit.starts_at, visit.ends_at, visit.group, visit.pass_no)
    ):
        plate = (visit.group, visit.pass_no)
        if visit.starts_at > instant and stands.get(plate) != visit.place:
            moves.append(visit)
        stands[plate] = visit.place
    first = [visit for visit in moves if visit.starts_at == moves[0].starts_at]
    return tuple(sorted(first, key=lambda visit: (visit.group, visit.pass_no)))


def board_state(visits: Sequence[BoardVisit], *, instant: datetime) -> BoardState:
    """The state of the room at `instant`.

    It is dark exactly while some dark step lasts and to be held still exactly while some still step lasts; a step
    lasts from its start up to and not including its end. Between two steps of a pass the plate is taken to be covered,
    as the planner takes it.
    """
    state, is_dark = _room(visits, instant)
    return BoardState(
        state=state,
        is_dark=is_dark,
        change=_next_change(visits, instant),
        going_on=tuple(
            sorted(
                (visit for visit in visits if visit.covers(instant)),
                key=lambda visit: (visit.group, visit.pass_no),
            )
        ),
        moves=_moves(visits, instant),
        is_over=all(visit.ends_at <= instant for visit in visits),
    )


Colour = Literal["green", "red", "none"]


@dataclass(frozen=True)
class BoxSight:
    """Which light exposes the plates of a box."""

    sees_red: bool
    sees_green: bool


def screen_colour(boxes: Iterable[BoxSight]) -> Colour:
    """The one channel a screen may emit near open plates of `boxes`: green, where none sees green; else red, where none
    sees red; else nothing at all.

    >>> screen_colour([BoxSight(sees_red=True, sees_green=False)])
    'green'
    >>> screen_colour([BoxSight(sees_red=True, sees_green=False), BoxSight(sees_red=False, sees_green=True)])
    'none'
    """
    sights = list(boxes)
    if not any(box.sees_green for box in sights):
        return "green"
    return "none" if any(box.sees_red for box in sights) else "red"
