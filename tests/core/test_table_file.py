"""Tables for spreadsheets, read back with Python's own reader."""

import csv
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.table_file import defused, write_table

CELLS = st.text(st.characters(codec="utf-8") | st.sampled_from("=+-@\t'\",\n"), max_size=12)


def test_a_cell_with_a_comma_or_quotes_stands_in_quotes() -> None:
    """RFC 4180, section 2, rules 1, 5, 6 and 7; the words are the RFC's."""
    assert write_table(("aaa", "bbb"), [("b,b", 'b"bb')]) == '\ufeffaaa,bbb\r\n"b,b","b""bb"\r\n'


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1"])
def test_a_cell_that_begins_a_formula_is_text(cell: str) -> None:
    assert defused(cell) == f"'{cell}"


@given(st.lists(st.lists(CELLS, min_size=2, max_size=2), max_size=5))
def test_whatever_stands_in_a_cell_is_read_back(rows: list[list[str]]) -> None:
    read = list(
        csv.reader(StringIO(write_table(("one", "two"), rows).encode().decode("utf-8-sig"), newline=""))
    )

    assert [[cell.removeprefix("'") for cell in row] for row in read] == [["one", "two"], *rows]
    assert not [cell for row in read for cell in row if cell.startswith(("=", "+", "-", "@", "\t"))]
