"""What is left on the shelf over the term as a drawing: days across, plates upwards. Coordinates only, no markup.

The unit of length is one user unit of the drawing; x counts from the left edge of the plot, y from its top.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil, floor

from server.core.supply import Delivery, Need, Standing

WIDTH, HEIGHT = 420.0, 200.0
FEWEST_UNITS_BETWEEN_DAYS = 56.0
MOST_LEVELS = 6


@dataclass(frozen=True)
class DayMark:
    """A mark of the days' axis, with the day as a person writes it."""

    x: float
    label: str


@dataclass(frozen=True)
class Level:
    """A line across at so many plates; below none they are short."""

    y: float
    label: str
    is_none: bool


@dataclass(frozen=True)
class SupplyDrawing:
    """Everything to be drawn.

    `by_the_plan` is what is left if every plate comes out well, and `with_reserve` what is left when the reserve is used up too; both are
    corners of a line from left to right. `first_short` is where the second first falls below none.
    """

    width: float
    height: float
    by_the_plan: tuple[tuple[float, float], ...]
    with_reserve: tuple[tuple[float, float], ...]
    days: tuple[DayMark, ...]
    levels: tuple[Level, ...]
    first_short: DayMark | None


def _label(day: date) -> str:
    return f"{day.day} {day:%b}"


def _marks(days: Sequence[date], x: Callable[[date], float]) -> Iterator[DayMark]:
    """The days in turn that leave room for their labels, the first one always."""
    last = None
    for day in days:
        if last is None or x(day) - last >= FEWEST_UNITS_BETWEEN_DAYS:
            last = x(day)
            yield DayMark(last, _label(day))


def _steps(
    gone: Sequence[tuple[date, int]], deliveries: Sequence[Delivery], *, there: int, today: date
) -> Iterator[tuple[date, int]]:
    """What is left before and after each step, below none where it is short. A delivery lifts it on its day, and counts for later ones."""
    downs, before = [], 0
    for day, by_then in gone:
        downs.append((day, before - by_then))
        before = by_then
    last = downs[-1][0]
    ups = [(one.day, one.amount) for one in deliveries if one.day < last]
    left = there
    yield today, left
    for day, change in sorted([*downs, *ups], key=lambda step: (step[0], step[1] > 0)):
        yield day, left
        left += change
        yield day, left


def _apart(highest: int, lowest: int) -> int:
    """A round number of plates between two levels: 1, 2 or 5 times a power of ten."""
    apart = 1
    while (highest - lowest) // apart >= MOST_LEVELS:
        apart = apart * 5 // 2 if str(apart)[0] == "2" else apart * 2
    return apart


def draw_supply(
    needs: Sequence[Need],
    standings: Sequence[Standing],
    deliveries: Sequence[Delivery],
    *,
    there: int,
    today: date,
) -> SupplyDrawing | None:
    """The drawing of a shelf with `there` plates from today to the last day with a class; None where there is no class."""
    if not needs:
        return None
    days = [need.day for need in needs]
    by_the_plan = [(need.day, need.planned + need.spoiled) for need in needs]
    with_reserve = [(need.day, need.needed) for need in needs]
    lines = [[*_steps(gone, deliveries, there=there, today=today)] for gone in (by_the_plan, with_reserve)]
    values = [0, *(left for line in lines for _day, left in line)]
    apart = _apart(max(values), min(values))
    highest, lowest = ceil(max(1, *values) / apart) * apart, floor(min(values) / apart) * apart
    length = max(1, (days[-1] - today).days)

    def x(day: date) -> float:
        return round((day - today).days * WIDTH / length, 2)

    def y(left: int) -> float:
        return round((highest - left) * HEIGHT / (highest - lowest), 2)

    def corners(line: Sequence[tuple[date, int]]) -> tuple[tuple[float, float], ...]:
        return tuple(dict.fromkeys((x(day), y(left)) for day, left in line))

    first_short = next((one.day for one in standings if one.short), None)
    return SupplyDrawing(
        width=WIDTH,
        height=HEIGHT,
        by_the_plan=corners(lines[0]),
        with_reserve=corners(lines[1]),
        days=tuple(_marks([today, *days], x)),
        levels=tuple(
            Level(y(left), str(left) if left >= 0 else f"−{-left}", left == 0)
            for left in range(lowest, highest + 1, apart)
        ),
        first_short=None if first_short is None else DayMark(x(first_short), _label(first_short)),
    )
