"""Forming groups of students, and reading a pasted list of names."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

Member = TypeVar("Member")

LONGEST_NAME = 80
MOST_NAMES = 400


def form_groups(members: Sequence[Member], *, size: int) -> tuple[tuple[Member, ...], ...]:
    """Split `members` in their order into as few groups of about `size` as leave nobody alone.

    Sizes differ by at most one and nobody works alone in a dark room: seven students in pairs are 3 + 2 + 2.
    One student in all is a group of one, because there is nobody to join.

    >>> [len(group) for group in form_groups(range(7), size=2)]
    [3, 2, 2]
    >>> [len(group) for group in form_groups(range(18), size=3)]
    [3, 3, 3, 3, 3, 3]
    >>> [len(group) for group in form_groups(range(10), size=4)]
    [4, 3, 3]
    """
    if not members:
        return ()
    fewest, most = -(-len(members) // size), max(1, len(members) // 2)
    groups = min(fewest, most)
    small, larger = divmod(len(members), groups)
    formed, start = [], 0
    for index in range(groups):
        end = start + small + (index < larger)
        formed.append(tuple(members[start:end]))
        start = end
    return tuple(formed)


@dataclass(frozen=True)
class NameList:
    """`names` in the order read; `faults` name the line and what is wrong with it."""

    names: tuple[str, ...]
    faults: tuple[str, ...]


_HEADINGS = {"name", "student", "students", "first name", "last name", "surname", "given name", "family name"}


def read_names(text: str) -> NameList:
    """Names from pasted text: one a line, or CSV with a heading line.

    With columns for first and last name they are joined; otherwise the first column is the name. A name that comes
    twice is a fault, because two students could not be told apart.
    """
    reader = csv.reader(_one_separator(text).splitlines(), skipinitialspace=True)
    rows = [(reader.line_num, [cell.strip() for cell in row]) for row in reader]
    rows = [(number, row) for number, row in rows if any(row)]
    columns = [0]
    if rows and any(cell.lower() in _HEADINGS for cell in rows[0][1]):
        columns = _name_columns([cell.lower() for cell in rows[0][1]])
        rows = rows[1:]
    names: list[str] = []
    faults: list[str] = []
    seen: dict[str, int] = {}
    for number, row in rows:
        name = " ".join(" ".join(row[column] for column in columns if column < len(row)).split())
        if not name:
            faults.append(f"Line {number} has no name.")
        elif len(name) > LONGEST_NAME:
            faults.append(
                f"Line {number} is longer than {LONGEST_NAME} characters; put one name on each line."
            )
        elif name.casefold() in seen:
            faults.append(
                f"“{name}” stands on line {seen[name.casefold()]} and on line {number}; make the two differ."
            )
        else:
            seen[name.casefold()] = number
            names.append(name)
    if len(names) > MOST_NAMES:
        faults.append(f"That is {len(names)} names; a section takes at most {MOST_NAMES}.")
    return NameList(tuple(names), tuple(faults))


def _one_separator(text: str) -> str:
    """Spreadsheets paste tabs and some write semicolons; read both as commas where no comma stands."""
    for separator in ("\t", ";"):
        if separator in text and "," not in text:
            return text.replace(separator, ",")
    return text


def _name_columns(headings: list[str]) -> list[int]:
    for pair in (
        ("first name", "last name"),
        ("given name", "family name"),
        ("given name", "surname"),
        ("first name", "surname"),
    ):
        if all(part in headings for part in pair):
            return [headings.index(part) for part in pair]
    return [next(index for index, heading in enumerate(headings) if heading in _HEADINGS)]
