"""What is called in a class: its plan as a list of cues, each with its planned second, who moves and where.

All times are whole seconds from the class's second 0, as in the plan. The whole class counts as one room: somebody has to say
when the lights go off and when nobody may move, and says it to everybody.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Literal

from server.core.rounds import union

# Assumed: for a shorter stretch of white light nobody switches the lamps on, unless the plan puts a lit step there.
LIGHTS_WORTH_S = 60


class EndsBy(StrEnum):
    """What ends a step: the next call, the shutter, or the clock at a bath. Shutter and bath wait for nobody."""

    CALL = "call"
    SHUTTER = "shutter"
    BATH = "bath"


class CallKind(StrEnum):
    """What is said, in the order in which it is said at one instant."""

    LIGHTS_OFF = "lights off"
    SHUTTER_CLOSED = "shutter closed"
    MOVE = "move again"
    LIGHTS_ALLOWED = "lights allowed"
    HOLD_STILL = "hold still"
    STEP = "step"
    SHUTTER_OPEN = "shutter open"


_ORDER = {kind: number for number, kind in enumerate(CallKind)}
_WORDS = {
    CallKind.LIGHTS_OFF: "lights off",
    CallKind.SHUTTER_CLOSED: "shutter closed",
    CallKind.MOVE: "you may move",
    CallKind.LIGHTS_ALLOWED: "lights allowed",
    CallKind.HOLD_STILL: "hold still",
    CallKind.SHUTTER_OPEN: "shutter open",
}

Light = Literal["", "off", "allowed"]
LIGHT_CALLS: dict[Light, CallKind] = {"off": CallKind.LIGHTS_OFF, "allowed": CallKind.LIGHTS_ALLOWED}


@dataclass(frozen=True)
class CueVisit:
    """One step of one plate at one place, from `start_s` up to and not including `end_s`.

    `name` is what the group is called on the board, where that is not its own name. `spare` passes are kept for repeats and
    nobody makes a plate in them yet; `again` counts the repeats of the same plate. `longest_wait_s` is the longest wait before
    the next step of the plate, none = no limit. `role` says whose hand it is. A `lost` one is of a plate that was given up.
    """

    group: str
    pass_no: int
    step: str
    place: str
    start_s: int
    end_s: int
    light: str = "any"
    still: str = "any"
    ends_by: EndsBy = EndsBy.CALL
    light_zone: str | None = None
    longest_wait_s: int | None = None
    role: str = ""
    holder: str = ""
    name: str = ""
    spare: bool = False
    again: int = 0
    lost: bool = False

    @property
    def plate(self) -> tuple[str, int, int]:
        return self.group, self.pass_no, self.again

    @property
    def key(self) -> str:
        """Stays the same when the plan is changed in the middle of the class."""
        repeated = f".{self.again}" if self.again else ""
        return f"{self.group}/{self.pass_no}{repeated}/{self.step}"

    @property
    def lasts_ms(self) -> int:
        return (self.end_s - self.start_s) * 1000


def step_of(key: str) -> str:
    """The step of the visit with this key."""
    return key.split("/", 2)[2]


@dataclass(frozen=True)
class Mover:
    """Who does what where: `seconds` is how long a shutter stays open, none for any other step."""

    key: str
    group: str
    place: str
    role: str = ""
    holder: str = ""
    seconds: int | None = None


@dataclass(frozen=True)
class Call:
    """One thing that is said. Without movers it is for everybody; `step` is the plan's own name of a step."""

    kind: CallKind
    movers: tuple[Mover, ...] = ()
    step: str = ""

    @property
    def words(self) -> str:
        return self.step or _WORDS[self.kind]


@dataclass(frozen=True)
class Cue:
    """Everything that is called at one instant. `begins` are the keys of the visits that begin with it.

    A cue that is `counted_from` another one comes `after_s` seconds behind that one's call by itself; it is called out by the
    count and waits for nobody. Any other cue waits for its caller.
    """

    key: str
    at_s: int
    calls: tuple[Call, ...]
    begins: tuple[str, ...] = ()
    light: Light = ""
    counted_from: str = ""
    after_s: int = 0

    @property
    def words(self) -> str:
        """What the caller says: `Hold still, settle`."""
        said = ", ".join(dict.fromkeys(call.words for call in self.calls))
        return said[:1].upper() + said[1:]


def plates_of(visits: Iterable[CueVisit]) -> dict[tuple[str, int, int], list[CueVisit]]:
    """The visits of each plate in the order of time."""
    found: dict[tuple[str, int, int], list[CueVisit]] = {}
    for visit in sorted(visits, key=lambda one: (one.start_s, one.end_s)):
        found.setdefault(visit.plate, []).append(visit)
    return found


def touches(visit: CueVisit, following: CueVisit) -> bool:
    """Whether the plan leaves no wait between two steps of a plate."""
    return visit.end_s == following.start_s


def is_counted(before: CueVisit | None, visit: CueVisit) -> bool:
    """Whether a step begins by itself: behind a bath that leaves it no wait.

    No shutter opens by itself, and nothing that needs white light begins by itself.
    """
    return (
        before is not None
        and before.ends_by is EndsBy.BATH
        and touches(before, visit)
        and visit.ends_by is not EndsBy.SHUTTER
        and visit.light != "lit"
    )


def dark_windows(visits: Iterable[CueVisit]) -> tuple[tuple[int, int], ...]:
    """When some step of the plan is dark, in order."""
    return union((visit.start_s, visit.end_s) for visit in visits if visit.light == "dark")


def light_calls(visits: Sequence[CueVisit], *, afterglow_s: int) -> tuple[tuple[int, Light], ...]:
    """When the lights are called off and allowed again, in order.

    They are called off `afterglow_s` seconds before a dark step. They are allowed where no dark step lasts, if they may then
    stay on for a minute at least, or if the plan has a lit step there.
    """
    found: list[tuple[int, Light]] = []
    windows = dark_windows(visits)
    zones = {visit.light_zone for visit in visits if visit.light == "dark"}
    lit = [visit for visit in visits if visit.light == "lit" and visit.light_zone in zones]
    for number, (opens, closes) in enumerate(windows):
        if number == 0:
            found.append((opens - afterglow_s, "off"))
        following = windows[number + 1][0] if number + 1 < len(windows) else None
        if following is None:
            found.append((closes, "allowed"))
            continue
        off = following - afterglow_s
        wanted = any(closes <= visit.start_s and visit.end_s <= off for visit in lit)
        if off - closes >= LIGHTS_WORTH_S or (wanted and off > closes):
            found.extend([(closes, "allowed"), (off, "off")])
    return tuple(found)


@dataclass(frozen=True)
class _Said:
    """A call at a second, and the visits whose root call it hangs on: empty for what waits for its caller."""

    at_s: int
    call: Call
    root: str = ""
    begins: tuple[str, ...] = ()
    light: Light = ""


def cues(visits: Sequence[CueVisit], *, afterglow_s: int = 0) -> tuple[Cue, ...]:
    """Every cue of a class in the order of time.

    Each visit's beginning is called once, and so is the closing of each shutter. To hold still is called where a stretch begins
    in which some step is still, to move again where it ends; calls of one instant are one cue, except that what is counted
    stands apart from what waits for its caller.
    """
    said = [*_steps(visits), *_stillness(visits), *_lights(visits, afterglow_s)]
    called = _gathered(one for one in said if not one.root)
    cue_of = {key: cue for cue in called for key in cue.begins}
    counted: dict[tuple[int, str], list[_Said]] = {}
    for one in said:
        if one.root:
            counted.setdefault((one.at_s, cue_of[one.root].key), []).append(one)
    found = [
        *called,
        *(
            _cue(at_s, own, counted_from=root, after_s=at_s - next(c.at_s for c in called if c.key == root))
            for (at_s, root), own in counted.items()
        ),
    ]
    return tuple(sorted(found, key=lambda cue: (cue.at_s, not cue.counted_from, cue.key)))


def _steps(visits: Sequence[CueVisit]) -> Iterator[_Said]:
    for plate in plates_of(visits).values():
        before: CueVisit | None = None
        root = ""
        for visit in plate:
            counted = is_counted(before, visit)
            root = root if counted else visit.key
            is_shutter = visit.ends_by is EndsBy.SHUTTER
            kind = CallKind.SHUTTER_OPEN if is_shutter else CallKind.STEP
            yield _Said(
                visit.start_s,
                Call(kind, (_mover(visit),), "" if is_shutter else visit.step),
                root if counted else "",
                (visit.key,),
            )
            if is_shutter:
                yield _Said(visit.end_s, Call(CallKind.SHUTTER_CLOSED, (_mover(visit),)), root)
            before = visit


def _mover(visit: CueVisit) -> Mover:
    seconds = visit.end_s - visit.start_s if visit.ends_by is EndsBy.SHUTTER else None
    return Mover(visit.key, visit.name or visit.group, visit.place, visit.role, visit.holder, seconds)


def _stillness(visits: Sequence[CueVisit]) -> Iterator[_Said]:
    still = [visit for visit in visits if visit.still == "still"]
    roots = roots_of(visits)
    nexts = {
        visit.key: following for plate in plates_of(visits).values() for visit, following in pairwise(plate)
    }
    for opens, closes in union((visit.start_s, visit.end_s) for visit in still):
        first = [visit for visit in still if visit.start_s == opens]
        counted = all(roots[visit.key] != visit.key for visit in first)
        yield _Said(opens, Call(CallKind.HOLD_STILL), roots[first[0].key] if counted else "")
        last = [visit for visit in still if visit.end_s == closes]
        by_call = any(_ends_by_a_call(visit, nexts.get(visit.key)) for visit in last)
        yield _Said(closes, Call(CallKind.MOVE), "" if by_call else roots[last[0].key])


def _ends_by_a_call(visit: CueVisit, following: CueVisit | None) -> bool:
    return visit.ends_by is EndsBy.CALL and following is not None and touches(visit, following)


def roots_of(visits: Sequence[CueVisit]) -> dict[str, str]:
    """For each visit the one whose call it hangs on: itself, unless it is counted."""
    roots: dict[str, str] = {}
    for plate in plates_of(visits).values():
        before: CueVisit | None = None
        for visit in plate:
            counted = before is not None and is_counted(before, visit)
            roots[visit.key] = roots[before.key] if counted and before is not None else visit.key
            before = visit
    return roots


def _lights(visits: Sequence[CueVisit], afterglow_s: int) -> Iterator[_Said]:
    for at_s, light in light_calls(visits, afterglow_s=afterglow_s):
        yield _Said(at_s, Call(LIGHT_CALLS[light]), light=light)


def _gathered(said: Iterable[_Said]) -> list[Cue]:
    at: dict[int, list[_Said]] = {}
    for one in said:
        at.setdefault(one.at_s, []).append(one)
    return [_cue(second, own) for second, own in sorted(at.items())]


def _cue(at_s: int, said: Sequence[_Said], *, counted_from: str = "", after_s: int = 0) -> Cue:
    begins = tuple(sorted(key for one in said for key in one.begins))
    light: Light = next((one.light for one in said if one.light), "")
    together: dict[tuple[CallKind, str], list[Mover]] = {}
    for one in said:
        together.setdefault((one.call.kind, one.call.step), []).extend(one.call.movers)
    calls = [
        Call(kind, tuple(sorted(movers, key=lambda mover: mover.key)), step)
        for (kind, step), movers in together.items()
    ]
    named = begins[0] if begins else f"lights {light} {at_s}" if light else ""
    key = f"{counted_from} + {after_s}" if counted_from else named
    return Cue(key, at_s, spoken(calls), begins, light, counted_from, after_s)


def spoken(calls: Iterable[Call]) -> tuple[Call, ...]:
    """Calls of one instant in the order in which they are said."""
    return tuple(
        sorted(calls, key=lambda call: (_ORDER[call.kind], call.movers[0].key if call.movers else ""))
    )
