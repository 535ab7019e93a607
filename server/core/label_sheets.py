"""Sheets of labels, named by their measures, and single labels as wide as a roll. Lengths are micrometres.

Labels stand in a grid; a printer needs the sheet's own size and no margins of its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from server.core.label_sizes import SIZES, LabelSize


@dataclass(frozen=True)
class Format:
    """A page with `columns` × `rows` labels of one size; the first stands `left_um`, `top_um` from the page's corner."""

    key: str
    page: str
    page_width_um: int
    page_height_um: int
    columns: int
    rows: int
    width_um: int
    height_um: int
    left_um: int = 0
    top_um: int = 0
    gap_x_um: int = 0
    gap_y_um: int = 0

    @property
    def labels(self) -> int:
        return self.columns * self.rows

    @property
    def name(self) -> str:
        """Such as `A4, 2 × 4, 99.1 × 67.7 mm`."""
        size = f"{millimetres(self.width_um)} × {millimetres(self.height_um)} mm"
        return (
            f"{self.page}, {self.columns} × {self.rows}, {size}"
            if self.labels > 1
            else f"{self.page}, {size}"
        )


@dataclass(frozen=True)
class Spot:
    """Where a label stands: its page from 0, and its corner on it."""

    page: int
    x_um: int
    y_um: int


def millimetres(length_um: int) -> str:
    """Return a length in millimetres with at most three decimals.

    >>> millimetres(99_100), millimetres(74_000)
    ('99.1', '74')
    """
    return f"{length_um / 1000:.3f}".rstrip("0").rstrip(".")


A4 = (210_000, 297_000)
LETTER = (215_900, 279_400)


def _a4(columns: int, rows: int, width_um: int, height_um: int, *, gap_x_um: int = 0) -> Format:
    return _sheet("A4", A4, columns, rows, width_um, height_um, gap_x_um)


def _letter(columns: int, rows: int, width_um: int, height_um: int, *, gap_x_um: int = 0) -> Format:
    return _sheet("US Letter", LETTER, columns, rows, width_um, height_um, gap_x_um)


def _sheet(
    page: str, paper: tuple[int, int], columns: int, rows: int, width_um: int, height_um: int, gap_x_um: int
) -> Format:
    """A grid in the middle of its page."""
    return Format(
        key=f"{page.rsplit(maxsplit=1)[-1].lower()}-{columns}x{rows}",
        page=page,
        page_width_um=paper[0],
        page_height_um=paper[1],
        columns=columns,
        rows=rows,
        width_um=width_um,
        height_um=height_um,
        left_um=(paper[0] - columns * width_um - (columns - 1) * gap_x_um) // 2,
        top_um=(paper[1] - rows * height_um) // 2,
        gap_x_um=gap_x_um,
    )


def _single(size: LabelSize) -> Format:
    width, height = size.long_um, size.short_um
    key = f"one-{millimetres(width)}x{millimetres(height)}"
    return Format(key, "single labels", width, height, 1, 1, width, height)


FORMATS: Sequence[Format] = (
    _a4(2, 4, 99_100, 67_700, gap_x_um=2_500),
    _a4(2, 3, 99_100, 93_100, gap_x_um=2_500),
    _a4(2, 2, 99_100, 139_000, gap_x_um=2_500),
    _a4(1, 2, 199_600, 143_500),
    _a4(1, 1, 199_600, 289_100),
    _a4(2, 7, 99_100, 38_100, gap_x_um=2_500),
    _a4(3, 7, 63_500, 38_100, gap_x_um=2_500),
    _letter(2, 3, 101_600, 84_667, gap_x_um=4_762),
    _letter(2, 2, 101_600, 127_000, gap_x_um=4_762),
    _letter(1, 2, 215_900, 139_700),
    _letter(1, 1, 215_900, 279_400),
    _letter(2, 5, 101_600, 50_800, gap_x_um=4_762),
    _letter(3, 10, 66_675, 25_400, gap_x_um=3_175),
    *(_single(size) for size in SIZES),
)


def find_format(key: str) -> Format | None:
    return next((one for one in FORMATS if one.key == key), None)


def is_large_enough(one: Format, size: LabelSize) -> bool:
    """Whether a label of the format, upright or on its side, is at least as large as it must be."""
    short, long = sorted((one.width_um, one.height_um))
    return short >= size.short_um and long >= size.long_um


def spots(one: Format, *, labels: int, first: int) -> Sequence[Spot]:
    """Return where labels stand when the first free one is number `first` (from 1, along the rows) of the first page."""
    found = []
    for index in range(first - 1, first - 1 + labels):
        page, place = divmod(index, one.labels)
        row, column = divmod(place, one.columns)
        found.append(
            Spot(
                page,
                one.left_um + column * (one.width_um + one.gap_x_um),
                one.top_um + row * (one.height_um + one.gap_y_um),
            )
        )
    return found
