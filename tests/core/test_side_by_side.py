"""What happens to each plate at neighbouring places, as one table."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from server.core.side_by_side import Entry, PlateRow, side_by_side

TEN = datetime(2027, 2, 16, 10, tzinfo=UTC)
COLUMNS = ("developer", "rinse", "bleach")


def _entry(group: str, column: str, minute: int) -> Entry:
    return Entry(group, 1, column, TEN + timedelta(minutes=minute), f"10:{minute:02}")


def test_plates_go_down_in_the_order_of_time_and_trays_across() -> None:
    entries = [_entry("G1", "rinse", 9), _entry("G2", "developer", 5), _entry("G1", "developer", 8)]

    assert side_by_side(entries, columns=COLUMNS) == (
        PlateRow("G2", 1, (("10:05",), (), ())),
        PlateRow("G1", 1, (("10:08",), ("10:09",), ())),
    )


@given(st.lists(st.builds(_entry, st.sampled_from("ABC"), st.sampled_from(COLUMNS), st.integers(0, 59))))
def test_every_entry_stands_in_one_cell_in_the_order_of_time(entries: list[Entry]) -> None:
    rows = side_by_side(entries, columns=COLUMNS)

    found = [
        (row.group, column, words)
        for row in rows
        for column, cell in zip(COLUMNS, row.cells, strict=True)
        for words in cell
    ]
    assert sorted(found) == sorted((entry.group, entry.column, entry.words) for entry in entries)
    assert all(list(cell) == sorted(cell) for row in rows for cell in row.cells)
    begins = [min(words for cell in row.cells for words in cell) for row in rows]
    assert begins == sorted(begins)
