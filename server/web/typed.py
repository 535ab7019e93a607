"""What is typed in every room: text, days and times on the lab's wall clock."""

import re
import unicodedata
from datetime import date, time
from typing import Annotated
from urllib.parse import urlsplit

from pydantic import AfterValidator, BeforeValidator, Field

from server.core.units import volume_ul

# A lab writes down no day outside these, and the calendar's own ends have no neighbours to count with.
FIRST_DAY, LAST_DAY = date(2000, 1, 1), date(2199, 12, 31)

# Signs that turn the direction of what stands beside them, so that a label could read as something else, and signs
# without width, so that two names could look the same.
_UNSEEN = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200b\u2060\ufeff")


def _one_line(text: str) -> str:
    """Text that a label can show. Joiners inside words and names are kept; signs that nobody sees as text are not."""
    if any(sign in _UNSEEN or unicodedata.category(sign) in {"Cc", "Cs", "Zl", "Zp"} for sign in text):
        message = "There is a sign in it that can't be printed. Please type it anew."
        raise ValueError(message)
    return text


def _each_line(text: str) -> str:
    return "\n".join(_one_line(line) for line in text.splitlines())


def _day(text: str) -> date:
    """A day as `2027-02-16`. A bare number is none: it would be read as seconds since 1970."""
    message = "Please write a date such as 2027-02-16."
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text) is None:
        raise ValueError(message)
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise ValueError(message) from None
    if not FIRST_DAY <= day <= LAST_DAY:
        message = "Please write a day between the years 2000 and 2199."
        raise ValueError(message)
    return day


def _wall_clock(text: str) -> time:
    """`09:40`, `9:40`, `9.40` and `0940` are all twenty to ten; gloves leave out signs."""
    match = re.fullmatch(r"([0-9]{1,2})[:.]?([0-9]{2})", text)
    hour, minute = (int(part) for part in match.groups()) if match else (24, 0)
    if hour > 23 or minute > 59:  # noqa: PLR2004 - a clock's own bounds
        message = "Please write a time such as 09:40."
        raise ValueError(message)
    return time(hour, minute)


def _something(volume: int) -> int:
    if volume <= 0:
        message = "Please write more than nothing, such as 250 mL."
        raise ValueError(message)
    return volume


def _web_address(text: str) -> str:
    """An address on the web. Anything else behind a link could run in the page that shows it."""
    message = "Please write an address that begins with https:// or http://."
    if any(sign.isspace() for sign in text):
        raise ValueError(message)
    try:
        parts = urlsplit(text)
    except ValueError:
        raise ValueError(message) from None
    if parts.scheme not in {"http", "https"} or not parts.hostname:
        raise ValueError(message)
    return text


Line = Annotated[str, AfterValidator(_one_line)]
Lines = Annotated[str, AfterValidator(_each_line)]
WebAddress = Annotated[str, Field(max_length=500), AfterValidator(_one_line), AfterValidator(_web_address)]
Day = Annotated[date, BeforeValidator(_day)]
WallClock = Annotated[time, BeforeValidator(_wall_clock)]
# A blank that is stripped away names and explains nothing.
Name = Annotated[Line, Field(min_length=1, max_length=60)]
Note = Annotated[Line, Field(max_length=200)]
Reason = Annotated[Note, Field(min_length=1)]
Volume = Annotated[int, BeforeValidator(volume_ul)]
SomeVolume = Annotated[Volume, AfterValidator(_something)]
