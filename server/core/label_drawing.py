"""A label's lines, signs and code laid out on its size. Coordinates only, no markup. Lengths are millimetres.

Letters grow as large as the label has room for and shrink to the least that the rule allows. What finds no room even then is left
off, the least important first, and the drawing names it: nothing is cut.
"""

from bisect import bisect
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from math import ceil, sqrt

from server.core.hazard_statements import Pictogram
from server.core.label_sizes import LINE_SPACING, Part

# What a printer or a cutter may be out by on every side, and the space between text and signs.
EDGE, SPACE = 2.5, 1.5
# Letters grow to this many times their least size, in steps.
LARGEST, STEPS = 2.0, 10
# Headings give way before lines do.
HEADING_SHARES = (1.0, 0.6, 0.0)
# Beside a sign, a line narrower than this is none.
NARROWEST = 16.0
# From the top of a line to the foot of its letters, in letter sizes.
FOOT = 0.96
# What a phone's camera needs to tell one square of a code from the next.
SQUARE = 0.42
SMALLEST_PICTOGRAM_STEP = 1.0

# How wide signs are, in letter sizes: of the widest usual typeface without serifs, so that any other fits too.
_NARROW, _WIDE = frozenset("iljI.,:;!'|’ ·()[]-ft/"), frozenset("mwMWQ@%—…½&+<>=±×→ÆŒæœ#~^µ")
_SLIM, _USUAL, _CAPITAL, _BROAD, _FOREIGN = 0.42, 0.645, 0.78, 1.0, 1.1
_BOLD = 1.1
_LAST_LATIN = 0x2FF


@dataclass(frozen=True)
class Line:
    """A paragraph of a label. `grows` is how much larger than the others it may stand; `least` its own least letter size, if any."""

    part: Part
    words: str
    bold: bool = False
    grows: float = 1.0
    least: float = 0.0


@dataclass(frozen=True)
class Content:
    """What a label is to say. `squares` is how many squares its code has on a side, with the clear border; 0 for none."""

    lines: Sequence[Line]
    pictograms: Sequence[Pictogram]
    squares: int
    instead: str


@dataclass(frozen=True)
class Measures:
    """The label's own size, the least letter size, and a pictogram's side: wanted, and least."""

    width: float
    height: float
    letters: float
    pictogram: float
    pictogram_least: float


@dataclass(frozen=True)
class Text:
    """One row of text; `y` is the foot of its letters, `room` how wide it may be."""

    x: float
    y: float
    size: float
    bold: bool
    words: str
    room: float


@dataclass(frozen=True)
class Sign:
    """A pictogram with its middle and the half of its diagonal."""

    pictogram: Pictogram
    x: float
    y: float
    half: float


@dataclass(frozen=True)
class Code:
    x: float
    y: float
    side: float


@dataclass(frozen=True)
class LabelDrawing:
    """`left_off` is what found no room; `side` is the pictograms' side, 0 where there is none.

    `from_afar` says whether every line that is to be read from afar is as large as that takes.
    """

    width: float
    height: float
    texts: Sequence[Text]
    signs: Sequence[Sign]
    code: Code | None
    left_off: Sequence[Line]
    letters: float
    side: float
    from_afar: bool = True


@dataclass(frozen=True)
class _Box:
    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True)
class _Arrangement:
    signs: Sequence[Sign]
    boxes: Sequence[_Box]
    side: float


_NO_SIGNS = _Arrangement((), (), 0.0)


def _sign_width(sign: str) -> float:
    if sign in _NARROW:
        return _SLIM
    if sign in _WIDE:
        return _BROAD
    if ord(sign) > _LAST_LATIN and sign not in "–“”₀₁₂₃₄₅₆₇₈₉":
        return _FOREIGN
    return _CAPITAL if sign.isupper() else _USUAL


class RuledLine:
    """A line with the widths of its beginnings, so that a row's end is found without measuring again."""

    def __init__(self, line: Line) -> None:
        """`widths` are in letter sizes, and the widest that a usual typeface makes them."""
        self.line = line
        bold = _BOLD if line.bold else 1.0
        self.widths = (0.0, *accumulate(_sign_width(sign) * bold for sign in line.words))

    def row(self, start: int, room: float) -> tuple[int, int]:
        """Where the row that begins at `start` ends, and where the next one begins: behind a blank.

        A word wider than a row is broken, with no sign added; the next row then begins where this one ends.
        """
        words = self.line.words
        end = bisect(self.widths, self.widths[start] + room) - 1
        if end >= len(words):
            return len(words), len(words)
        blank = words.rfind(" ", start, end + 1)
        if blank > start:
            rest = words[blank:]
            return blank, blank + len(rest) - len(rest.lstrip(" "))
        return (end, end) if end > start else (start + 1, start + 1)


def draw_label(content: Content, measures: Measures) -> LabelDrawing:
    """Return the label.

    Lines that are to be read from afar keep their size as long as none of them would be left off for it. With no room for the signs at
    their least, the label is drawn without them; with no room for a single line, with none.
    """
    code = _code(content, measures)
    arrangements = list(_arrangements(content.pictograms, measures, code)) or [_NO_SIGNS]
    large = _kept_most(content, measures, arrangements, code)
    if large is not None and not any(line.least for line in large.left_off):
        return large
    plain = replace(content, lines=[replace(line, least=0.0) for line in content.lines])
    small = _kept_most(plain, measures, arrangements, code) or LabelDrawing(
        measures.width, measures.height, (), arrangements[0].signs, code, plain.lines, measures.letters, arrangements[0].side
    )  # fmt: skip
    return replace(small, from_afar=not any(line.least for line in content.lines))


def _kept_most(
    content: Content, measures: Measures, arrangements: Sequence[_Arrangement], code: Code | None
) -> LabelDrawing | None:
    """With as many lines as there is room for; None where not one finds it."""
    in_order = sorted(range(len(content.lines)), key=lambda at: list(Part).index(content.lines[at].part))
    ruled = [RuledLine(line) for line in content.lines]
    instead = RuledLine(Line(Part.ROLE, content.instead, bold=True))
    least = [one for one in arrangements if one.side == arrangements[-1].side]

    def _lines(kept: int) -> list[RuledLine]:
        chosen = set(in_order[:kept])
        lines = [line for at, line in enumerate(ruled) if at in chosen]
        return lines if kept == len(ruled) else [*lines, instead]

    def _fits(kept: int) -> bool:
        lines = _lines(kept)
        return any(
            _flow(lines, measures, one, code, letters=measures.letters, headings=0.0) is not None
            for one in least
        )

    kept = len(ruled)
    if not _fits(kept):
        kept = bisect(range(1, kept), 0, key=lambda fewer: not _fits(fewer))
    if not kept:
        return None
    lines = _lines(kept)
    tries = (_grown(lines, measures, one, code, share) for one in arrangements for share in HEADING_SHARES)
    drawn = next(one for one in tries if one is not None)
    return replace(drawn, left_off=tuple(content.lines[at] for at in in_order[kept:]))


def _grown(
    lines: Sequence[RuledLine],
    measures: Measures,
    arrangement: _Arrangement,
    code: Code | None,
    headings: float,
) -> LabelDrawing | None:
    """With the largest letters for which the lines find room; None where they don't with the least."""
    found = None
    for step in range(STEPS + 1):
        letters = measures.letters * (1 + (LARGEST - 1) * step / STEPS)
        texts = _flow(lines, measures, arrangement, code, letters=letters, headings=headings)
        if texts is None:
            break
        found = LabelDrawing(
            measures.width, measures.height, texts, arrangement.signs, code, (), letters, arrangement.side
        )  # fmt: skip
    return found


def _code(content: Content, measures: Measures) -> Code | None:
    """The code in the upper right corner, where it leaves half of the label to the words."""
    side = content.squares * SQUARE
    if not side or side > measures.height - 2 * EDGE or side > measures.width / 2:
        return None
    return Code(measures.width - EDGE - side, EDGE, side)


def _arrangements(
    pictograms: Sequence[Pictogram], measures: Measures, code: Code | None
) -> Iterator[_Arrangement]:
    """Ways to set the signs in the lower right corner: the wanted size first, then smaller, in as few rows as there is room for."""
    if not pictograms:
        return
    steps = ceil((measures.pictogram - measures.pictogram_least) / SMALLEST_PICTOGRAM_STEP)
    for step in range(steps + 1):
        side = max(measures.pictogram_least, measures.pictogram - step * SMALLEST_PICTOGRAM_STEP)
        half = side * sqrt(2) / 2
        for columns in range(1, len(pictograms) + 1):
            rows = ceil(len(pictograms) / columns)
            box = _Box(
                measures.width - EDGE - columns * 2 * half,
                measures.height - EDGE - rows * 2 * half,
                measures.width - EDGE,
                measures.height - EDGE,
            )
            meets_code = code is not None and box.right > code.x and box.top < code.y + code.side + SPACE / 2
            if box.left < EDGE or box.top < EDGE or meets_code:
                continue
            signs = [
                Sign(
                    sign,
                    box.right - half - (index % columns) * 2 * half,
                    box.top + half + (index // columns) * 2 * half,
                    half,
                )
                for index, sign in enumerate(pictograms)
            ]
            yield _Arrangement(signs, (box,), side)


def _flow(
    lines: Sequence[RuledLine],
    measures: Measures,
    arrangement: _Arrangement,
    code: Code | None,
    *,
    letters: float,
    headings: float,
) -> Sequence[Text] | None:
    """The lines' rows from the top, around the code and the signs; None where they don't find room."""
    boxes = list(arrangement.boxes)
    if code is not None:
        boxes.append(_Box(code.x, code.y, code.x + code.side, code.y + code.side))
    texts: list[Text] = []
    y = EDGE
    for ruled in lines:
        line, start = ruled.line, 0
        size = max(letters * (1 + (line.grows - 1) * headings), line.least)
        height = size * LINE_SPACING
        while start < len(line.words):
            if y + height > measures.height - EDGE:
                return None
            room = _room(boxes, measures, y, y + height)
            if room < NARROWEST:
                under = [box.bottom for box in boxes if _is_beside(box, y, y + height)]
                y = max(under, default=measures.height) + SPACE / 2
                continue
            end, following = ruled.row(start, room / size)
            if line.least and following == end < len(line.words):
                return None  # large words are never broken
            texts.append(Text(EDGE, y + size * FOOT, size, line.bold, line.words[start:end], room))
            start = following
            y += height
    return texts


def _room(boxes: Sequence[_Box], measures: Measures, top: float, bottom: float) -> float:
    """How wide a row may be between two heights."""
    lefts = [box.left - SPACE for box in boxes if _is_beside(box, top, bottom)]
    return min([measures.width - EDGE, *lefts]) - EDGE


def _is_beside(box: _Box, top: float, bottom: float) -> bool:
    return box.top - SPACE / 2 < bottom and box.bottom + SPACE / 2 > top
