"""The days of a repeating pickup, and the moment until which each can be requested."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from server.core.moments import instants_of

DAYS_IN_A_WEEK = 7
# Two years of weeks: further ahead no waste office says its days.
MOST_DAYS = 105


@dataclass(frozen=True)
class CutOff:
    """The last moment of a request. `moved` where the clocks skip the time that was meant: then it is so much earlier."""

    at: datetime
    moved: bool


def repeated_days(*, first: date, every_weeks: int, until: date) -> tuple[date, ...]:
    """Return the first day and every so many weeks after it, until a day that still counts; a hundred and five at most.

    >>> [day.day for day in repeated_days(first=date(2027, 2, 19), every_weeks=2, until=date(2027, 3, 19))]
    [19, 5, 19]
    """
    weeks = range(0, (until - first).days // DAYS_IN_A_WEEK + 1, every_weeks)
    return tuple(first + timedelta(weeks=week) for week in weeks[:MOST_DAYS])


def days_before(*, pickup: date, weekday: int) -> int:
    """Return how many days before a pickup the last such weekday lies, Monday being 0; the same weekday is a week before.

    >>> days_before(pickup=date(2027, 2, 19), weekday=2)
    2
    """
    return (pickup.weekday() - weekday - 1) % DAYS_IN_A_WEEK + 1


def cut_off(*, pickup: date, days_before: int, clock: time, zone: str) -> CutOff:
    """Return the instant at which the lab's wall clock shows `clock` so many days before the pickup.

    Of a time that comes twice in autumn the first is meant. A time that the clocks skip in spring is taken on the clock that goes on as
    before, an hour early on most clocks: whoever is early is in time.
    """
    day = pickup - timedelta(days=days_before)
    found = instants_of(day=day, clock=clock, zone=zone)
    if found:
        return CutOff(found[0], moved=False)
    skipped = datetime.combine(day, clock)
    either = (skipped.replace(tzinfo=ZoneInfo(zone), fold=fold).astimezone(UTC) for fold in (0, 1))
    return CutOff(min(either), moved=True)
