"""What happens to each plate at places that stand next to each other, as one table: plates down in time order, columns across."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Entry:
    """One thing done to a plate; `words` is what its cell says."""

    group: str
    plate: int
    column: str
    starts_at: datetime
    words: str


@dataclass(frozen=True)
class PlateRow:
    """A plate's way through the columns: for each column what is done there, in the order of time; often one thing."""

    group: str
    plate: int
    cells: tuple[tuple[str, ...], ...]


def side_by_side(entries: Sequence[Entry], *, columns: Sequence[str]) -> tuple[PlateRow, ...]:
    """A row per plate, by the time of its first entry; entries of no column among `columns` are an error (KeyError)."""
    rows: dict[tuple[str, int], dict[str, list[str]]] = {}
    for entry in sorted(entries, key=lambda entry: entry.starts_at):
        row = rows.setdefault((entry.group, entry.plate), {column: [] for column in columns})
        row[entry.column].append(entry.words)
    return tuple(
        PlateRow(group, plate, tuple(tuple(row[column]) for column in columns))
        for (group, plate), row in rows.items()
    )
