"""The fill forecast of a stream as a drawing: days across, litres upwards. Coordinates only, no markup.

The unit of length is one user unit of the drawing; x counts from the left edge of the plot, y from its top. A pickup and its cut-off share a
number, so that the two signs are read together.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from server.core.fill_forecast import PickupAhead, State, Step, StreamFill
from server.core.moments import day_begins, day_words, moment_words
from server.core.units import MICROLITRES, volume_words

WIDTH, HEIGHT = 420.0, 210.0
FEWEST_UNITS_BETWEEN_DAYS = 56.0
MOST_LEVELS = 6
# Signs stand above the plot, pickups nearer to it than their cut-offs.
PICKUP_Y, CUT_OFF_Y = -11.0, -29.0
# The words on the fill line stand above it, or below where that is the top of the plot.
ABOVE, BELOW = -5.0, 14.0


@dataclass(frozen=True)
class DayMark:
    """A mark of the days' axis, with the day as a person writes it; no label where there is no room for one."""

    x: float
    label: str


@dataclass(frozen=True)
class Level:
    """A line across at so many litres."""

    y: float
    label: str


@dataclass(frozen=True)
class Sign:
    """A mark with a shape of its own for each `kind`: `pickup`, `lost` (one that can't be counted on), `cut-off`, `over` (no room expected)
    and `perhaps` (no room at worst). `text` stands on it, `words` say all of it.
    """

    kind: str
    x: float
    y: float
    text: str
    words: str


@dataclass(frozen=True)
class FillDrawing:
    """Everything to be drawn: the band as a closed shape, the likely level and the fill lines together as lines from left to right.

    `line_label` are words on the fill line at (0, `line_y`).
    """

    width: float
    height: float
    band: tuple[tuple[float, float], ...]
    likely: tuple[tuple[float, float], ...]
    line: tuple[tuple[float, float], ...]
    line_label: str
    line_y: float
    days: tuple[DayMark, ...]
    levels: tuple[Level, ...]
    signs: tuple[Sign, ...]


def _apart(highest_ul: int) -> int:
    """A round volume between two levels: 1, 2 or 5 times a power of ten."""
    apart = MICROLITRES["ml"]
    while highest_ul // apart >= MOST_LEVELS:
        apart = apart * 5 // 2 if str(apart)[0] == "2" else apart * 2
    return apart


def _litres(volume_ul: int) -> str:
    return f"{(Decimal(volume_ul) / MICROLITRES['l']).normalize():f}"


def _stairs(
    fill: StreamFill,
    path: Callable[[tuple[State, State, State]], int],
    *,
    begins: datetime,
    until: datetime,
) -> Iterator[tuple[datetime, int]]:
    """A quantity before and after each step up to `until`."""
    last = path((fill.start, fill.start, fill.start))
    yield begins, last
    for step in fill.steps:
        if step.at > until:
            break
        yield max(begins, step.at), last
        last = path((step.low, step.likely, step.high))
        yield max(begins, step.at), last
    yield until, last


def _line_ul(states: tuple[State, State, State]) -> int:
    """All fill lines together: what is held in containers, and the room below their lines."""
    return sum(states[1].levels_ul) + states[1].room_ul


def draw_fill(
    fill: StreamFill, pickups: Sequence[PickupAhead], *, now: datetime, last: date, first: date, zone: str
) -> FillDrawing:
    """The drawing of a stream's forecast from `now` to the end of `last`, on the days from `first` on.

    `pickups` are all pickups of these days, also those that can't be counted on.
    """
    opens, closes = day_begins(first, zone), day_begins(last + timedelta(days=1), zone)
    length = (closes - opens).total_seconds()
    low, likely, high, line = (
        tuple(_stairs(fill, path, begins=now, until=closes))
        for path in (
            lambda states: states[0].total_ul,
            lambda states: states[1].total_ul,
            lambda states: states[2].total_ul,
            _line_ul,
        )
    )
    highest = max(volume for _at, volume in (*high, *line))
    apart = _apart(highest)
    top = -(-max(highest, 1) // apart) * apart

    def x(at: datetime) -> float:
        return round((at - opens).total_seconds() * WIDTH / length, 2)

    def y(volume_ul: int) -> float:
        return round((top - volume_ul) * HEIGHT / top, 2)

    def corners(stairs: Sequence[tuple[datetime, int]]) -> tuple[tuple[float, float], ...]:
        return tuple(dict.fromkeys((x(at), y(volume)) for at, volume in stairs))

    line_y = y(line[0][1])
    return FillDrawing(
        width=WIDTH,
        height=HEIGHT,
        band=(*corners(high), *reversed(corners(low))),
        likely=corners(likely),
        line=corners(line),
        line_label=f"fill line, {volume_words(line[0][1])}" if line[0][1] else "no container",
        line_y=line_y + (ABOVE if line_y > BELOW else BELOW),
        days=tuple(_days(first, last, lambda day: x(day_begins(day, zone)))),
        levels=tuple(Level(y(volume), _litres(volume)) for volume in range(0, top + 1, apart)),
        signs=(
            *_signs(pickups, now=now, first=first, last=last, x=x, zone=zone),
            *_overs(fill, now=now, until=closes, x=x, y=y, zone=zone),
        ),
    )


def _days(first: date, last: date, x: Callable[[date], float]) -> Iterator[DayMark]:
    """Every day as long as they are few, with labels where there is room for them."""
    labelled = None
    for day in (first + timedelta(days=number) for number in range((last - first).days + 1)):
        if labelled is None or x(day) - labelled >= FEWEST_UNITS_BETWEEN_DAYS:
            labelled = x(day)
            yield DayMark(labelled, f"{day.day} {day:%b}")
        else:
            yield DayMark(x(day), "")


def _signs(
    pickups: Sequence[PickupAhead],
    *,
    now: datetime,
    first: date,
    last: date,
    x: Callable[[datetime], float],
    zone: str,
) -> Iterator[Sign]:
    shown = sorted((one for one in pickups if first <= one.day <= last), key=lambda one: one.day)
    for number, one in enumerate(shown, 1):
        day, by = day_words(one.day), moment_words(one.request_by, zone)
        if one.is_requested:
            said = f"{number}: pickup of {day}, requested"
        elif one.comes(now):
            said = f"{number}: pickup of {day}, counted on if it is requested"
            yield Sign("cut-off", x(one.request_by), CUT_OFF_Y, str(number), f"{number}: request it by {by}")
        else:
            said = f"{number}: pickup of {day}, not requested by {by} and not counted on"
        kind = "pickup" if one.comes(now) else "lost"
        yield Sign(kind, min(WIDTH, x(one.at)), PICKUP_Y, str(number), said)


def _overs(
    fill: StreamFill,
    *,
    now: datetime,
    until: datetime,
    x: Callable[[datetime], float],
    y: Callable[[int], float],
    zone: str,
) -> Iterator[Sign]:
    """Where it is expected to find no room first, and where it may at worst if that is sooner."""
    worst, likely = fill.first_over_at_worst, fill.first_over

    def sign(kind: str, text: str, step: Step, level_ul: int, said: str) -> Sign:
        at, name = max(now, step.at), step.addition.name if step.addition else ""
        return Sign(kind, x(at), y(level_ul), text, f"{text}: {name}, {moment_words(at, zone)}, {said}")

    if likely is not None and likely.at <= until:
        yield sign("over", "×", likely, likely.likely.total_ul, "is expected to find no room")
    if worst is not None and worst.at <= until and (likely is None or worst.at < likely.at):
        yield sign("perhaps", "?", worst, worst.high.total_ul, "may find no room at worst")
