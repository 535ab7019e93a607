"""What the page about a rotation's chance of finishing shows."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from fractions import Fraction
from math import prod

from server.chances.queries import Kept, find_kept, find_pace, list_plates_of_others
from server.core.chance_curve import ChanceDrawing, draw_chances
from server.core.class_pace import FEWEST_CLASSES, Pace
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.planning.simulation import ASSUMED_SPREAD, Chances, simulate
from server.core.reserve import CONFIDENCES, Success, chance_of_enough, fewest_plates, success_words
from server.core.units import plates_words
from server.data.session import LabSession
from server.people.queries import get_section
from server.rotations.models import RotationState
from server.rotations.queries import get_rotation
from server.runs.queries import find_success

# So many replays know a chance to about 1 of 100, and a page view can wait for them.
REPLICATIONS = 10_000
# The same plan shows the same chances each time it is looked at.
SEED = 1
# Assumed: a class that fits this often may be published without a second look, one that fits less than half the time not.
_WELL, _WATCH = Fraction(90, 100), Fraction(50, 100)


@dataclass(frozen=True)
class CurveLine:
    """So many of 100 classes are done by this time."""

    clock: str
    of_100: str
    what: str = ""


@dataclass(frozen=True)
class ReserveLine:
    """Plates to have ready for so many good ones: for each confidence, all of them and how many of them are reserve."""

    what: str
    good: int
    ready: Sequence[tuple[int, int]]


@dataclass(frozen=True)
class Finish:
    """The chance of finishing in words and as a drawing; `state` is well, watch or stop."""

    state: str
    sentence: str
    drawing: ChanceDrawing
    lines: Sequence[CurveLine]
    inputs: Sequence[str]


@dataclass(frozen=True)
class Reserve:
    """Reserve plates, for this rotation and for its day; `pooled` is empty where the day has no other rotation."""

    sentence: str
    confidences: Sequence[int]
    lines: Sequence[ReserveLine]
    inputs: Sequence[str]
    pooled: str


@dataclass(frozen=True)
class ChancePage:
    """`finish` and `reserve` are None until a plate is planned; `is_stale` says that the rotation was changed since.

    `assumed` says what is not this lab's own, on paper too.
    """

    id: int
    name: str
    section: str
    is_stale: bool
    assumed: str
    finish: Finish | None
    reserve: Reserve | None


def _of_100(share: Fraction) -> str:
    """A share in words that call nothing certain that isn't."""
    if share in {0, 1}:
        return "none" if share == 0 else "all"
    if share < Fraction(1, 100):
        return "fewer than 1"
    return "more than 99" if share > Fraction(99, 100) else str(round(share * 100))


def _percent(share: float) -> str:
    return f"{round(share * 100)} %"


def _assumed_words(found: Success) -> str:
    success = (
        f", and that {_percent(float(found.share))} of the plates come out well" if found.is_assumed else ""
    )
    return f"Assumed: how much times vary{success}."


def _pace_words(pace: Pace) -> str:
    if pace.is_assumed:
        return (
            f"Assumed: on average a class takes its planned time, and a whole class is slower or faster by {_percent(pace.spread)}. "
            f"Classes of this lab that were called or have run notes so far: {pace.classes}; from {FEWEST_CLASSES} on they count."
        )
    return (
        f"From {pace.classes} classes of this lab: when their plates were exposed, beside when they were planned to be. With the assumption, "
        f"which counts as {FEWEST_CLASSES} classes more, a class takes {_percent(pace.longer)} of its planned time, and a whole class is slower "
        f"or faster by {_percent(pace.spread)}."
    )


def _clock(kept: Kept, second: int, zone: str) -> str:
    """The whole minute by which it is done; with its day where the plan goes over several."""
    instant = kept.kept.starts_at + timedelta(seconds=-(-second // 60) * 60)
    last = kept.kept.starts_at + timedelta(seconds=kept.kept.makespan_s)
    one_day = day_at(kept.kept.starts_at, zone) == day_at(last, zone)
    return clock_at(instant, zone) if one_day else moment_words(instant, zone)


def _sentence(kept: Kept, chances: Chances, zone: str) -> str:
    planned = "everything that is planned" if kept.kept.plates_unplaced else "everything"
    bell = _clock(kept, chances.bell_s, zone)
    done = f"{planned} is done by {bell}"
    if chances.periods > 1:
        done = f"each period's work is done by its end, the last by {bell}"
    elif chances.done_by(chances.bell_s) < chances.by_bell:
        done = f"{done}, but for what runs on by itself"
    share = Fraction(chances.by_bell, chances.replications)
    who = f"{_of_100(share)} of 100 classes like this one"
    if share in {0, 1}:
        who = f"{_of_100(share)} of {chances.replications} simulated classes"
    return (
        f"In {who} {done}; half are done by {_clock(kept, chances.half_s, zone)}, "
        f"nine of ten by {_clock(kept, chances.nine_tenths_s, zone)}."
    )


def _lines(kept: Kept, chances: Chances, drawing: ChanceDrawing, zone: str) -> Sequence[CurveLine]:
    def line(second: int, what: str = "") -> CurveLine:
        share = Fraction(chances.done_by(second), chances.replications)
        return CurveLine(_clock(kept, second, zone), _of_100(share), what)

    marks = {tick.second: "" for tick in drawing.ticks} | {chances.bell_s: "period ends"}
    return [line(second, what) for second, what in sorted(marks.items())]


def _finish(kept: Kept, chances: Chances, found: Success, pace: Pace, zone: str) -> Finish:
    share = Fraction(chances.by_bell, chances.replications)
    drawing = draw_chances(
        chances.curve,
        marks=[
            (chances.half_s, 50, f"half by {_clock(kept, chances.half_s, zone)}"),
            (chances.nine_tenths_s, 90, f"nine of ten by {_clock(kept, chances.nine_tenths_s, zone)}"),
        ],
        bell_s=chances.bell_s,
        starts_at=kept.kept.starts_at,
        zone=zone,
    )
    spread = ASSUMED_SPREAD
    return Finish(
        state="well" if share >= _WELL else "watch" if share >= _WATCH else "stop",
        sentence=_sentence(kept, chances, zone),
        drawing=drawing,
        lines=_lines(kept, chances, drawing, zone),
        inputs=[
            (
                f"The plan was replayed {chances.replications} times in its own order, with steps that take longer or shorter. "
                "A class may run ahead of its plan; a wait that the plan chose is kept while it is in time and given up when it is late. "
                "A plate whose next place is still taken waits for it, longer than the plan allows if need be, and blocks nothing."
            ),
            (
                "Assumed: times spread around their mean (standard deviation ÷ mean, lognormal) by "
                f"{_percent(spread.lit)} in white light, {_percent(spread.dark)} in the dark and {_percent(spread.other)} elsewhere. "
                "Settle and exposure times don't vary."
            ),
            _pace_words(pace),
            (
                "Assumed: the class starts in time, no device fails, and a failed plate is not repeated within the period. "
                f"By the end {float(chances.good_plates):.1f} of {plates_words(chances.plates)} are expected to be done and good."
            ),
            *success_words(found),
        ],
    )


def _ready(good: int, share: Fraction) -> list[tuple[int, int]]:
    ready = [fewest_plates(good=good, share=share, confidence=confidence) for confidence in CONFIDENCES]
    return [(plates, plates - good) for plates in ready]


def _apart(goods: Sequence[int], share: Fraction) -> list[tuple[int, int]]:
    """Each class with plates of its own, so that all of them have enough with the confidence asked."""
    found = []
    for confidence in CONFIDENCES:
        ready = sum(
            fewest_plates(good=good, share=share, confidence=confidence, classes=len(goods)) for good in goods
        )
        found.append((ready, ready - sum(goods)))
    return found


def _reserve(kept: Kept, found: Success, others: Sequence[tuple[str, int]], zone: str) -> Reserve:
    good, share, day = kept.kept.plates_planned, found.share, day_words(day_at(kept.kept.starts_at, zone))
    own = _ready(good, share)
    lines, pooled = [ReserveLine("This rotation", good, own)], ""
    if others:
        goods = [good, *(plates for _name, plates in others)]
        lines.append(
            ReserveLine(
                f"The {len(goods)} rotations of {day}, one box", sum(goods), _ready(sum(goods), share)
            )
        )
        lines.append(ReserveLine(f"The {len(goods)} rotations, a box each", sum(goods), _apart(goods, share)))
        alone = [(one, _ready(one, share)[0][0]) for one in goods]
        together = prod(chance_of_enough(plates=plates, good=one, share=share) for one, plates in alone)
        pooled = (
            f"Counted with {'; '.join(f'{name} ({plates_words(plates)})' for name, plates in others)}. Were each rotation to keep only "
            f"what it needs for itself ({' + '.join(str(plates) for _one, plates in alone)}), all of them would have enough "
            f"on {_of_100(Fraction(together))} of 100 such days. One shared box needs fewer reserve plates, because the classes rarely "
            "have bad luck all at once."
        )
    ready, reserve = own[0]
    return Reserve(
        sentence=(
            f"To be {_percent(float(CONFIDENCES[0]))} sure of {good} good, have {plates_words(ready)} ready: "
            f"{reserve} in reserve."
        ),
        confidences=[round(confidence * 100) for confidence in CONFIDENCES],
        lines=lines,
        inputs=[
            (
                "The fewest plates of which enough come out well with the confidence asked, from the binomial distribution, "
                f"each plate by itself with a chance of {_percent(float(share))}. "
                "The prep sheet counts the planned plates, the rounds kept for repeats and the tests; a reserve beyond that comes on top, and a repeat needs time too."
            ),
            *success_words(found),
        ],
        pooled=pooled,
    )


def chance_page(session: LabSession, rotation_id: int, zone: str) -> ChancePage:
    rotation = get_rotation(session, rotation_id)
    kept = find_kept(session, rotation_id)
    finish = reserve = None
    assumed = ""
    if kept is not None:
        found, pace = find_success(session), find_pace(session)
        assumed = _assumed_words(found)
        chances = simulate(
            kept.problem,
            kept.plan,
            replications=REPLICATIONS,
            seed=SEED,
            failure=1 - found.share,
            spread=replace(ASSUMED_SPREAD, exact=kept.timed, pace=pace.spread, longer=pace.longer),
        )
        assert chances is not None
        finish = _finish(kept, chances, found, pace, zone)
        reserve = _reserve(kept, found, list_plates_of_others(session, kept.kept, zone), zone)
    return ChancePage(
        id=rotation.id,
        name=rotation.name,
        section=get_section(session, rotation.section_id).name,
        is_stale=rotation.state == RotationState.DRAFT and kept is not None,
        assumed=assumed,
        finish=finish,
        reserve=reserve,
    )
