"""Calling a class: each thing that is said becomes an event beside the plan, once, or is refused in words."""

from collections.abc import Sequence
from datetime import datetime

from server.callings.models import CalledClass, CallEvent
from server.callings.queries import (
    Called,
    called_of,
    find_called_class,
    find_event,
    get_to_call,
    plates_named,
)
from server.core.calling import Answered, Event, EventKind, Stale, answer
from server.core.moments import exact_clock_at
from server.core.standing import open_plates
from server.core.units import duration_words
from server.data.session import LabSession
from server.refusal import Refusal
from server.rotations.models import Rotation

_KIND_WORDS = {
    EventKind.PAUSED: "Pause",
    EventKind.RESUMED: "Go on",
    EventKind.LEFT_OUT: "Rounds kept for repeats left out",
    EventKind.CAUGHT_UP: "Caught up with the plan",
    EventKind.STOPPED: "LIGHTS",
    EventKind.CLEAR: "All clear",
    EventKind.TAKEN_UP: "Taken up again",
}
_STALE = {
    Stale.SINCE: "Something else was said to the class meanwhile, so this was not called. Look at the board, and call what is next there.",
    Stale.STOPPED: "LIGHTS was called, so nothing else is called now. Say all clear first, then take the class up again.",
    Stale.NOT_PAUSED: "The class is not paused, so there is nothing to go on with.",
    Stale.NOT_STOPPED: "LIGHTS was not called, so there is nothing to clear.",
    Stale.NOT_CLEAR: "All clear was not said yet. Look after people and plates, say all clear, then take the class up again.",
    Stale.NOTHING: "There is nothing to do that with any more. Look at the board for what is going on.",
}


def say(
    session: LabSession,
    rotation_id: int,
    *,
    tablet_id: str,
    kind: EventKind,
    answers: str,
    repeats: str = "",
    into: str = "",
    happened_at: datetime,
    by: str,
    zone: str,
    now: datetime,
) -> CallEvent:
    """Keep what was said to a class at `happened_at`. The same `tablet_id` again is the same event.

    `answers` is the key of the cue that is called, or the id of the event that is taken back; whatever it names must still be
    what is next, or the last. LIGHTS counts from when it was heard of, if something else was said since.
    """
    session.hold(Rotation, rotation_id)
    kept = find_event(session, tablet_id)
    of = get_to_call(session, rotation_id)
    stands = called_of(session, of, now)
    if kept is not None:
        return kept
    last_at = stands.rows[-1].happened_at if stands.rows else happened_at
    if kind is EventKind.STOPPED:
        happened_at = max(happened_at, last_at)
    new = Event(
        tablet_id,
        kind,
        of.ms(happened_at),
        undoes=answers if kind is EventKind.UNDONE else "",
        repeats=plates_named(repeats),
        into=into,
    )
    found = answer(of.plan, stands.events, new, cue_key=answers)
    if isinstance(found, Stale):
        raise Refusal(_why_not(stands, found, new, answers, zone))
    return _keep(session, stands, found, happened_at, answers=answers, repeats=repeats, by=by, now=now)


def _keep(
    session: LabSession,
    stands: Called,
    found: Answered,
    happened_at: datetime,
    *,
    answers: str,
    repeats: str,
    by: str,
    now: datetime,
) -> CallEvent:
    called = stands.called
    if called is None:
        called = CalledClass(rotation_id=stands.of.rotation.id, begun_at=happened_at, begun_by=by)
        session.add(called)
        session.flush()  # the event names its id
    event = found.event
    row = CallEvent(
        class_id=called.id,
        tablet_id=event.id,
        kind=event.kind,
        answers=answers,
        begins="\n".join(event.begins),
        repeats=repeats,
        in_round_of=event.into,
        words=_words(stands.rows, found),
        planned_at=None if found.cue is None else stands.of.at(found.cue.at_s),
        happened_at=happened_at,
        kept_at=now,
        called_by=by,
    )
    session.add(row)
    session.flush()  # two devices at once: whoever comes second hears of the first
    return row


def _words(rows: Sequence[CallEvent], found: Answered) -> str:
    event = found.event
    if found.cue is not None:
        return found.cue.words
    if event.kind is EventKind.UNDONE:
        undone = next(row.words for row in rows if row.tablet_id == event.undoes)
        return f"Taken back: {undone}"
    if event.kind is EventKind.REPEAT:
        groups = ", ".join(group for group, _pass, _again in event.repeats)
        return f"Repeat: {groups}" + (f", in the round of {event.into}" if event.into else "")
    return _KIND_WORDS[event.kind]


def _why_not(stands: Called, stale: Stale, new: Event, answers: str, zone: str) -> str:
    if stale is Stale.PLATES_OPEN:
        return _open_words(stands, new.at_ms)
    if stale is Stale.PAUSED:
        paused = next(row for row in reversed(stands.rows) if row.kind == EventKind.PAUSED)
        when = exact_clock_at(paused.happened_at, zone)
        return f"{paused.called_by} paused the class at {when}. Press Go on first."
    if stale in {Stale.NOT_NEXT, Stale.SINCE} and new.kind is EventKind.CALLED:
        before = next((row for row in reversed(stands.rows) if row.answers == answers and row.begins), None)
        if before is not None:
            when = exact_clock_at(before.happened_at, zone)
            return f"“{before.words}” was called already, at {when} by {before.called_by}. Nothing was called twice."
        return "Something else is next now, so nothing was called. Look at the board, and call what is next there."
    return _STALE[stale]


def _open_words(stands: Called, at_ms: int) -> str:
    plates = open_plates(stands.replayed.standing, at_ms)
    groups = ", ".join(dict.fromkeys(stay.visit.name or stay.visit.group for stay in plates))
    ends = [stay.ends_ms for stay in plates]
    known = [end for end in ends if end is not None]
    until = (
        f" Allow them in {duration_words(-(-(max(known) - at_ms) // 1000))}."
        if len(known) == len(ends)
        else ""
    )
    return f"A plate is open in the dark ({groups}), so the lights stay off.{until} If somebody is in danger, call LIGHTS."


def end_class(session: LabSession, rotation_id: int, *, by: str, now: datetime) -> None:
    """What was called so far stays kept, as a rehearsal for example; what is called next begins anew."""
    session.hold(Rotation, rotation_id)
    called = find_called_class(session, get_to_call(session, rotation_id), now)
    if called is None:
        raise Refusal("Nothing was called yet, so there is nothing to begin anew.")
    called.ended_at, called.ended_by = now, by
