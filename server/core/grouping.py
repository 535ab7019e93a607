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


_GIVEN = ("first name", "given name", "forename")
_FAMILY = ("last name", "family name", "surname")
_WHOLE = ("name", "full name", "student", "students", "student name")


def read_names(text: str) -> NameList:
    """Names from pasted text: one a line, or CSV with a heading line.

    With columns for first and last name they are joined. Several columns without a heading line are a fault, because
    `Quist, Ada` may be one name or two. A name that comes twice is a fault, because two students could not be told apart.
    """
    rows, faults = _rows(text)
    columns = _name_columns([cell.casefold() for cell in rows[0][1]]) if rows else []
    if not columns:
        faults.extend(_several_columns(rows))
    names: list[str] = []
    seen: dict[str, int] = {}
    for number, row in rows[1:] if columns else rows:
        name = " ".join(" ".join(row[column] for column in columns or [0] if column < len(row)).split())
        fault = _fault(name, number, seen.get(name.casefold()))
        if fault:
            faults.append(fault)
        else:
            seen[name.casefold()] = number
            names.append(name)
    if len(names) > MOST_NAMES:
        faults.append(f"That is {len(names)} names; a section takes at most {MOST_NAMES}.")
    if not names and not faults:
        faults.append("There is no name in this list.")
    return NameList(tuple(names), tuple(faults))


def _rows(text: str) -> tuple[list[tuple[int, list[str]]], list[str]]:
    """The numbered lines as cells, without empty ones, and the faults of lines that can't be read."""
    rows, faults, before = [], [], 0
    # A file saved by a spreadsheet may begin with a mark that is no letter.
    lines = text.removeprefix("\N{ZERO WIDTH NO-BREAK SPACE}").splitlines()
    reader = csv.reader(lines, delimiter=_separator(lines), skipinitialspace=True)
    for row in reader:
        cells = [cell.strip() for cell in row]
        if reader.line_num > before + 1:
            faults.append(f"Line {before + 1} opens a quotation mark that is not closed on the same line.")
        elif any(cells):
            rows.append((reader.line_num, cells))
        before = reader.line_num
    return rows, faults


def _several_columns(rows: Sequence[tuple[int, Sequence[str]]]) -> list[str]:
    number = next((number for number, row in rows if sum(map(bool, row)) > 1), None)
    if number is None:
        return []
    heading = "a heading line above the list, such as “Name, Number” or “Last name, First name”"
    return [f"Line {number} has several columns. Write {heading}."]


def _fault(name: str, number: int, earlier: int | None) -> str:
    """What is wrong with the name on this line, or nothing; `earlier` is the line on which it stands already."""
    if not name:
        return f"Line {number} has no name."
    if len(name) > LONGEST_NAME:
        return f"Line {number} is longer than {LONGEST_NAME} characters; put one name on each line."
    if not name.isprintable():
        return f"Line {number} has a character in it that can't be printed; type the name anew."
    if earlier is not None:
        return f"“{name}” stands on line {earlier} and on line {number}; make the two differ."
    return ""


def _separator(lines: Sequence[str]) -> str:
    """What stands between columns, by the first line: spreadsheets paste tabs, and some write semicolons."""
    heading = next((line for line in lines if line.strip()), "")
    return next((separator for separator in ("\t", ";") if separator in heading), ",")


def _name_columns(headings: list[str]) -> list[int]:
    """The columns that make a name, in order; none where the line is no heading line."""
    given, family, whole = (
        next((index for index, heading in enumerate(headings) if heading in words), None)
        for words in (_GIVEN, _FAMILY, _WHOLE)
    )
    first = whole if given is None and family is not None else given
    found = [column for column in (first, family) if column is not None]
    return found if len(found) > 1 or whole is None else [whole]
