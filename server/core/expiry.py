"""The date on a pack. Where only a month is printed, which of its days counts is decided by a person, never guessed."""

import calendar
import re
from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class MonthCounts(StrEnum):
    """Until which day of its month a pack counts as good that names a month alone."""

    FIRST_DAY = "first day"
    LAST_DAY = "last day"


@dataclass(frozen=True)
class Printed:
    """What stands on a pack: a day, or a month alone (`day` is None)."""

    year: int
    month: int
    day: int | None


def read_printed(text: str) -> Printed:
    """Read `2027-06-30` or `2027-06`. Raises ValueError with a sentence for a person.

    >>> read_printed("2027-06")
    Printed(year=2027, month=6, day=None)
    """
    message = "Please write a date such as 2027-06-30, or a month such as 2027-06."
    found = re.fullmatch(r"(20|21)([0-9]{2})-([0-9]{2})(?:-([0-9]{2}))?", text.strip())
    if found is None:
        raise ValueError(message)
    century, years, month, day = found.groups()
    printed = Printed(int(century + years), int(month), None if day is None else int(day))
    try:
        date(printed.year, printed.month, printed.day or 1)
    except ValueError:
        raise ValueError(message) from None
    return printed


def last_good_day(printed: Printed, month_counts: MonthCounts | None) -> date | None:
    """The last day on which the pack counts as good; None where only a month is printed and nobody has decided.

    >>> last_good_day(Printed(2028, 2, None), MonthCounts.LAST_DAY)
    datetime.date(2028, 2, 29)
    """
    if printed.day is not None:
        return date(printed.year, printed.month, printed.day)
    if month_counts is None:
        return None
    last = calendar.monthrange(printed.year, printed.month)[1]
    return date(printed.year, printed.month, 1 if month_counts is MonthCounts.FIRST_DAY else last)
