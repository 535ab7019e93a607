"""What the board, the caller's control and the list of calls show, and what devices are told to count with."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from server.callings.models import CallEvent
from server.callings.queries import (
    Called,
    ToCall,
    called_of,
    find_in_trays,
    find_shown,
    get_to_call,
    with_holders,
)
from server.core.board_state import Colour, RoomState
from server.core.calling import EventKind
from server.core.class_now import Danger, Shortage, Situation, dangers, shortages, situation
from server.core.cues import Call, Cue, CueVisit, EndsBy, Mover, cues, is_counted, plates_of, touches
from server.core.moments import clock_at, exact_clock_at, moment_words
from server.core.standing import MS, Mode, Standing, foreseen, pending
from server.core.units import clock_words, duration_words, plates_words
from server.data.session import LabSession
from server.people.access import Signed
from server.people.queries import get_group, list_section_names
from server.refusal import NotFound
from server.rotations.queries import get_rotation
from server.tablets.queries import find_screen_colour

# The plates that are offered to be made again: more than were made together in any round.
REPEATS_OFFERED = 6
# How many of the last events a device is told by their ids, to know which of its own have arrived.
IDS_TOLD = 60
MINUTE_S = 60
# Later than that it is another class, such as a rehearsal of tomorrow's.
LATEST_MIN = 600


@dataclass(frozen=True)
class MoverLine:
    group: str
    step: str
    place: str


@dataclass(frozen=True)
class BoardPage:
    """`told` is what a device counts with, as JSON; the rest is what stands there until it does, or where it cannot.

    `own` is the name of a tablet's group. `state` is one big line, `aside` a smaller one below it. `next_words` is empty when
    nothing more is called.
    """

    rotation_id: int
    title: str
    colour: Colour
    own: str
    told: str
    clock: str
    state: str
    aside: str
    next_words: str
    next_clock: str
    countdown: str
    moves: Sequence[MoverLine]
    going_on: Sequence[MoverLine]
    dangers: Sequence[str]


@dataclass(frozen=True)
class RepeatChoice:
    """A plate that can be made again: what is sent, and its words."""

    value: str
    words: str


@dataclass(frozen=True)
class CallPage:
    """The caller's control: `board` is what stands above it, `fresh_id` the id of what is said next.

    `kind` and `answers` are what the one large control says now.
    """

    board: BoardPage
    fresh_id: str
    kind: str
    answers: str
    words: str
    undoes: str
    undo_words: str
    hold_kind: str
    repeats: Sequence[RepeatChoice]
    spare: Sequence[str]
    can_catch_up: bool


@dataclass(frozen=True)
class NoBoardPage:
    """For a tablet whose section has no class today."""

    colour: Colour
    sentence: str


@dataclass(frozen=True)
class CueLine:
    """One cue of the list: `called` and `late` are empty where it was not called."""

    planned: str
    words: str
    movers: Sequence[str]
    counted: str
    called: str
    late: str
    by: str


@dataclass(frozen=True)
class SaidLine:
    happened: str
    words: str
    by: str
    heard: str


@dataclass(frozen=True)
class CalledPage:
    """What is to be called, beside what was; `said` is everything that was said, in order."""

    rotation_id: int
    title: str
    section: str
    name: str
    begun: str
    lines: Sequence[CueLine]
    said: Sequence[SaidLine]


def visible_to(session: LabSession, signed: Signed, rotation_id: int) -> None:
    """A tablet sees the classes of its own section only."""
    rotation = get_rotation(session, rotation_id)
    if signed.section_id is not None and rotation.section_id != signed.section_id:
        raise NotFound("There is no such class of your section.")


@dataclass(frozen=True)
class Told:
    """What devices are told: `plan` changes only with what is to be done, `now` with everything that is said."""

    plan: Mapping[str, Any]
    now: Mapping[str, Any]


def told(session: LabSession, rotation_id: int, now: datetime, zone: str) -> Told:
    """Everything a device needs to count by itself, from one look at the class."""
    of = with_holders(session, get_to_call(session, rotation_id))
    return _told(session, called_of(session, of, now), now, zone)


def _told(session: LabSession, found: Called, now: datetime, zone: str) -> Told:
    standing = found.replayed.standing
    title = f"{list_section_names(session)[found.of.rotation.section_id]}, {found.of.rotation.name}"
    return Told(_plan_told(found.of, standing, title), _now_told(session, found, now, zone))


def _plan_told(of: ToCall, standing: Standing, title: str) -> dict[str, Any]:
    return {
        "title": title,
        "zero": _epoch_ms(of.zero),
        "periods": of.plan.periods,
        "visits": visits_told(standing.visits),
        "cues": [cue_told(cue) for cue in standing.calls],
    }


def visits_told(visits: Iterable[CueVisit]) -> list[dict[str, Any]]:
    """The visits plate by plate, each with what ends it: `counted` begins by itself, `waits` ends with the call of the next."""
    found = []
    for number, own in enumerate(plates_of(visits).values()):
        for index, visit in enumerate(own):
            before = own[index - 1] if index else None
            following = own[index + 1] if index + 1 < len(own) else None
            found.append(
                {
                    "key": visit.key,
                    "plate": number,
                    "group": visit.group,
                    "name": visit.name or visit.group,
                    "step": visit.step,
                    "place": visit.place,
                    "role": visit.role,
                    "lasts": visit.lasts_ms,
                    "dark": visit.light == "dark",
                    "still": visit.still == "still",
                    "shutter": visit.ends_by is EndsBy.SHUTTER,
                    "counted": is_counted(before, visit),
                    "waits": visit.ends_by is EndsBy.CALL
                    and following is not None
                    and touches(visit, following),
                }
            )
    return found


def cue_told(cue: Cue) -> dict[str, Any]:
    return {
        "key": cue.key,
        "at": cue.at_s,
        "light": cue.light,
        "begins": cue.begins,
        "calls": [
            {
                "kind": call.kind,
                "words": call.words,
                "movers": [
                    [mover.key, mover.group, _place_words(mover), mover.seconds] for mover in call.movers
                ],
            }
            for call in cue.calls
        ],
    }


def _now_told(session: LabSession, found: Called, now: datetime, zone: str) -> dict[str, Any]:
    replayed = found.replayed
    last = replayed.taken[-1].id if replayed.before is not None else ""
    words = {row.tablet_id: row for row in found.rows}
    newest = max(found.rows, key=lambda row: row.id, default=None)
    wall = now.astimezone(ZoneInfo(zone)).utcoffset()
    assert wall is not None
    return {
        "made": _epoch_ms(now),
        # Here and not with the plan: a class of several days may go on beyond the day on which the clocks change.
        "wall": round(wall.total_seconds()) * MS,
        "colour": find_screen_colour(session, now),
        "standing": standing_told(replayed.standing),
        "undo": None
        if replayed.before is None
        else {
            "id": last,
            "words": words[last].words,
            # With other things to do, only the server can work out what it was.
            "standing": standing_told(replayed.before)
            if replayed.before.visits == replayed.standing.visits
            else None,
        },
        "ids": [row.tablet_id for row in sorted(found.rows, key=lambda row: row.id)[-IDS_TOLD:]],
        "said": None if newest is None else {"words": newest.words, "at": _epoch_ms(newest.happened_at)},
        "dangers": _dangers(session, found, now, zone),
        "replan": replan_address(found, now),
        "repeats": [[choice.value, choice.words] for choice in _repeats(replayed.standing)],
        "spare": _spare(replayed.standing),
    }


def _place_words(mover: Mover) -> str:
    """Where, and whose hand it is: the role, and the letter of who holds it today."""
    whose = f"{mover.role} {mover.holder}".strip()
    return f"{mover.place} ({whose})" if whose else mover.place


def standing_told(standing: Standing) -> dict[str, Any]:
    return {
        "mode": standing.mode,
        "since": standing.since_ms,
        "fired": dict(standing.fired),
        "base_s": standing.base_s,
        "base": standing.base_ms,
        "lit": standing.lit,
        "held": standing.held_since_ms,
    }


def _epoch_ms(instant: datetime) -> int:
    return round(instant.timestamp() * MS)


def replan_address(found: Called, now: datetime) -> str:
    """The page for changes, with what is known filled in: by how many minutes the class is late."""
    address = f"/rotations/{found.of.rotation.id}/change"
    late_ms = situation(found.of.plan, found.replayed.standing, now_ms=found.of.ms(now)).late_ms
    late = ceil(late_ms / MS / MINUTE_S)
    return f"{address}?late_minutes={late}" if 0 < late <= LATEST_MIN else address


def _dangers(session: LabSession, found: Called, now: datetime, zone: str) -> list[str]:
    of, standing = found.of, found.replayed.standing
    trays = find_in_trays(session, of, now)
    now_ms = of.ms(now)
    return [
        *_danger_words(of, dangers(of.plan, standing, now_ms=now_ms, trays=trays), zone),
        *(_shortage_words(one) for one in shortages(of.plan, standing, now_ms=now_ms, trays=trays)),
    ]


def _shortage_words(short: Shortage) -> str:
    group = short.visit.name or short.visit.group
    return (
        f"{short.visit.place} has room for {plates_words(short.room)} of this class, and {short.plates} are to go through it; "
        f"{group} is the first too many. Pour a fresh charge before."
    )


def _danger_words(of: ToCall, found: Iterable[Danger], zone: str) -> list[str]:
    words = []
    for danger in found:
        over = duration_words(ceil(danger.over_ms / MS))
        group = danger.visit.name or danger.visit.group
        limit = clock_at(of.at(danger.limit_s), zone)
        if danger.kind == "bell":
            words.append(
                f"The bell is in danger: {group} would be done {over} after {limit}, when plates end and the clean-up begins."
            )
        elif danger.kind == "wait":
            longest = duration_words(danger.limit_s)
            words.append(
                f"{group} waits {over} too long for {danger.visit.step}: its plate may wait {longest}."
            )
        else:
            words.append(
                f"{danger.visit.place} is past its life at {limit}; {group} would leave it {over} later."
            )
    return words


def _repeats(standing: Standing) -> list[RepeatChoice]:
    """The plates that were begun, the latest first: whoever made one knows whether it moved."""
    begun: dict[tuple[str, int, int], int] = {}
    for visit in standing.visits:
        if visit.key in standing.fired:
            begun[visit.plate] = max(begun.get(visit.plate, 0), standing.fired[visit.key])
    names = {visit.plate: visit.name or visit.group for visit in standing.visits}
    latest = sorted(begun, key=lambda plate: (-begun[plate], plate))
    return [
        RepeatChoice(f"{pass_no} {again} {group}", f"{names[group, pass_no, again]}, plate {pass_no}")
        for group, pass_no, again in latest[:REPEATS_OFFERED]
    ]


def _spare(standing: Standing) -> list[str]:
    """The groups of rounds kept for repeats that nobody has taken, in order."""
    free = [visit for visit in standing.visits if visit.spare and visit.key not in standing.fired]
    return list(dict.fromkeys(visit.group for visit in sorted(free, key=lambda one: one.start_s)))


def board_page(
    session: LabSession, rotation_id: int, signed: Signed, now: datetime, *, group_id: int | None = None
) -> BoardPage:
    """The board as a wall shows it, or with `group_id` as that group's tablet does."""
    visible_to(session, signed, rotation_id)
    if group_id != signed.group_id:
        raise NotFound("This board is another group's. Go to the run notes, and from there to your own.")
    return _board(
        session,
        called_of(session, with_holders(session, get_to_call(session, rotation_id)), now),
        signed,
        now,
    )


def _board(session: LabSession, found: Called, signed: Signed, now: datetime) -> BoardPage:
    zone, of = signed.time_zone, found.of
    what = _told(session, found, now, zone)
    here = situation(of.plan, found.replayed.standing, now_ms=of.ms(now))
    following = here.next
    due = None if following is None else of.at(following.due_ms / MS)
    return BoardPage(
        rotation_id=of.rotation.id,
        title=str(what.plan["title"]),
        colour=what.now["colour"],
        own="" if signed.group_id is None else get_group(session, signed.group_id).name,
        told=json.dumps({**what.plan, **what.now}),
        clock=clock_at(now, zone),
        state=_state_words(here),
        aside=_aside_words(here),
        next_words="" if following is None else following.cue.words,
        next_clock="" if due is None else exact_clock_at(due, zone),
        countdown="" if due is None else _until(due, now),
        moves=[] if following is None else _moves(following.cue.calls),
        going_on=[
            MoverLine(stay.visit.name or stay.visit.group, stay.visit.step, stay.visit.place)
            for stay in here.going_on
        ],
        dangers=what.now["dangers"],
    )


def _state_words(here: Situation) -> str:
    return {Mode.STOPPED: "LIGHTS", Mode.CLEAR: "All clear"}.get(here.mode, here.room.value)


def _aside_words(here: Situation) -> str:
    if here.mode is Mode.STOPPED:
        return "Lights on, shutters closed, stay where you are."
    if here.mode is Mode.CLEAR:
        return "Lights stay on until the class is taken up again."
    if here.mode is Mode.PAUSED:
        return "Paused: nothing is called, and the room stays as it is."
    if here.is_over:
        return "The class is over."
    if here.is_dark:
        return "In the dark." if here.room is RoomState.STILL else ""
    return f"Plates stay covered: {', '.join(here.covered)}." if here.covered else ""


def _until(instant: datetime, now: datetime) -> str:
    return clock_words(max(0, ceil((instant - now).total_seconds())))


def _moves(calls: Iterable[Call]) -> list[MoverLine]:
    return [
        MoverLine(
            mover.group,
            f"{call.words}, {mover.seconds} s" if mover.seconds else call.words,
            _place_words(mover),
        )
        for call in calls
        for mover in call.movers
    ]


def call_page(session: LabSession, rotation_id: int, signed: Signed, now: datetime) -> CallPage:
    found = called_of(session, with_holders(session, get_to_call(session, rotation_id)), now)
    standing = found.replayed.standing
    following = next(iter(pending(standing)), None)
    kind, answers, words = _main_control(standing, following)
    undoes = found.replayed.taken[-1].id if found.replayed.before is not None else ""
    return CallPage(
        board=_board(session, found, signed, now),
        fresh_id=str(uuid4()),
        kind=kind,
        answers=answers,
        words=words,
        undoes=undoes,
        undo_words=next((row.words for row in found.rows if row.tablet_id == undoes), ""),
        hold_kind="" if standing.mode in {Mode.STOPPED, Mode.CLEAR} else EventKind.PAUSED,
        repeats=_repeats(standing),
        spare=_spare(standing),
        can_catch_up=standing.held_since_ms is None and _is_behind(found, now),
    )


def _main_control(standing: Standing, following: Cue | None) -> tuple[str, str, str]:
    """What the one large control says: the kind of event, what it answers, and its words."""
    if standing.mode is Mode.PAUSED:
        return EventKind.RESUMED, "", "Go on"
    if standing.mode is Mode.STOPPED:
        return EventKind.CLEAR, "", "All clear"
    if standing.mode is Mode.CLEAR:
        return EventKind.TAKEN_UP, "", "Take up again"
    if following is None:
        return "", "", "Nothing more is called"
    return EventKind.CALLED, following.key, following.words


def _is_behind(found: Called, now: datetime) -> bool:
    """Whether two cues or more should have been called by now: then somebody may step in where the class is."""
    ahead = foreseen(found.of.plan, found.replayed.standing, now_ms=None)[0]
    return sum(due.due_ms <= found.of.ms(now) for due in ahead) > 1


def shown_to_group(session: LabSession, signed: Signed, now: datetime) -> int | NoBoardPage:
    """The rotation of the tablet's section that is called, goes on or comes next."""
    assert signed.section_id is not None
    found = find_shown(session, signed.section_id, now)
    if found is not None:
        return found
    return NoBoardPage(
        find_screen_colour(session, now),
        "No class of your section is near. Its board is here from the evening before.",
    )


def called_page(session: LabSession, rotation_id: int, zone: str, now: datetime) -> CalledPage:
    of = with_holders(session, get_to_call(session, rotation_id))
    found = called_of(session, of, now)
    section = list_section_names(session)[of.rotation.section_id]
    begun = "" if found.called is None else moment_words(found.called.begun_at, zone)
    return CalledPage(
        rotation_id=rotation_id,
        title=f"{section}, {of.rotation.name}",
        section=section,
        name=of.rotation.name,
        begun="" if found.called is None else f"{begun}, by {found.called.begun_by}",
        lines=_cue_lines(found, zone),
        said=[_said_line(row, zone) for row in found.rows],
    )


def _cue_lines(found: Called, zone: str) -> list[CueLine]:
    standing, of = found.replayed.standing, found.of
    counting = {cue.key: cue.words for cue in standing.calls}
    rows = {key: row for row in found.rows for key in row.keys if key in standing.fired}
    lines = []
    for cue in cues(standing.visits, afterglow_s=of.plan.afterglow_s):
        row = next((rows[key] for key in cue.begins or (cue.key,) if key in rows), None)
        called = None if row is None or cue.counted_from else row.happened_at
        late_s = None if called is None else round((called - of.at(cue.at_s)).total_seconds())
        lines.append(
            CueLine(
                exact_clock_at(of.at(cue.at_s), zone),
                cue.words,
                [f"{line.group} {line.step}, {line.place}" for line in _moves(cue.calls)],
                f"counted, {duration_words(cue.after_s)} after “{counting[cue.counted_from]}”"
                if cue.counted_from
                else "",
                "" if called is None else exact_clock_at(called, zone),
                "" if late_s is None else _late_words(late_s),
                "" if row is None or called is None else row.called_by,
            )
        )
    return lines


def _late_words(late_s: int) -> str:
    if not late_s:
        return "on time"
    return f"{duration_words(abs(late_s))} {'late' if late_s > 0 else 'early'}"


def _said_line(row: CallEvent, zone: str) -> SaidLine:
    """With when the server heard of it, where a device had to keep it."""
    kept = row.kept_at - row.happened_at > timedelta(seconds=MINUTE_S)
    return SaidLine(
        exact_clock_at(row.happened_at, zone),
        row.words,
        row.called_by,
        f"heard of at {exact_clock_at(row.kept_at, zone)}" if kept else "",
    )
