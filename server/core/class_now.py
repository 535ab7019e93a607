"""What goes on in a called class at one instant, and what is in danger if it goes on so."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from server.core.board_state import RoomState
from server.core.cues import CallKind, CueVisit, EndsBy
from server.core.standing import (
    MS,
    ClassPlan,
    Due,
    Mode,
    Standing,
    Stay,
    Times,
    by_itself,
    foreseen,
    period_of,
)


@dataclass(frozen=True)
class Counting:
    """What comes by itself: a step that begins, or a shutter that closes."""

    at_ms: int
    kind: CallKind
    visit: CueVisit


@dataclass(frozen=True)
class Situation:
    """What goes on at one instant.

    `ahead` are the cues that wait for their caller, in order, with the first one's due time never moved by being late for it.
    `late_ms` is how far behind its plan the class is, negative if it is ahead. `counting` is what comes by itself, in order.
    `covered` names whose plates have been in the dark and are to be there again: between the two only their cover protects them.
    """

    mode: Mode
    room: RoomState
    is_dark: bool
    ahead: tuple[Due, ...]
    late_ms: int
    going_on: tuple[Stay, ...]
    counting: tuple[Counting, ...]
    covered: tuple[str, ...]
    is_over: bool

    @property
    def next(self) -> Due | None:
        return self.ahead[0] if self.ahead else None


def situation(
    plan: ClassPlan, standing: Standing, *, now_ms: int, alone_since_ms: int | None = None
) -> Situation:
    """What goes on at `now_ms`. A class that nobody calls goes by its plan; so does one on a device that has been alone for a while."""
    if standing.mode is Mode.BY_PLAN:
        standing = by_itself(plan, standing, now_ms)
    elif alone_since_ms is not None:
        standing = by_itself(plan, standing, now_ms, not_before_ms=alone_since_ms)
    ahead = foreseen(plan, standing, now_ms=now_ms)[0]
    stays = Times(standing.visits, standing.fired).stays()
    going_on = tuple(sorted((stay for stay in stays if stay.covers(now_ms)), key=lambda stay: stay.visit.key))
    is_dark = not standing.lit or any(stay.visit.light == "dark" for stay in going_on)
    return Situation(
        mode=standing.mode,
        room=_room(standing, going_on, is_dark=is_dark),
        is_dark=is_dark and standing.mode not in {Mode.STOPPED, Mode.CLEAR},
        ahead=ahead,
        late_ms=_late_ms(standing, ahead, now_ms),
        going_on=going_on,
        counting=_counting(stays, standing, now_ms),
        covered=_covered(standing, stays, now_ms),
        is_over=not ahead and all(stay.ends_ms is not None and stay.ends_ms <= now_ms for stay in stays),
    )


def _room(standing: Standing, going_on: Sequence[Stay], *, is_dark: bool) -> RoomState:
    if standing.mode in {Mode.STOPPED, Mode.CLEAR}:
        return RoomState.LIGHTS
    if any(stay.visit.still == "still" for stay in going_on):
        return RoomState.STILL
    return RoomState.DARK if is_dark else RoomState.LIGHTS


def _covered(standing: Standing, stays: Sequence[Stay], now_ms: int) -> tuple[str, ...]:
    begun = {stay.visit.key for stay in stays if stay.starts_ms <= now_ms}
    dark = [visit for visit in standing.visits if visit.light == "dark"]
    out = {visit.plate for visit in dark if visit.key in begun}
    to_come = [visit for visit in dark if visit.key not in begun and visit.plate in out]
    return tuple(sorted({visit.name or visit.group for visit in to_come}))


def _late_ms(standing: Standing, ahead: Sequence[Due], now_ms: int) -> int:
    if ahead:
        return max(ahead[0].due_ms, now_ms) - ahead[0].cue.at_s * MS
    return 0 if standing.base_s is None else standing.base_ms - standing.base_s * MS


def _counting(stays: Iterable[Stay], standing: Standing, now_ms: int) -> tuple[Counting, ...]:
    found = []
    for stay in stays:
        if stay.starts_ms > now_ms and stay.visit.key not in standing.fired:
            found.append(Counting(stay.starts_ms, CallKind.STEP, stay.visit))
        if stay.visit.ends_by is EndsBy.SHUTTER and stay.starts_ms <= now_ms < (stay.ends_ms or now_ms):
            assert stay.ends_ms is not None
            found.append(Counting(stay.ends_ms, CallKind.SHUTTER_CLOSED, stay.visit))
    return tuple(sorted(found, key=lambda one: (one.at_ms, one.visit.key, one.kind)))


DangerKind = Literal["bell", "wait", "life"]


@dataclass(frozen=True)
class Danger:
    """What is passed by `over_ms` if the class goes on as it does now: a stretch of class time (`limit_s` is its end), the longest
    wait of a plate before `visit`, or the life of what is in the tray of `visit`.
    """

    kind: DangerKind
    over_ms: int
    limit_s: int
    visit: CueVisit


@dataclass(frozen=True)
class InTray:
    """What stands in a tray: until when it may be used, and how many plates it has room for from `from_ms` on."""

    ends_ms: int
    from_ms: int
    plates: int


@dataclass(frozen=True)
class Shortage:
    """More plates of the class go through what stands in a tray than it has room for; `visit` is the first too many."""

    plates: int
    room: int
    visit: CueVisit


def dangers(
    plan: ClassPlan, standing: Standing, *, now_ms: int, trays: Mapping[str, InTray] | None = None
) -> tuple[Danger, ...]:
    """The worst of each kind. Rounds kept for repeats that nobody needs yet endanger nothing.

    `trays` is what really stands in trays, by their names; for any other the plan says how long it lives.
    """
    times = _foreseen_times(plan, standing, now_ms)
    found = [*_bells(plan, times), *_waits(standing, times), *_lives(plan, times, trays or {}, now_ms)]
    worst: dict[DangerKind, Danger] = {}
    for danger in found:
        if danger.over_ms > 0 and danger.over_ms > (
            worst[danger.kind].over_ms if danger.kind in worst else 0
        ):
            worst[danger.kind] = danger
    return tuple(worst.values())


def _bells(plan: ClassPlan, times: Times) -> Iterator[Danger]:
    for stay in times.stays():
        closes = plan.periods[period_of(plan, stay.visit.start_s)][1]
        if stay.ends_ms is not None and not stay.visit.spare:
            yield Danger("bell", stay.ends_ms - closes * MS, closes, stay.visit)


def _waits(standing: Standing, times: Times) -> Iterator[Danger]:
    for key, visit in times.visits.items():
        before = times.before.get(key)
        if (
            before is None
            or before.longest_wait_s is None
            or key in standing.fired
            or key not in times.starts
        ):
            continue
        ends_ms = times.end(before)
        if ends_ms is not None:
            waits_ms = times.starts[key] - ends_ms
            yield Danger("wait", waits_ms - before.longest_wait_s * MS, before.longest_wait_s, visit)


def _foreseen_times(plan: ClassPlan, standing: Standing, now_ms: int) -> Times:
    if standing.mode is Mode.BY_PLAN:
        standing = by_itself(plan, standing, now_ms)
    return foreseen(plan, standing, now_ms=now_ms)[1]


def _lives(plan: ClassPlan, times: Times, trays: Mapping[str, InTray], now_ms: int) -> Iterator[Danger]:
    """What is in a tray is the one that the plan put there, unless another one really stands there."""
    for stay in times.stays():
        if stay.ends_ms is None or stay.ends_ms <= now_ms:
            continue
        there = trays.get(stay.visit.place)
        if there is not None and not _is_changed_before(plan, stay.visit, now_ms):
            if not stay.visit.spare:
                yield Danger("life", stay.ends_ms - there.ends_ms, there.ends_ms // MS, stay.visit)
            continue
        for opens, closes in _planned_lives(plan, stay.visit):
            if there is None or opens * MS > now_ms:
                yield Danger("life", stay.ends_ms - closes * MS, closes, stay.visit)


def _planned_lives(plan: ClassPlan, visit: CueVisit) -> list[tuple[int, int]]:
    """The lives in which the plan put a visit into its tray."""
    lives = dict(plan.lives).get(visit.place, ())
    return [(opens, closes) for opens, closes in lives if opens <= visit.start_s and visit.end_s <= closes]


def _is_changed_before(plan: ClassPlan, visit: CueVisit, now_ms: int) -> bool:
    """Whether the plan puts something fresh into the tray between now and the visit."""
    return any(opens * MS > now_ms for opens, _closes in _planned_lives(plan, visit))


def shortages(
    plan: ClassPlan, standing: Standing, *, now_ms: int, trays: Mapping[str, InTray]
) -> tuple[Shortage, ...]:
    """The trays whose room does not reach for the plates that have gone through since `from_ms` and those that still will.

    Plates count by what was called, so that a note that is not filed yet is not forgotten. Rounds kept for repeats that nobody needs
    yet count nothing, and neither do plates before which the plan changes what is in the tray.
    """
    stays = sorted(
        _foreseen_times(plan, standing, now_ms).stays(), key=lambda stay: (stay.starts_ms, stay.visit.key)
    )
    found = []
    for place, there in sorted(trays.items()):
        first: dict[tuple[str, int, int], Stay] = {}
        for stay in stays:
            if stay.visit.place == place and not stay.visit.spare:
                first.setdefault(stay.visit.plate, stay)
        through = [
            stay
            for stay in first.values()
            if stay.starts_ms >= there.from_ms and not _is_changed_before(plan, stay.visit, now_ms)
        ]
        over = through[there.plates :]
        if any(stay.ends_ms is None or stay.ends_ms > now_ms for stay in over):
            found.append(Shortage(len(through), there.plates, over[0].visit))
    return tuple(found)
