"""A rotation as a drawing: groups down, then places, time across, darkness and stillness as bands. Coordinates only, no markup.

The unit of length is one user unit of the drawing, on a screen a pixel; x counts from the left edge of the plot, y from its top.
Time runs at one scale everywhere; stretches between periods in which nothing happens are cut out and leave a gap. Every text is
a `Label` that says how much room it takes, and none is drawn where another stands already.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from itertools import groupby, pairwise, zip_longest
from math import ceil
from zoneinfo import ZoneInfo

from server.core.moments import clock_at, day_at, day_words
from server.core.rounds import Piece, Round, rounds_of, stacked, union

# On a screen: at least so wide, and wider where a long class needs it.
WIDTH, WIDEST = 1000.0, 12000.0
UNITS_PER_SECOND = 0.36
# A4 and Letter on their side both print this size with words of at least 7 points: docs/sources.md.
PAPER_WIDTH, PAPER_HEIGHT = 880.0, 590.0
PAPER_UNITS_PER_SECOND = 0.3
# Texts at both ends of the axis may stick out so far.
MARGIN = 18.0
# The column of names left of the plot, and where in it they end.
NAMES, NAMES_END = 132.0, 126.0

GAP = 46.0
# Of many periods the gaps together take at most this share of the width.
SHARE_OF_GAPS = 0.3
# The size of letters, and the width that each is given: that of a wide typeface. A lone figure takes no more than its ink.
SIZE, CHARACTER, FIGURE = 10.5, 6.6, 6.0

DAYS_Y, TICKS_Y, AXIS_Y, TOP = 11.0, 24.0, 31.0, 35.0
STRIP, STRIP_STEP = 16.0, 20.0
LANE, BOX, BOX_DOWN = 33.0, 17.0, 13.0
BAR_STEP, BAR_SPACE = 16.0, 2.0
# A place that takes very many plates has thinner bars, without words.
HIGHEST_PLACE = 160.0
HEADING, AROUND_ROW, BELOW = 18.0, 4.0, 18.0

TICKS_S = (60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400)
FEWEST_UNITS_BETWEEN_TICKS = 62.0
# The period's end is drawn when it is at most this share of the drawn time further than the last visit.
SHARE_OF_EMPTY_TIME = 0.12
LONGEST_GROUP, LONGEST_NAME = 13, 19


@dataclass(frozen=True)
class Spot:
    """A place that gets a row of its own; it takes `capacity` plates at once."""

    name: str
    capacity: int


@dataclass(frozen=True)
class Aside:
    """A stretch that belongs to the whole class: talk or clean-up. A break is not drawn, it gives the gap its name."""

    name: str
    start_s: int
    end_s: int
    is_break: bool = False


@dataclass(frozen=True)
class Label:
    """A text; `y` is its base line, `anchor` what of it stands at x. An upright one reads from bottom to top around (x, y)."""

    kind: str
    x: float
    y: float
    text: str
    anchor: str = "start"
    on_dark: bool = False
    upright: bool = False

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom: the room it takes at most."""
        length = _length(self.text)
        if self.upright:
            return self.x - SIZE, self.y - length / 2, self.x + SIZE / 3, self.y + length / 2
        left = self.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * length
        return left, self.y - SIZE * 0.8, left + length, self.y + SIZE * 0.25


@dataclass(frozen=True)
class Tick:
    x: float


@dataclass(frozen=True)
class Segment:
    """A stretch of time that is drawn, `start_s` to `end_s`."""

    x: float
    width: float
    start_s: int
    end_s: int


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
    zone: str
    y: float
    bands: tuple[Band, ...]


@dataclass(frozen=True)
class Bracket:
    """A round, from its first hold-still to the end of its last."""

    number: int
    x: float
    y: float
    width: float
    title: str


@dataclass(frozen=True)
class Box:
    """A visit in its group's row. `title` says all of it. A `kept_free` one is for a repeat."""

    x: float
    y: float
    width: float
    light: str
    still: str
    kept_free: bool
    title: str


@dataclass(frozen=True)
class Bar:
    """A plate's stay in the row of the place."""

    x: float
    y: float
    width: float
    height: float
    title: str


@dataclass(frozen=True)
class Row:
    """The band of one group (`kind` is `group`) or of one place (`place`)."""

    kind: str
    name: str
    y: float
    height: float


@dataclass(frozen=True)
class Mark:
    """An upright line: the finish, or the end of a period (`bell`)."""

    kind: str
    x: float


@dataclass(frozen=True)
class Shade:
    """What fills the rows for a stretch: `dark`, where the lab has one light zone, or `aside`."""

    kind: str
    x: float
    width: float
    title: str


@dataclass(frozen=True)
class Drawing:
    """Everything to be drawn. `names` stand in a column of their own left of the plot, `key` tells the numbers of steps.

    `when` says from when to when it goes, `part` which of several sheets it is; empty where it shows all of the class.
    """

    width: float
    height: float
    when: str
    part: str
    segments: tuple[Segment, ...]
    ticks: tuple[Tick, ...]
    strips: tuple[Strip, ...]
    rounds: tuple[Bracket, ...]
    shades: tuple[Shade, ...]
    rows: tuple[Row, ...]
    boxes: tuple[Box, ...]
    bars: tuple[Bar, ...]
    marks: tuple[Mark, ...]
    labels: tuple[Label, ...]
    names: tuple[Label, ...]
    key: tuple[tuple[int, str], ...]
    rows_y: float
    margin: float = MARGIN
    names_width: float = NAMES


Stretches = Sequence[tuple[int, int]]


def _length(text: str) -> float:
    return FIGURE if len(text) == 1 else CHARACTER * len(text)


def _name(kind: str, y: float, text: str) -> Label:
    return Label(kind, NAMES_END, y, text, "end")


def _shortened(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _cut(stretches: Stretches, longest_s: float) -> list[tuple[tuple[int, int], ...]]:
    """The stretches on sheets of at most `longest_s` each; a longer stretch is cut into equal pieces at whole minutes."""
    sheets: list[list[tuple[int, int]]] = []
    left = 0.0
    for start, end in stretches:
        if end - start > longest_s:
            each = ceil((end - start) / ceil((end - start) / longest_s) / 60) * 60
            sheets.extend([(edge, min(edge + each, end))] for edge in range(start, end, each))
            left = 0.0
        elif end - start <= left:
            sheets[-1].append((start, end))
            left -= end - start
        else:
            sheets.append([(start, end)])
            left = longest_s - (end - start)
    return [tuple(sheet) for sheet in sheets]


def _per_second(sheets: Sequence[Stretches], width: float) -> float:
    """The one scale at which every sheet fits into the width."""
    return min(
        (width - _gap(stretches, width) * (len(stretches) - 1)) / sum(end - start for start, end in stretches)
        for stretches in sheets
    )


def _gap(stretches: Stretches, width: float) -> float:
    return min(GAP, width * SHARE_OF_GAPS / max(len(stretches) - 1, 1))


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

    def ends(self, second: int) -> float:
        """Where the segment with the second in it ends."""
        segment = next(one for one in self.segments if second < one.end_s)
        return segment.x + segment.width

    def shows(self, start_s: int, end_s: int) -> bool:
        return any(start_s < segment.end_s and segment.start_s < end_s for segment in self.segments)


def _scale(stretches: Stretches, per_second: float, width: float) -> _Scale:
    gap = _gap(stretches, width)
    segments: list[Segment] = []
    x = 0.0
    for start, end in stretches:
        long = (end - start) * per_second
        segments.append(Segment(round(x, 2), round(long, 2), start, end))
        x += long + gap
    return _Scale(tuple(segments), per_second)


@dataclass
class _Labels:
    """Labels that stand free of each other and inside the frame."""

    width: float
    put: list[Label] = field(default_factory=list)

    def free(self, label: Label) -> bool:
        left, top, right, bottom = label.box
        return (
            left >= -MARGIN
            and right <= self.width + MARGIN
            and not any(
                left < other[2] and other[0] < right and top < other[3] and other[1] < bottom
                for other in (one.box for one in self.put)
            )
        )

    def first_free(self, *choices: Label) -> None:
        """Put the first of the choices that stands free, or none."""
        self.put.extend([label for label in choices if self.free(label)][:1])


@dataclass(frozen=True)
class _Stay:
    """A plate at one place, from its first step there to the end of its last."""

    row: str
    pass_no: int
    place: str
    start_s: int
    end_s: int


def _stretch(one: Piece | _Stay) -> tuple[int, int]:
    return one.start_s, one.end_s


@dataclass(frozen=True)
class _GroupRow:
    name: str
    kept_free: bool
    lanes: tuple[tuple[Piece, ...], ...]

    @property
    def height(self) -> float:
        return max(1, len(self.lanes)) * LANE + AROUND_ROW

    @property
    def stretches(self) -> Iterator[tuple[int, int]]:
        return (_stretch(piece) for lane in self.lanes for piece in lane)


@dataclass(frozen=True)
class _PlaceRow:
    spot: Spot
    lanes: tuple[tuple[_Stay, ...], ...]

    @property
    def step(self) -> float:
        return min(BAR_STEP, HIGHEST_PLACE / len(self.lanes))

    @property
    def height(self) -> float:
        return len(self.lanes) * self.step + AROUND_ROW

    @property
    def stretches(self) -> Iterator[tuple[int, int]]:
        return (_stretch(stay) for lane in self.lanes for stay in lane)


_AnyRow = _GroupRow | _PlaceRow


def _passes(pieces: Sequence[Piece]) -> list[list[Piece]]:
    by_pass: dict[tuple[str, int], list[Piece]] = {}
    for piece in sorted(pieces, key=_stretch):
        by_pass.setdefault((piece.row, piece.pass_no), []).append(piece)
    return list(by_pass.values())


def _stays(one_pass: Sequence[Piece]) -> Iterator[_Stay]:
    """A plate keeps its place between two steps there, also where it waits."""
    for place, steps in groupby(one_pass, key=lambda piece: piece.place):
        own = list(steps)
        yield _Stay(own[0].row, own[0].pass_no, place, own[0].start_s, max(piece.end_s for piece in own))


def _busy(rows: Sequence[_AnyRow], stretches: Stretches) -> list[_AnyRow]:
    return [
        row
        for row in rows
        if any(start < until and begins < end for start, end in row.stretches for begins, until in stretches)
    ]


def _sheets(rows: Sequence[_AnyRow], room: float) -> list[list[_AnyRow]]:
    sheets: list[list[_AnyRow]] = []
    left = 0.0
    for row in rows:
        if not sheets or row.height > left:
            sheets.append([])
            left = room
        sheets[-1].append(row)
        left -= row.height
    return sheets


@dataclass(frozen=True, kw_only=True)
class Timeline:
    """What is to be drawn: the `pieces` in the order of `rows`, then rows for repeats (`kept_free`), then the `places` in use.

    `starts_at` is the instant of second 0 and `zone` the lab's time zone, in which times are written.
    """

    pieces: Sequence[Piece]
    rows: Sequence[str]
    periods: Stretches
    starts_at: datetime
    zone: str
    places: Sequence[Spot] = ()
    kept_free: Sequence[str] = ()
    asides: Sequence[Aside] = ()

    def for_screen(self) -> Drawing | None:
        """One drawing as wide as the class needs; None where there is nothing to draw."""
        if not self.pieces:
            return None
        stretches = self.drawn_time
        total = sum(end - start for start, end in stretches)
        width = min(max(WIDTH, UNITS_PER_SECOND * total), WIDEST)
        rows = [*self.group_rows, *self.place_rows]
        return self._drawing(stretches, rows, _per_second([stretches], width), width)

    def for_paper(self) -> tuple[Drawing, ...]:
        """In as many pieces of time, and of rows, as keep every sheet's words large enough to read on a wall.

        Rows in which nothing happens on a sheet are left out of it.
        """
        if not self.pieces:
            return ()
        cut = _cut(self.drawn_time, PAPER_WIDTH / PAPER_UNITS_PER_SECOND)
        per_second = _per_second(cut, PAPER_WIDTH)
        sheets = [(stretches, rows) for stretches in cut for rows in self._sheets_of_rows(stretches)]
        return tuple(
            self._drawing(
                stretches,
                rows,
                per_second,
                PAPER_WIDTH,
                f"sheet {number} of {len(sheets)}" if len(sheets) > 1 else "",
            )
            for number, (stretches, rows) in enumerate(sheets, start=1)
        )

    def at(self, second: int) -> datetime:
        return self.starts_at + timedelta(seconds=second)

    def clock(self, second: int) -> str:
        return clock_at(self.at(second), self.zone)

    def exactly(self, start_s: int, end_s: int) -> str:
        starts, ends = (self.at(second).astimezone(ZoneInfo(self.zone)) for second in (start_s, end_s))
        return f"{starts:%H:%M:%S} to {ends:%H:%M:%S}"

    def day(self, second: int) -> str:
        return day_words(day_at(self.at(second), self.zone))

    @cached_property
    def drawn_time(self) -> tuple[tuple[int, int], ...]:
        """From each used period's start to its last visit's end, or to the period's end where that is near; and the asides."""
        visits = [_stretch(piece) for piece in self.pieces]
        busy = [
            (opens, max(end for start, end in visits if opens <= start <= closes))
            for opens, closes in self.periods
            if any(opens <= start <= closes for start, _end in visits)
        ]
        drawn = [(one.start_s, one.end_s) for one in self.asides if not one.is_break]
        found = union([*busy, *visits, *drawn])
        total = sum(end - start for start, end in found)
        near = [
            (end, closes)
            for start, end in found
            for opens, closes in self.periods
            if opens <= end < closes <= end + total * SHARE_OF_EMPTY_TIME
        ]
        return union([*found, *near])

    @cached_property
    def passes(self) -> list[list[Piece]]:
        return _passes(self.pieces)

    @cached_property
    def rounds(self) -> list[list[Round]]:
        """The rounds in lanes: those of two rooms may overlap."""
        return stacked(rounds_of(self.pieces), lambda one: (one.start_s, one.end_s))

    @cached_property
    def zones(self) -> list[tuple[str, str]]:
        dark = {piece.light_zone for piece in self.pieces if piece.light == "dark" and piece.light_zone}
        still = {piece.still_zone for piece in self.pieces if piece.still == "still" and piece.still_zone}
        return [*(("dark", zone) for zone in sorted(dark)), *(("still", zone) for zone in sorted(still))]

    @property
    def rows_y(self) -> float:
        return TOP + (len(self.rounds) + len(self.zones)) * STRIP_STEP + AROUND_ROW

    @cached_property
    def group_rows(self) -> list[_AnyRow]:
        rows: list[_AnyRow] = []
        for name in (*self.rows, *self.kept_free):
            own = [one for one in self.passes if one[0].row == name]
            # A plate that still dries while the next one is made moves that one into a lane of its own.
            lanes = stacked(own, lambda one: (one[0].start_s, max(piece.end_s for piece in one)))
            flat = tuple(tuple(piece for one in lane for piece in one) for lane in lanes)
            rows.append(_GroupRow(name, name in self.kept_free, flat))
        return rows

    @cached_property
    def place_rows(self) -> list[_AnyRow]:
        stays = [stay for one in self.passes for stay in _stays(one)]
        rows: list[_AnyRow] = []
        for spot in self.places:
            here = stacked((stay for stay in stays if stay.place == spot.name), _stretch)
            if here:
                rows.append(_PlaceRow(spot, tuple(tuple(lane) for lane in here)))
        return rows

    @cached_property
    def several(self) -> set[str]:
        """The rows with more than one plate."""
        rows = Counter(one[0].row for one in self.passes)
        return {row for row, plates in rows.items() if plates > 1}

    def _sheets_of_rows(self, stretches: Stretches) -> list[list[_AnyRow]]:
        """The rows in which something happens in the stretches, on sheets that are not too high; places share one where they can."""
        room = PAPER_HEIGHT - self.rows_y - BELOW
        groups = _sheets(_busy(self.group_rows, stretches), room) or [[]]
        places = _sheets(_busy(self.place_rows, stretches), room - HEADING)
        if len(places) == 1 and sum(row.height for row in (*groups[-1], *places[0])) + HEADING <= room:
            groups[-1].extend(places.pop())
        return groups + places

    def _drawing(
        self, stretches: Stretches, rows: Sequence[_AnyRow], per_second: float, width: float, part: str = ""
    ) -> Drawing:
        scale = _scale(stretches, per_second, width)
        labels, names = _Labels(width), [_name("small", TICKS_Y, "clock")]
        marks = tuple(self._marks(scale, labels))
        self._days(scale, labels)
        ticks = tuple(self._ticks(scale, labels))
        rounds = tuple(self._rounds(scale, labels, names))
        strips = tuple(self._strips(scale, names, self.rows_y - AROUND_ROW))
        boxes: list[Box] = []
        bars: list[Bar] = []
        drawn: list[Row] = []
        y = self.rows_y
        numbers = self._numbers()
        for row in rows:
            if isinstance(row, _GroupRow):
                drawn.append(Row("group", row.name, y, row.height))
                names.append(_name("group", y + BOX_DOWN + 13, _shortened(row.name, LONGEST_GROUP)))
                for number, lane in enumerate(row.lanes):
                    top = y + number * LANE
                    boxes.extend(self._boxes(lane, top, scale, labels, numbers, kept_free=row.kept_free))
                    labels.put.extend(self._stay_names(lane, top, scale, several=row.name in self.several))
            else:
                if not drawn or drawn[-1].kind == "group":
                    names.append(_name("small", y + 13, "plates at"))
                    y += HEADING
                drawn.append(Row("place", row.spot.name, y, row.height))
                names.append(_name("place", y + 13, _spot_words(row)))
                for number, stays in enumerate(row.lanes):
                    bars.extend(
                        self._bars(stays, y + number * row.step + AROUND_ROW / 2, row.step, scale, labels)
                    )
            y += row.height
        shades = tuple(self._shades(scale, strips, labels, self.rows_y, y))
        self._gaps(scale, labels, self.rows_y, y)
        self._bells(scale, labels, y)
        return Drawing(
            width, y, self._when(stretches[0][0], stretches[-1][1]), part, scale.segments, ticks, strips, rounds, shades,
            tuple(drawn), tuple(boxes), tuple(bars), marks, tuple(labels.put), tuple(names),
            tuple((number, step) for step, number in numbers.items()), self.rows_y,
        )  # fmt: skip

    def _when(self, start_s: int, end_s: int) -> str:
        until = self.clock(end_s + -end_s % 60)
        if self.day(start_s) != self.day(end_s):
            until = f"{self.day(end_s)}, {until}"
        return f"{self.day(start_s)}, {self.clock(start_s)} to {until}"

    def _numbers(self) -> dict[str, int]:
        """Steps are numbered in the order in which plates go through them."""
        steps = dict.fromkeys(piece.step for one in self.passes for piece in one)
        return {step: number for number, step in enumerate(steps, start=1)}

    def _marks(self, scale: _Scale, labels: _Labels) -> Iterator[Mark]:
        finish = max(piece.end_s for piece in self.pieces)
        if scale.shows(finish - 1, finish):
            x, words = scale.x(finish), f"done {self.clock(finish + -finish % 60)}"
            labels.first_free(
                Label("finish", x - 4, DAYS_Y, words, "end"), Label("finish", x + 4, DAYS_Y, words)
            )
            yield Mark("finish", x)
        for _opens, closes in self.periods:
            if scale.shows(closes - 1, closes):
                yield Mark("bell", scale.x(closes))

    def _bells(self, scale: _Scale, labels: _Labels, bottom: float) -> None:
        for _opens, closes in self.periods:
            if scale.shows(closes - 1, closes):
                x, words = scale.x(closes), f"period ends {self.clock(closes)}"
                labels.first_free(
                    Label("small", x, bottom + 14, words, "end"),
                    Label("small", x, bottom + 14, f"ends {self.clock(closes)}", "end"),
                )

    def _days(self, scale: _Scale, labels: _Labels) -> None:
        days = [self.day(segment.start_s) for segment in scale.segments]
        several = len({self.day(start) for start, _end in self.drawn_time}) > 1
        for segment, day, before in zip(scale.segments, days, ["", *days], strict=False):
            if several and day != before:
                short = " ".join(day.split()[1:3])
                labels.first_free(
                    Label("day", segment.x, DAYS_Y, day), Label("day", segment.x, DAYS_Y, short)
                )

    def _ticks(self, scale: _Scale, labels: _Labels) -> Iterator[Tick]:
        fewest = FEWEST_UNITS_BETWEEN_TICKS / scale.units_per_second
        apart = next((tick for tick in TICKS_S if tick >= fewest), TICKS_S[-1])
        for segment in scale.segments:
            local = self.at(segment.start_s).astimezone(ZoneInfo(self.zone))
            past = local.hour * 3600 + local.minute * 60 + local.second
            for second in range(segment.start_s + -past % apart, segment.end_s + 1, apart):
                labels.first_free(Label("tick", scale.x(second), TICKS_Y, self.clock(second), "middle"))
                yield Tick(scale.x(second))

    def _rounds(self, scale: _Scale, labels: _Labels, names: list[Label]) -> Iterator[Bracket]:
        for lane, own in enumerate(self.rounds):
            y = TOP + lane * STRIP_STEP
            if lane == 0:
                names.append(_name("small", y + 12, "round"))
            for one in own:
                if not scale.shows(one.start_s, one.end_s):
                    continue
                x, width = scale.x(one.start_s), scale.width(one.start_s, one.end_s)
                title = f"round {one.number}: {', '.join(one.places)}, {self.exactly(one.start_s, one.end_s)}"
                labels.first_free(Label("round", x + width / 2, y + 10, str(one.number), "middle"))
                yield Bracket(one.number, x, y, width, title)

    def _strips(self, scale: _Scale, names: list[Label], bottom: float) -> Iterator[Strip]:
        for number, (kind, zone) in enumerate(self.zones):
            y = bottom - (len(self.zones) - number) * STRIP_STEP
            stretches = union(
                _stretch(piece)
                for piece in self.pieces
                if (kind == "dark" and (piece.light, piece.light_zone) == ("dark", zone))
                or (kind == "still" and (piece.still, piece.still_zone) == ("still", zone))
            )
            names.append(_name("small", y + 12, _shortened(f"{kind}: {zone}", LONGEST_NAME)))
            bands = tuple(
                Band(scale.x(start), scale.width(start, end), start, end)
                for start, end in stretches
                if scale.shows(start, end)
            )
            yield Strip(kind, zone, y, bands)

    def _shades(
        self, scale: _Scale, strips: Sequence[Strip], labels: _Labels, top: float, bottom: float
    ) -> Iterator[Shade]:
        dark = [strip for strip in strips if strip.kind == "dark"]
        if len(dark) == 1:
            for band in dark[0].bands:
                yield Shade("dark", band.x, band.width, "")
        for aside in self.asides:
            if not aside.is_break and scale.shows(aside.start_s, aside.end_s):
                x, width = scale.x(aside.start_s), scale.width(aside.start_s, aside.end_s)
                self._upright(labels, x, width, (top, bottom), aside.name)
                yield Shade("aside", x, width, f"{aside.name}, {self.exactly(aside.start_s, aside.end_s)}")

    def _gaps(self, scale: _Scale, labels: _Labels, top: float, bottom: float) -> None:
        for before, after in pairwise(scale.segments):
            name = next(
                (
                    f"{aside.name} "
                    for aside in self.asides
                    if aside.is_break and before.end_s <= aside.start_s < after.start_s
                ),
                "",
            )
            same_day = self.day(before.end_s) == self.day(after.start_s)
            until = (
                self.clock(after.start_s)
                if same_day
                else f"{self.day(after.start_s)}, {self.clock(after.start_s)}"
            )
            x = before.x + before.width
            self._upright(labels, x, after.x - x, (top, bottom), f"{name}until {until}")

    def _upright(
        self, labels: _Labels, x: float, width: float, rows: tuple[float, float], words: str
    ) -> None:
        """Words that fill a narrow stretch of the rows from bottom to top, where they fit."""
        top, bottom = rows
        if width >= SIZE * 4 / 3 + 1 and _length(words) <= bottom - top:
            middle = round(x + width / 2 + SIZE / 3, 2)
            labels.first_free(Label("aside", middle, (top + bottom) / 2, words, "middle", upright=True))

    def _boxes(
        self,
        lane: Sequence[Piece],
        top: float,
        scale: _Scale,
        labels: _Labels,
        numbers: dict[str, int],
        *,
        kept_free: bool,
    ) -> Iterator[Box]:
        y = top + BOX_DOWN
        for piece in lane:
            if not scale.shows(piece.start_s, piece.end_s):
                continue
            x, width = scale.x(piece.start_s), scale.width(piece.start_s, piece.end_s)
            title = (
                f"{piece.row}, plate {piece.pass_no}: {piece.step} at {piece.place}, "
                f"{self.exactly(piece.start_s, piece.end_s)}"
            )
            fitting = [words for words in (piece.step, str(numbers[piece.step])) if _length(words) <= width]
            labels.put.extend(
                Label("step", round(x + width / 2, 2), y + 12, words, "middle", on_dark=piece.light == "dark")
                for words in fitting[:1]
            )
            yield Box(x, y, width, piece.light, piece.still, kept_free, title)

    def _stay_names(
        self, lane: Sequence[Piece], top: float, scale: _Scale, *, several: bool
    ) -> Iterator[Label]:
        """The place's name where a stay is long enough to carry it; with the plate's number where a pass begins and a group makes several."""
        for _pass_no, one_pass in groupby(lane, key=lambda piece: piece.pass_no):
            for number, stay in enumerate(_stays(list(one_pass))):
                with_plate = [f"{stay.place}, plate {stay.pass_no}"] if several and not number else []
                width = scale.width(stay.start_s, stay.end_s)
                fitting = [words for words in (*with_plate, stay.place) if _length(words) <= width]
                if scale.shows(stay.start_s, stay.end_s):
                    x = scale.x(stay.start_s)
                    yield from (Label("place", x, top + BOX_DOWN - 3, words) for words in fitting[:1])

    def _bars(
        self, stays: Sequence[_Stay], y: float, step: float, scale: _Scale, labels: _Labels
    ) -> Iterator[Bar]:
        shown = [stay for stay in stays if scale.shows(stay.start_s, stay.end_s)]
        for stay, after in zip_longest(shown, shown[1:]):
            x, width = scale.x(stay.start_s), scale.width(stay.start_s, stay.end_s)
            if step == BAR_STEP:
                free = scale.ends(stay.start_s) if after is None else scale.x(after.start_s)
                labels.put.extend(self._bar_words(stay, x, y + 10.5, width, free))
            yield Bar(
                x,
                y,
                width,
                step - BAR_SPACE,
                f"{stay.place}: {stay.row}, plate {stay.pass_no}, {self.exactly(stay.start_s, stay.end_s)}",
            )

    def _bar_words(self, stay: _Stay, x: float, y: float, width: float, free: float) -> Iterator[Label]:
        """Whose plate it is, in the bar; or beside a short bar, where up to `free` nothing stands."""
        with_plate = [f"{stay.row}·{stay.pass_no}"] if stay.row in self.several else []
        for words in (*with_plate, stay.row):
            if _length(words) <= width:
                yield Label("bar", round(x + width / 2, 2), y, words, "middle")
                return
        beside = x + width + BAR_SPACE
        if beside + _length(stay.row) <= free:
            yield Label("bar", round(beside, 2), y, stay.row)


def _spot_words(row: _PlaceRow) -> str:
    """The place with how much of it is filled at the fullest moment, such as `dryer, 2 of 3`."""
    if row.spot.capacity == 1:
        return _shortened(row.spot.name, LONGEST_NAME)
    fill = f", {len(row.lanes)} of {row.spot.capacity}"
    return _shortened(row.spot.name, LONGEST_NAME - len(fill)) + fill
