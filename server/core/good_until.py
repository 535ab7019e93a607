"""How long a thing on the shelf is good: the day that stands on its pack, in words and as a state."""

from dataclasses import dataclass
from datetime import date

from server.core.moments import day_words

SOON_DAYS = 30


@dataclass(frozen=True)
class GoodUntil:
    """`kind` is the shape of the state: well, watch, stop, or plain where there is no date."""

    words: str
    kind: str
    state: str


def is_expired(expires_on: date | None, day: date) -> bool:
    """The day that stands on the pack is the last good day."""
    return expires_on is not None and day > expires_on


def runs_out_on(expires_on: date | None) -> date:
    """The day to sort by: what has no date on its pack comes last."""
    return expires_on or date.max


def good_until(expires_on: date | None, day: date) -> GoodUntil:
    """What to say on `day` about a thing that is good until `expires_on`.

    >>> good_until(date(2027, 3, 1), date(2027, 2, 16))
    GoodUntil(words='Mon 1 Mar 2027', kind='watch', state='13 days left')
    """
    if expires_on is None:
        return GoodUntil("no date on the pack", "plain", "no date")
    if is_expired(expires_on, day):
        return GoodUntil(day_words(expires_on), "stop", "expired")
    days = (expires_on - day).days
    if days > SOON_DAYS:
        return GoodUntil(day_words(expires_on), "well", "good")
    left = {0: "last day", 1: "1 day left"}.get(days, f"{days} days left")
    return GoodUntil(day_words(expires_on), "watch", left)


def still_to_come(arrived_on: date, day: date) -> str | None:
    """Why a thing cannot be taken in on `day`, or None when it can."""
    if arrived_on <= day:
        return None
    return f"{day_words(arrived_on)} is still to come. Take it in on the day it arrives."
