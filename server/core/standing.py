"""How a called class stands, and when what waits for its caller is due.

All instants are whole milliseconds from the class's second 0, planned times whole seconds from it.
"""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import pairwise

from server.core.cues import (
    LIGHT_CALLS,
    Call,
    Cue,
    CueVisit,
    EndsBy,
    Light,
    cues,
    is_counted,
    plates_of,
    spoken,
    touches,
)

MS = 1000


class Mode(StrEnum):
    """How a class goes on. By the plan: nobody has called anything, so the clock does."""

    BY_PLAN = "by the plan"
    RUNNING = "running"
    PAUSED = "paused"
    STOPPED = "stopped"
    CLEAR = "clear"


@dataclass(frozen=True)
class ClassPlan:
    """What is to be called: the visits of a plan, the stretches in which plates are made, and how long the lamps glow on.

    `lives` are, by place, the stretches in which what is in a tray may be used.
    """

    visits: tuple[CueVisit, ...]
    periods: tuple[tuple[int, int], ...]
    afterglow_s: int = 0
    lives: tuple[tuple[str, tuple[tuple[int, int], ...]], ...] = ()


@dataclass(frozen=True)
class Standing:
    """What all events together come to. `calls` are the cues of its visits that wait for a caller, called or not; `fired` holds
    when each call was really made, by what it began.

    What was planned at second `base_s` was called at `base_ms`, pauses included; none before the first call. `lit` tells
    whether the lights were last called allowed; `held_since_ms` is set while nothing is to be called.
    """

    visits: tuple[CueVisit, ...]
    calls: tuple[Cue, ...]
    mode: Mode = Mode.BY_PLAN
    since_ms: int = 0
    fired: Mapping[str, int] = field(default_factory=dict)
    base_s: int | None = None
    base_ms: int = 0
    lit: bool = True
    held_since_ms: int | None = None


@dataclass(frozen=True)
class Due:
    """A cue that waits for its caller, and when it is due as things go now."""

    cue: Cue
    due_ms: int


@dataclass(frozen=True)
class Stay:
    """A visit that has begun. `ends_ms` is none where its end waits for a call."""

    visit: CueVisit
    starts_ms: int
    ends_ms: int | None

    def covers(self, at_ms: int) -> bool:
        return self.starts_ms <= at_ms and (self.ends_ms is None or at_ms < self.ends_ms)


def beginning(plan: ClassPlan) -> Standing:
    """A class of which nothing was called."""
    return Standing(plan.visits, _calls(plan, plan.visits))


def with_visits(plan: ClassPlan, standing: Standing, visits: tuple[CueVisit, ...]) -> Standing:
    """The same standing with other things to do."""
    return replace(standing, visits=visits, calls=_calls(plan, visits))


def _calls(plan: ClassPlan, visits: tuple[CueVisit, ...]) -> tuple[Cue, ...]:
    """Nobody is sent to where a plate was given up; what was called of it stays known by its visits."""
    wanted = [visit for visit in visits if not visit.lost]
    return tuple(cue for cue in cues(wanted, afterglow_s=plan.afterglow_s) if not cue.counted_from)


def keys_of(cue: Cue) -> tuple[str, ...]:
    """What is written down when the cue is called."""
    return cue.begins or (cue.key,)


def begun(standing: Standing, cue: Cue, begins: Sequence[str], at_ms: int) -> Standing:
    """The standing after a cue was called; whoever begins a dark step has the lights off."""
    dark = {visit.key for visit in standing.visits if visit.light == "dark"}
    lit = cue.light == "allowed" or (standing.lit and cue.light != "off" and not dark.intersection(begins))
    started = standing.mode is Mode.BY_PLAN
    return replace(
        standing,
        mode=Mode.RUNNING,
        since_ms=at_ms if started else standing.since_ms,
        fired={**standing.fired, **dict.fromkeys(begins, at_ms)},
        base_s=cue.at_s,
        base_ms=at_ms,
        lit=lit,
    )


def by_itself(
    plan: ClassPlan, standing: Standing, until_ms: int, *, not_before_ms: int | None = None
) -> Standing:
    """The standing after every cue due by then was called the moment it was due, or at `not_before_ms` where it was due sooner.

    Nothing is called while the class is held up.
    """
    if standing.held_since_ms is not None:
        return standing
    mode = standing.mode
    for due in foreseen(plan, standing, now_ms=not_before_ms)[0]:
        at_ms = due.due_ms if not_before_ms is None else max(due.due_ms, not_before_ms)
        if at_ms > until_ms:
            break
        standing = begun(standing, due.cue, keys_of(due.cue), at_ms)
    return replace(standing, mode=mode)


class Times:
    """When visits begin and end, from when some of them were called."""

    def __init__(self, visits: Iterable[CueVisit], called: Mapping[str, int]) -> None:
        self.visits: dict[str, CueVisit] = {}
        self.before: dict[str, CueVisit] = {}
        self.after: dict[str, CueVisit] = {}
        self.starts: dict[str, int] = {}
        for own in plates_of(visits).values():
            self.visits.update((visit.key, visit) for visit in own)
            self.before.update((two.key, one) for one, two in pairwise(own))
            self.after.update((one.key, two) for one, two in pairwise(own))
        for key, at_ms in called.items():
            if key in self.visits:
                self.begin(key, at_ms)

    def begin(self, key: str, at_ms: int) -> None:
        """A visit begins, and with it all that is counted from it."""
        visit: CueVisit | None = self.visits[key]
        while visit is not None:
            self.starts[visit.key] = at_ms
            at_ms += visit.lasts_ms
            following = self.after.get(visit.key)
            visit = following if following is not None and is_counted(visit, following) else None

    def end(self, visit: CueVisit) -> int | None:
        """When a visit that has begun ends; none while its end waits for the call of the next step."""
        following = self.after.get(visit.key)
        if visit.ends_by is EndsBy.CALL and following is not None and touches(visit, following):
            return self.starts.get(following.key)
        return self.starts[visit.key] + visit.lasts_ms

    def stays(self) -> list[Stay]:
        return [
            Stay(visit, self.starts[key], self.end(visit))
            for key, visit in self.visits.items()
            if key in self.starts
        ]

    def soonest(self, cue: Cue, *, otherwise: int) -> int:
        """The earliest instant at which a cue can be called: every step before it has had its time, and for light no plate is open."""
        waits = [
            self.starts[before.key] + before.lasts_ms
            for key in cue.begins
            if (before := self.before.get(key)) is not None and before.key in self.starts
        ]
        if cue.light == "allowed":
            waits += [
                stay.ends_ms
                for stay in self.stays()
                if stay.visit.light == "dark" and stay.ends_ms is not None
            ]
        return max(waits, default=otherwise)


def open_plates(standing: Standing, at_ms: int) -> tuple[Stay, ...]:
    """The steps in the dark that have begun, or will by themselves, and are not over: white light would spoil their plates."""
    return tuple(
        stay
        for stay in Times(standing.visits, standing.fired).stays()
        if stay.visit.light == "dark" and (stay.ends_ms is None or stay.ends_ms > at_ms)
    )


def pending(standing: Standing) -> tuple[Cue, ...]:
    """The cues that wait for their caller, in order. Lights are called only where they are not yet as they are to be."""
    dark = {visit.key for visit in standing.visits if visit.light == "dark"}
    lit = standing.lit
    found = []
    for cue in standing.calls:
        left = tuple(key for key in cue.begins if key not in standing.fired)
        passed = standing.base_s is not None and cue.at_s < standing.base_s
        if not left and (cue.begins or passed or cue.light == ("allowed" if lit else "off")):
            continue
        light: Light = "off" if dark.intersection(left) else cue.light
        changes = light if light and lit != (light == "allowed") else ""
        found.append(_as_it_stands(cue, left, changes))
        lit = lit if not light else light == "allowed"
    return tuple(found)


def _as_it_stands(cue: Cue, left: tuple[str, ...], light: Light) -> Cue:
    """The cue without what was called of it already, and with the lights it really changes."""
    calls = [Call(LIGHT_CALLS[light])] if light else []
    for call in cue.calls:
        movers = tuple(mover for mover in call.movers if mover.key in left)
        if call.kind not in LIGHT_CALLS.values() and (movers or not call.movers):
            calls.append(replace(call, movers=movers))
    return replace(cue, key=left[0] if left else cue.key, calls=spoken(calls), begins=left, light=light)


def foreseen(plan: ClassPlan, standing: Standing, *, now_ms: int | None) -> tuple[tuple[Due, ...], "Times"]:
    """When each cue that waits for its caller is due, and when every visit begins if each is called then.

    It is due as long after the last call as planned, and when the steps before it have had their time. Pauses count, and a gap
    between two stretches of class time takes up what the class is late. With `now_ms`, what is overdue holds up all behind it.
    """
    times = Times(standing.visits, standing.fired)
    found: list[Due] = []
    at_s, at_ms = standing.base_s, standing.base_ms
    if now_ms is not None and standing.held_since_ms is not None:
        at_ms += max(0, now_ms - standing.held_since_ms)
    for cue in pending(standing):
        if at_s is None:
            due_ms = cue.at_s * MS + at_ms
        elif period_of(plan, at_s) == period_of(plan, cue.at_s):
            due_ms = at_ms + (cue.at_s - at_s) * MS
        else:
            due_ms = max(at_ms, cue.at_s * MS)
        due_ms = max(due_ms, times.soonest(cue, otherwise=due_ms))
        found.append(Due(cue, due_ms))
        at_s, at_ms = cue.at_s, due_ms if now_ms is None else max(due_ms, now_ms)
        for key in cue.begins:
            times.begin(key, at_ms)
    return tuple(found), times


def period_of(plan: ClassPlan, second: int) -> int:
    """Which stretch of class time a second is in; between two of them, the one to come."""
    return min(len(plan.periods) - 1, bisect_left([closes for _opens, closes in plan.periods], second))
