"""Tables as comma-separated values that spreadsheets read: RFC 4180."""

import csv
from collections.abc import Iterable, Sequence
from io import StringIO

# A cell that begins so is taken for a formula by common spreadsheets; the apostrophe stands here because it marks text.
BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
MARKS_TEXT = "'"
# Without it common spreadsheets take UTF-8 for an older set of letters, and names with accents come out wrong.
BYTE_ORDER_MARK = "\ufeff"


def write_table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """The table with its heads in the first line; lines end with CR LF, and what needs quotes stands in them (RFC 4180, 2).

    The text begins with a byte order mark, which readers of UTF-8 with a mark take away. So does that of `write_head`; whoever sends a
    long table piece by piece writes it first, and then its rows with `write_rows`.
    """
    return write_head(head) + write_rows(rows)


def write_head(head: Sequence[str]) -> str:
    return BYTE_ORDER_MARK + write_rows([head])


def write_rows(rows: Iterable[Sequence[str]]) -> str:
    """Lines of a table without a head.

    A cell that a spreadsheet would work out as a formula, one that begins with = + - @, a tab or a line break, is defused: an
    apostrophe is put before it. So that nothing is lost, a cell that begins with an apostrophe gets one too: whoever takes one
    apostrophe from the front of every cell that has one reads exactly what was written.
    """
    text = StringIO(newline="")
    csv.writer(text).writerows([defused(cell) for cell in row] for row in rows)
    return text.getvalue()


def defused(cell: str) -> str:
    """The cell as text that no spreadsheet works out.

    >>> defused("=1+1"), defused("G1")
    ("'=1+1", 'G1')
    """
    return f"{MARKS_TEXT}{cell}" if cell.startswith((*BEGINS_A_FORMULA, MARKS_TEXT)) else cell
