"""A rotation as a drawing: groups down, time across, darkness and stillness as bands. Coordinates only, no markup.

The unit of length is one user unit of the drawing; x counts from the left edge of the plot, y from its top. Time runs
at one scale everywhere; stretches between periods in which nothing happens are cut out and leave a gap.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from server.core.moments import clock_at, day_at, day_words

WIDTH = 1100.0
GAP = 46.0
# Of many periods the gaps together take at most this share of the width.
SHARE_OF_GAPS = 0.3
CHARACTER = 6.0

TICK_LABELS_Y, TICK_HEIGHT = 26.0, 32.0
STRIP, STRIP_STEP = 16.0, 21.0
LANE, BOX, BOX_DOWN = 34.0, 17.0, 14.0
AROUND_ROW = 4.0

TICKS_S = (60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400)
FEWEST_UNITS_BETWEEN_TICKS = 62.0
# The period's end is drawn when it is at most this share of the drawn time further than the last visit.
SHARE_OF_EMPTY_TIME = 0.12


@dataclass(frozen=True)
class Piece:
    """One visit: who does which step where, in seconds from the first period's start. A zone may be none."""

    row: str
    pass_no: int
    step: str
    place: str
    start_s: int
    end_s: int
    light: str = "any"
    still: str = "any"
    light_zone: str | None = None
    still_zone: str | None = None


@dataclass(frozen=True)
class Tick:
    """A mark of the time axis; `label` is the lab's wall clock."""

    x: float
    label: str


@dataclass(frozen=True)
class Segment:
    """A stretch of time that is drawn, `start_s` to `end_s`; `label` names the day where there are several."""

    x: float
    width: float
    start_s: int
    end_s: int
    label: str


@dataclass(frozen=True)
class Band:
    """A stretch of darkness or stillness, `start_s` to `end_s`."""

    x: float
    width: float
    start_s: int
    end_s: int


@dataclass(frozen=True)
class Strip:
    """The bands of one zone; `kind` is `dark` or `still`."""

    kind: str
    label: str
    y: float
    bands: tuple[Band, ...]


@dataclass(frozen=True)
class Round:
    """A stretch in which somebody holds still, numbered in the order of time; x is its middle."""

    number: int
    x: float


@dataclass(frozen=True)
class Box:
    """A visit in its row. `text` is empty where the box is too narrow for it; `title` says all of it."""

    x: float
    y: float
    width: float
    light: str
    still: str
    text: str
    title: str


@dataclass(frozen=True)
class Stay:
    """The name of a place above the boxes of one stay there."""

    x: float
    y: float
    text: str


@dataclass(frozen=True)
class Row:
    """The band of one group."""

    label: str
    y: float
    height: float


@dataclass(frozen=True)
class Mark:
    """An upright line with a few words: the end of a period, the finish."""

    kind: str
    x: float
    label: str


@dataclass(frozen=True)
class Drawing:
    """Everything to be drawn. `rounds_y` and `rows_y` are where the rounds' numbers and the rows begin."""

    width: float
    height: float
    box: float
    strip: float
    segments: tuple[Segment, ...]
    ticks: tuple[Tick, ...]
    strips: tuple[Strip, ...]
    rounds: tuple[Round, ...]
    rows: tuple[Row, ...]
    boxes: tuple[Box, ...]
    stays: tuple[Stay, ...]
    marks: tuple[Mark, ...]
    rounds_y: float
    rows_y: float


@dataclass(frozen=True)
class _Scale:
    """Seconds to x, over segments that are in order and apart."""

    segments: tuple[Segment, ...]
    units_per_second: float

    def x(self, second: int) -> float:
        for segment in self.segments:
            if second <= segment.end_s:
                return round(
                    segment.x + (max(second, segment.start_s) - segment.start_s) * self.units_per_second, 2
                )
        last = self.segments[-1]
        return round(last.x + last.width, 2)

    def width(self, start_s: int, end_s: int) -> float:
        return round(self.x(end_s) - self.x(start_s), 2)


def draw(
    pieces: Sequence[Piece],
    *,
    rows: Sequence[str],
    periods: Sequence[tuple[int, int]],
    starts_at: datetime,
    zone: str,
) -> Drawing | None:
    """The drawing of `pieces`, in the order of `rows`; None where there is nothing to draw.

    `starts_at` is the instant of second 0 and `zone` the lab's time zone, in which times are written.
    """
    if not pieces:
        return None
    scale = _scale(pieces, periods, starts_at, zone)
    strips = tuple(_strips(pieces, scale))
    rounds_y = TICK_HEIGHT + len(strips) * STRIP_STEP
    rounds = _rounds(pieces, scale)
    rows_y = rounds_y + (STRIP_STEP if rounds else 0) + AROUND_ROW
    drawn: list[Row] = []
    boxes: list[Box] = []
    stays: list[Stay] = []
    y = rows_y
    for label in rows:
        own = [piece for piece in pieces if piece.row == label]
        lanes, several = _lanes(own), len({piece.pass_no for piece in own}) > 1
        height = max(1, len(lanes)) * LANE + AROUND_ROW
        drawn.append(Row(_shortened(label, 15), y, height))
        for number, lane in enumerate(lanes):
            top = y + number * LANE
            boxes.extend(_box(piece, top, scale, starts_at, zone) for piece in lane)
            stays.extend(_stays(lane, top, scale, several=several))
        y += height
    return Drawing(
        WIDTH,
        y,
        BOX,
        STRIP,
        scale.segments,
        tuple(_ticks(scale, starts_at, zone)),
        strips,
        rounds,
        tuple(drawn),
        tuple(boxes),
        tuple(stays),
        tuple(_marks(pieces, periods, scale, starts_at, zone)),
        rounds_y,
        rows_y,
    )


def union(stretches: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """The stretches (start, end) put together wherever they overlap or touch, in order.

    >>> union([(60, 90), (0, 30), (30, 40), (80, 120)])
    ((0, 40), (60, 120))
    """
    found: list[tuple[int, int]] = []
    for start, end in sorted(stretches):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return tuple(found)


def _drawn_time(pieces: Sequence[Piece], periods: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """From each used period's start to its last visit's end, or to the period's end where that is near."""
    visits = [(piece.start_s, piece.end_s) for piece in pieces]
    busy = [
        (opens, max(end for start, end in visits if opens <= start <= closes))
        for opens, closes in periods
        if any(opens <= start <= closes for start, _end in visits)
    ]
    found = union([*busy, *visits])
    total = sum(end - start for start, end in found)
    near = [
        (end, closes)
        for start, end in found
        for opens, closes in periods
        if opens <= end < closes <= end + total * SHARE_OF_EMPTY_TIME
    ]
    return union([*found, *near])


def _scale(
    pieces: Sequence[Piece], periods: Sequence[tuple[int, int]], starts_at: datetime, zone: str
) -> _Scale:
    stretches = _drawn_time(pieces, periods)
    total = sum(end - start for start, end in stretches)
    gaps = len(stretches) - 1
    gap = min(GAP, WIDTH * SHARE_OF_GAPS / max(gaps, 1))
    per_second = (WIDTH - gap * gaps) / total
    days = [day_at(starts_at + timedelta(seconds=start), zone) for start, _end in stretches]
    segments: list[Segment] = []
    x = 0.0
    for (start, end), day in zip(stretches, days, strict=True):
        width = (end - start) * per_second
        segments.append(
            Segment(round(x, 2), round(width, 2), start, end, day_words(day) if len(set(days)) > 1 else "")
        )
        x += width + gap
    return _Scale(tuple(segments), per_second)


def _ticks(scale: _Scale, starts_at: datetime, zone: str) -> Iterator[Tick]:
    fewest = FEWEST_UNITS_BETWEEN_TICKS / scale.units_per_second
    apart = next((tick for tick in TICKS_S if tick >= fewest), TICKS_S[-1])
    for segment in scale.segments:
        local = (starts_at + timedelta(seconds=segment.start_s)).astimezone(ZoneInfo(zone))
        past = local.hour * 3600 + local.minute * 60 + local.second
        for second in range(segment.start_s + -past % apart, segment.end_s + 1, apart):
            yield Tick(scale.x(second), clock_at(starts_at + timedelta(seconds=second), zone))


def _strips(pieces: Sequence[Piece], scale: _Scale) -> Iterator[Strip]:
    y = TICK_HEIGHT
    dark = [(piece.light_zone, piece) for piece in pieces if piece.light == "dark"]
    still = [(piece.still_zone, piece) for piece in pieces if piece.still == "still"]
    for kind, zoned in (("dark", dark), ("still", still)):
        for zone in sorted({zone for zone, _piece in zoned if zone is not None}):
            stretches = union((piece.start_s, piece.end_s) for where, piece in zoned if where == zone)
            bands = tuple(
                Band(scale.x(start), scale.width(start, end), start, end) for start, end in stretches
            )
            yield Strip(kind, _shortened(f"{kind}: {zone}", 19), y, bands)
            y += STRIP_STEP


def _rounds(pieces: Sequence[Piece], scale: _Scale) -> tuple[Round, ...]:
    """The rounds' numbers; a number that would stand in the one before it is left out."""
    stretches = union((piece.start_s, piece.end_s) for piece in pieces if piece.still == "still")
    drawn: list[Round] = []
    for number, (start, end) in enumerate(stretches, start=1):
        x = round(scale.x(start) + scale.width(start, end) / 2, 2)
        if not drawn or x - drawn[-1].x >= CHARACTER * (len(str(number)) + 1):
            drawn.append(Round(number, x))
    return tuple(drawn)


def _passes(pieces: Sequence[Piece]) -> list[list[Piece]]:
    by_pass: dict[int, list[Piece]] = {}
    for piece in sorted(pieces, key=lambda piece: (piece.start_s, piece.end_s)):
        by_pass.setdefault(piece.pass_no, []).append(piece)
    return list(by_pass.values())


def _lanes(pieces: Sequence[Piece]) -> list[list[Piece]]:
    """One group's passes side by side where they overlap (a plate still dries while the next one is made)."""
    lanes: list[list[Piece]] = []
    for one in _passes(pieces):
        lane = next((lane for lane in lanes if max(piece.end_s for piece in lane) <= one[0].start_s), None)
        if lane is None:
            lanes.append(lane := [])
        lane.extend(one)
    return lanes


def _box(piece: Piece, top: float, scale: _Scale, starts_at: datetime, zone: str) -> Box:
    width = scale.width(piece.start_s, piece.end_s)
    start, end = (starts_at + timedelta(seconds=second) for second in (piece.start_s, piece.end_s))
    title = (
        f"{piece.row}, plate {piece.pass_no}: {piece.step} at {piece.place}, "
        f"{start.astimezone(ZoneInfo(zone)):%H:%M:%S} to {end.astimezone(ZoneInfo(zone)):%H:%M:%S}"
    )
    text = piece.step if len(piece.step) * CHARACTER + 6 <= width else ""
    return Box(scale.x(piece.start_s), top + BOX_DOWN, width, piece.light, piece.still, text, title)


def _stays(lane: Sequence[Piece], top: float, scale: _Scale, *, several: bool) -> Iterator[Stay]:
    """The place's name where a stay is long enough to carry it; with the plate's number where a pass begins and a group makes several."""
    first = 0
    for index, piece in enumerate(lane):
        if index + 1 < len(lane) and (lane[index + 1].place, lane[index + 1].pass_no) == (
            piece.place,
            piece.pass_no,
        ):
            continue
        begins = first == 0 or lane[first - 1].pass_no != piece.pass_no
        text = f"{piece.place}, plate {piece.pass_no}" if several and begins else piece.place
        if len(text) * CHARACTER <= scale.width(lane[first].start_s, piece.end_s):
            yield Stay(scale.x(lane[first].start_s), top + BOX_DOWN - 3, text)
        first = index + 1


def _marks(
    pieces: Sequence[Piece], periods: Sequence[tuple[int, int]], scale: _Scale, starts_at: datetime, zone: str
) -> Iterator[Mark]:
    finish = max(piece.end_s for piece in pieces)
    yield Mark("finish", scale.x(finish), "done")
    for _opens, closes in periods:
        if any(segment.start_s < closes <= segment.end_s for segment in scale.segments):
            yield Mark(
                "bell",
                scale.x(closes),
                f"period ends {clock_at(starts_at + timedelta(seconds=closes), zone)}",
            )


def _shortened(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"
