"""A class as it is called: what was called when, taken together.

Events only grow, each naming what it answers; one is taken back by another. Instants are whole milliseconds from the class's
second 0. The same events come to the same in whatever process and on whatever device they are put together.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from server.core.cues import Cue, CueVisit, plates_of
from server.core.standing import (
    ClassPlan,
    Mode,
    Standing,
    Times,
    beginning,
    begun,
    by_itself,
    keys_of,
    open_plates,
    pending,
    with_visits,
)


class EventKind(StrEnum):
    CALLED = "called"
    UNDONE = "undone"
    PAUSED = "paused"
    RESUMED = "resumed"
    REPEAT = "repeat"
    LEFT_OUT = "left out"
    CAUGHT_UP = "caught up"
    STOPPED = "stopped"
    CLEAR = "clear"
    TAKEN_UP = "taken up"


# Whoever called LIGHTS has seen to people; what they then did is not taken back by a key.
LASTING = frozenset({EventKind.STOPPED, EventKind.CLEAR})
# What may have been said on another device while a call was on its way: the call came first all the same.
OVERTAKING: frozenset[EventKind] = frozenset({EventKind.PAUSED, EventKind.STOPPED})


@dataclass(frozen=True)
class Event:
    """`begins` names what a call began: visits, and lights by their cue's key. `undoes` is the id of an event, `repeats` the
    plates (group, pass, how many repeats before) that are made again, `into` the group of a round kept for repeats that one of
    them takes.
    """

    id: str
    kind: EventKind
    at_ms: int
    begins: tuple[str, ...] = ()
    undoes: str = ""
    repeats: tuple[tuple[str, int, int], ...] = ()
    into: str = ""


@dataclass(frozen=True)
class Replayed:
    """`taken` are the events that count, in order, and `ignored` the ids of those that answered nothing. `before` is how the class
    stood before the last one of `taken`, none where that is not taken back.
    """

    standing: Standing
    taken: tuple[Event, ...]
    ignored: tuple[str, ...]
    before: Standing | None


class Stale(StrEnum):
    """Why an event answers nothing."""

    NOT_NEXT = "not next"
    SINCE = "since"
    PAUSED = "paused"
    STOPPED = "stopped"
    NOT_PAUSED = "not paused"
    NOT_STOPPED = "not stopped"
    NOT_CLEAR = "not clear"
    PLATES_OPEN = "plates open"
    NOTHING = "nothing"


def replay(plan: ClassPlan, events: Iterable[Event]) -> Replayed:
    """What the events, in the order of time, come to; an event that answers nothing is passed over."""
    history = [beginning(plan)]
    taken: list[Event] = []
    ignored: list[str] = []
    for event in events:
        after = Stale.NOTHING if event.kind is EventKind.UNDONE else follow(plan, history[-1], event)
        if isinstance(after, Standing):
            history.append(after)
            taken.append(event)
        elif event.kind is EventKind.UNDONE and _is_undone(taken, event):
            history.pop()
            taken.pop()
        else:
            ignored.append(event.id)
    can_undo = bool(taken) and taken[-1].kind not in LASTING
    return Replayed(history[-1], tuple(taken), tuple(ignored), history[-2] if can_undo else None)


def _is_undone(taken: Sequence[Event], event: Event) -> bool:
    return bool(taken) and taken[-1].id == event.undoes and taken[-1].kind not in LASTING


@dataclass(frozen=True)
class Answered:
    """An event with what it began, the cue it called (none for any other kind), and what the class comes to with it."""

    event: Event
    cue: Cue | None
    replayed: Replayed


def answer(plan: ClassPlan, events: Sequence[Event], new: Event, *, cue_key: str = "") -> Answered | Stale:
    """What a new event makes of a class, or why it answers nothing.

    `events` are in the order of time. A call names the cue it answers, which must be the next one at the event's own time; it may
    have been on its way while the class was paused or stopped elsewhere. Whatever else was said since, it comes too late.
    """
    before = [event for event in events if event.at_ms <= new.at_ms]
    later = events[len(before) :]
    overtaken = OVERTAKING if new.kind is EventKind.CALLED else frozenset()
    if any(event.kind not in overtaken for event in later):
        return Stale.SINCE
    stood = replay(plan, before)
    if new.kind is EventKind.UNDONE:
        undone = _is_undone(stood.taken, new)
        return Answered(new, None, replay(plan, [*before, new])) if undone else Stale.NOTHING
    cue = _next_cue(stood.standing) if new.kind is EventKind.CALLED else None
    if cue is not None:
        new = replace(new, begins=keys_of(cue))
    after = follow(plan, stood.standing, new)
    if isinstance(after, Stale):
        return after
    if cue is not None and cue.key != cue_key:
        return Stale.NOT_NEXT
    return Answered(new, cue, replay(plan, [*before, new, *later]))


def _next_cue(standing: Standing) -> Cue | None:
    return next(iter(pending(standing)), None)


def follow(plan: ClassPlan, standing: Standing, event: Event) -> Standing | Stale:
    """The standing after one more event that undoes nothing, or why it answers nothing."""
    return _FOLLOW[event.kind](plan, standing, event)


def _called(_plan: ClassPlan, standing: Standing, event: Event) -> Standing | Stale:
    if standing.mode in {Mode.STOPPED, Mode.CLEAR}:
        return Stale.STOPPED
    if standing.mode is Mode.PAUSED:
        return Stale.PAUSED
    begins = tuple(key for key in event.begins if key not in standing.fired)
    cue = next((one for one in pending(standing) if set(keys_of(one)) & set(begins)), None)
    if cue is None:
        return Stale.NOT_NEXT
    if cue.light == "allowed" and open_plates(standing, event.at_ms):
        return Stale.PLATES_OPEN
    return begun(standing, cue, begins, event.at_ms)


def _caught_up(plan: ClassPlan, standing: Standing, event: Event) -> Standing | Stale:
    """What nobody called goes by the clock up to the event."""
    if standing.held_since_ms is not None:
        return Stale.PAUSED if standing.mode is Mode.PAUSED else Stale.STOPPED
    after = by_itself(plan, standing, event.at_ms)
    if after.fired == standing.fired:
        return Stale.NOTHING
    return after if after.mode is Mode.RUNNING else replace(after, mode=Mode.RUNNING, since_ms=event.at_ms)


def _by_then(plan: ClassPlan, standing: Standing, at_ms: int) -> Standing:
    """A class that nobody called has gone by its plan until somebody steps in."""
    return by_itself(plan, standing, at_ms) if standing.mode is Mode.BY_PLAN else standing


def _paused(plan: ClassPlan, standing: Standing, event: Event) -> Standing | Stale:
    if standing.mode is Mode.PAUSED:
        return Stale.PAUSED
    if standing.held_since_ms is not None:
        return Stale.STOPPED
    before = _by_then(plan, standing, event.at_ms)
    return replace(before, mode=Mode.PAUSED, since_ms=event.at_ms, held_since_ms=event.at_ms)


def _resumed(_plan: ClassPlan, standing: Standing, event: Event) -> Standing | Stale:
    return _let_go(standing, event.at_ms) if standing.mode is Mode.PAUSED else Stale.NOT_PAUSED


def _let_go(standing: Standing, at_ms: int) -> Standing:
    """What waited for its caller waits as much longer as the class was held up."""
    assert standing.held_since_ms is not None
    return replace(
        standing,
        mode=Mode.RUNNING,
        since_ms=at_ms,
        base_ms=standing.base_ms + at_ms - standing.held_since_ms,
        held_since_ms=None,
    )


def _stopped(plan: ClassPlan, standing: Standing, event: Event) -> Standing | Stale:
    before = _by_then(plan, standing, event.at_ms)
    held_ms = event.at_ms if before.held_since_ms is None else before.held_since_ms
    return replace(before, mode=Mode.STOPPED, since_ms=event.at_ms, held_since_ms=held_ms)


def _clear(_plan: ClassPlan, standing: Standing, event: Event) -> Standing | Stale:
    if standing.mode is not Mode.STOPPED:
        return Stale.NOT_STOPPED
    return replace(standing, mode=Mode.CLEAR, since_ms=event.at_ms)


def _taken_up(_plan: ClassPlan, standing: Standing, event: Event) -> Standing | Stale:
    return _let_go(standing, event.at_ms) if standing.mode is Mode.CLEAR else Stale.NOT_CLEAR


def _left_out(plan: ClassPlan, standing: Standing, _event: Event) -> Standing | Stale:
    """The rounds kept for repeats that nobody needs are not called."""
    visits = tuple(visit for visit in standing.visits if not visit.spare or _has_begun(standing, visit.plate))
    if standing.mode is Mode.BY_PLAN or visits == standing.visits:
        return Stale.NOTHING
    return with_visits(plan, standing, visits)


def _has_begun(standing: Standing, plate: tuple[str, int, int]) -> bool:
    return any(visit.plate == plate and visit.key in standing.fired for visit in standing.visits)


def _repeat(plan: ClassPlan, standing: Standing, event: Event) -> Standing | Stale:
    """Plates that are spoilt are made anew: in a round kept for repeats, or all together as soon as nothing else is going on.

    What was still to be done with the spoilt ones falls away. Where they are made anew at once, everything that waits for its
    caller comes later by as long as they need the stations.
    """
    if standing.mode in {Mode.STOPPED, Mode.CLEAR}:
        return Stale.STOPPED
    if not event.repeats or not all(_has_begun(standing, plate) for plate in event.repeats):
        return Stale.NOTHING
    plates = [_from_the_dark(standing, plate) for plate in event.repeats]
    left = with_visits(plan, standing, _without_rest(standing, frozenset(event.repeats)))
    return _into_spare(plan, left, event) if event.into else _made_anew(plan, left, plates)


def _without_rest(standing: Standing, spoilt: frozenset[tuple[str, int, int]]) -> tuple[CueVisit, ...]:
    known = Times(standing.visits, standing.fired).starts
    return tuple(visit for visit in standing.visits if visit.plate not in spoilt or visit.key in known)


def _into_spare(plan: ClassPlan, standing: Standing, event: Event) -> Standing | Stale:
    group = event.repeats[0][0]
    free = [
        visit.plate
        for visit in standing.visits
        if visit.spare and visit.group == event.into and not _has_begun(standing, visit.plate)
    ]
    if len(event.repeats) != 1 or not free:
        return Stale.NOTHING
    visits = tuple(
        replace(visit, spare=False, name=f"{group} again") if visit.plate == free[0] else visit
        for visit in standing.visits
    )
    return with_visits(plan, standing, visits)


def _from_the_dark(standing: Standing, plate: tuple[str, int, int]) -> list[CueVisit]:
    """A plate's steps from its first in the dark on: its object stands where it stood."""
    own = plates_of(standing.visits)[plate]
    first = next((number for number, visit in enumerate(own) if visit.light == "dark"), 0)
    return own[first:]


def _made_anew(plan: ClassPlan, standing: Standing, plates: Sequence[list[CueVisit]]) -> Standing:
    needs_s = max(_station_s(own) for own in plates)
    begins_s = _free_from(standing, needs_s)
    begun = _plates_before(standing, begins_s)
    later = tuple(
        visit
        if visit.plate in begun
        else replace(visit, start_s=visit.start_s + needs_s, end_s=visit.end_s + needs_s)
        for visit in standing.visits
    )
    anew = tuple(
        replace(
            visit,
            start_s=visit.start_s - own[0].start_s + begins_s,
            end_s=visit.end_s - own[0].start_s + begins_s,
            name=f"{visit.group} again",
            again=1 + max(one.again for one in standing.visits if one.plate[:2] == own[0].plate[:2]),
        )
        for own in plates
        for visit in own
    )
    return with_visits(plan, standing, (*later, *anew))


def _station_s(own: Sequence[CueVisit]) -> int:
    """How long a plate needs its station: to the end of its last step there."""
    return max(visit.end_s for visit in own if visit.place == own[0].place) - own[0].start_s


def _plates_before(standing: Standing, second: int) -> frozenset[tuple[str, int, int]]:
    """The plates that were begun, or are to be begun before a planned second."""
    return frozenset(
        visit.plate for visit in standing.visits if visit.start_s < second or visit.key in standing.fired
    )


def _free_from(standing: Standing, needs_s: int) -> int:
    """The planned second of the first cue ahead from which plates can be made for `needs_s` while those that are begun by then go on.

    They may be in a bath or dry meanwhile; none needs light, holds still or is carried.
    """
    for cue in pending(standing):
        begun = _plates_before(standing, cue.at_s)
        going_on = [
            visit
            for visit in standing.visits
            if visit.plate in begun and visit.start_s < cue.at_s + needs_s and visit.end_s > cue.at_s
        ]
        if cue.begins and all(visit.light != "lit" and visit.still == "any" for visit in going_on):
            return cue.at_s
    return max(visit.end_s for visit in standing.visits)


_FOLLOW: Mapping[EventKind, Callable[[ClassPlan, Standing, Event], Standing | Stale]] = {
    EventKind.CALLED: _called,
    EventKind.PAUSED: _paused,
    EventKind.RESUMED: _resumed,
    EventKind.REPEAT: _repeat,
    EventKind.LEFT_OUT: _left_out,
    EventKind.CAUGHT_UP: _caught_up,
    EventKind.STOPPED: _stopped,
    EventKind.CLEAR: _clear,
    EventKind.TAKEN_UP: _taken_up,
}
