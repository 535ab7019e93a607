"""The chance of having finished as a drawing: time across, classes of 100 up. Coordinates only, no markup.

The unit of length is one user unit of the drawing; x counts from the left edge of the plot, y from its top.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from server.core.moments import clock_at

WIDTH, HEIGHT = 420.0, 190.0
TICKS_S = (60, 120, 300, 600, 900, 1800, 3600, 7200)
FEWEST_UNITS_BETWEEN_TICKS = 52.0
LEVELS = (0, 25, 50, 75, 100)
# Words beside a dot stand to its right, where the plot is empty below the curve, up to this share of the width.
SHARE_FOR_WORDS_ON_THE_RIGHT = 0.6
# The bell is drawn where the curve then still fills this part of the drawing at least.
LEAST_SHARE_OF_CURVE = 0.4


@dataclass(frozen=True)
class ClockTick:
    """A mark of the time axis at `second`; `label` is the lab's wall clock."""

    x: float
    second: int
    label: str


@dataclass(frozen=True)
class Level:
    """A line across for so many classes of 100."""

    y: float
    label: str


@dataclass(frozen=True)
class Dot:
    """A point of the curve with words beside it, on its left or on its right."""

    x: float
    y: float
    words: str
    on_left: bool


@dataclass(frozen=True)
class ChanceDrawing:
    """Everything to be drawn. `line` are the curve's corners from left to right.

    The bell is an upright line, or words alone at the edge beyond which it lies.
    """

    width: float
    height: float
    line: tuple[tuple[float, float], ...]
    ticks: tuple[ClockTick, ...]
    levels: tuple[Level, ...]
    dots: tuple[Dot, ...]
    bell: Dot
    is_bell_beyond: bool


def draw_chances(
    curve: Sequence[tuple[int, int]],
    *,
    marks: Sequence[tuple[int, int, str]],
    bell_s: int,
    starts_at: datetime,
    zone: str,
) -> ChanceDrawing:
    """The drawing of a curve of (second, number of classes finished by then), which rises from none to all of them.

    `marks` are (second, of 100 classes, words), in seconds on the curve; the drawing reaches to the bell unless that is far.
    `starts_at` is the instant of second 0 and `zone` the lab's time zone, in which times are written.
    """
    (first, _none), (last, every) = curve[0], curve[-1]
    opens, closes = min(first, bell_s), max(last, bell_s)
    is_beyond = last - first < LEAST_SHARE_OF_CURVE * (closes - opens)
    if is_beyond:
        opens, closes = first, last

    def x(second: int) -> float:
        return round((second - opens) * WIDTH / (closes - opens), 2)

    def y(of_100: float) -> float:
        return round(HEIGHT * (1 - of_100 / 100), 2)

    def dot(second: int, of_100: int, words: str) -> Dot:
        return Dot(x(second), y(of_100), words, on_left=x(second) > WIDTH * SHARE_FOR_WORDS_ON_THE_RIGHT)

    corners = [(opens, 0), *curve, (closes, every)]
    return ChanceDrawing(
        width=WIDTH,
        height=HEIGHT,
        line=tuple(dict.fromkeys((x(second), y(100 * number / every)) for second, number in corners)),
        ticks=tuple(
            ClockTick(x(second), second, clock_at(starts_at + timedelta(seconds=second), zone))
            for second in _ticks(opens, closes, starts_at, zone)
        ),
        levels=tuple(Level(y(level), str(level)) for level in LEVELS),
        dots=tuple(dot(*mark) for mark in marks),
        bell=dot(
            min(max(bell_s, opens), closes),
            100,
            f"{'← ' if bell_s < opens else ''}period ends "
            f"{clock_at(starts_at + timedelta(seconds=bell_s), zone)}{' →' if bell_s > closes else ''}",
        ),
        is_bell_beyond=is_beyond,
    )


def _ticks(opens: int, closes: int, starts_at: datetime, zone: str) -> Iterator[int]:
    """Round times of the wall clock, far enough apart for their labels."""
    fewest = FEWEST_UNITS_BETWEEN_TICKS * (closes - opens) / WIDTH
    apart = next((tick for tick in TICKS_S if tick >= fewest), TICKS_S[-1])
    local = (starts_at + timedelta(seconds=opens)).astimezone(ZoneInfo(zone))
    past = local.hour * 3600 + local.minute * 60 + local.second
    yield from range(opens + -past % apart, closes + 1, apart)
