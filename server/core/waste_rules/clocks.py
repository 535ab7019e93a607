"""By which day waste must be gone: calendar days and months from the day that starts a clock, which is day 0.

A clock that has not started, or whose set names no number, has no due day. Days are the lab's own; the caller turns instants into them.
"""

from calendar import monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from server.core.moments import day_words
from server.core.waste_rules.finding import Finding, Given, Verdict
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import RuleBook, RuleInForce

_MONTHS_IN_A_YEAR = 12


@dataclass(frozen=True)
class Clock(Finding):
    """A clock. `due` is the last day on which it is kept, None where none runs."""

    due: date | None

    def days_left(self, today: date) -> int | None:
        """Days until it is due; less than nothing where it is past."""
        return None if self.due is None else (self.due - today).days


def months_after(day: date, months: int) -> date:
    """The same day of the month so many months later, or the month's last where it has no such day: earlier is the careful side.

    >>> months_after(date(2024, 2, 29), 12)
    datetime.date(2025, 2, 28)
    """
    count = day.month - 1 + months
    year, month = day.year + count // _MONTHS_IN_A_YEAR, count % _MONTHS_IN_A_YEAR + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


@dataclass(frozen=True)
class Change:
    """What came into a total, or left it, on a day."""

    day: date
    amount: int


def crossed_on(*, total: int, latest_first: Iterable[Change], limit: Decimal) -> date | None:
    """The day on which a total that is over its limit went over it last; None where it is not over, or nothing says since when.

    `latest_first` are the changes that made the total, each day's in one, from the latest back; no more are looked at than is needed.

    >>> crossed_on(total=60, latest_first=[Change(date(2026, 3, 3), 5), Change(date(2026, 3, 2), 20)], limit=Decimal(55))
    datetime.date(2026, 3, 2)
    """
    if total <= limit:
        return None
    for change in latest_first:
        total -= change.amount
        if total <= limit:
            return change.day
    return None


def area_clock(book: RuleBook, *, exceeded_on: date | None) -> Clock:
    """By when what is over the most of a satellite area leaves; not running until the area is over it."""
    return _days(
        book.find(Key.AREA_DAYS),
        "what is over this area's most leaves",
        "area over its most",
        exceeded_on,
        waiting="The area is not over its most, so no clock runs; the first drop starts none.",
    )


def laboratory_clock(book: RuleBook, *, exceeded_on: date | None, next_removal: date | None) -> Clock:
    """By when a laboratory over its most is cleared: in so many days or at the next booked removal, whichever comes first.

    `next_removal` before the laboratory was over its most is none.
    """
    title, started = "this laboratory is cleared", "laboratory over its most"
    clock = _days(
        book.find(Key.LABORATORY_DAYS),
        title,
        started,
        exceeded_on,
        waiting="The laboratory is not over its most, so no clock runs.",
    )
    if clock.due is None or exceeded_on is None:
        return clock
    booked = next_removal if next_removal is not None and next_removal >= exceeded_on else None
    due = clock.due if booked is None else min(clock.due, booked)
    given = (*clock.given, Given("next removal", day_words(booked) if booked else "none booked"))
    says = f"By {day_words(due)}: {title}, " + (
        "at the removal that is booked, which comes first."
        if due == booked
        else "and mark every container with the day it was over."
    )
    formula = f"earlier of: {clock.formula}; next removal"
    return Clock(clock.title, clock.verdict, says, clock.rules, given, formula, due)


def central_clock(book: RuleBook, *, arrived_on: date | None, is_far: bool = False) -> Clock:
    """By when waste leaves a central area, from the day on which it arrived there."""
    return _days(
        _near_or_far(book, Key.CENTRAL_DAYS, Key.CENTRAL_DAYS_FAR, is_far=is_far),
        "it leaves the central area",
        "arrived in the central area",
        arrived_on,
        waiting="It is in no central area, so no clock of one runs.",
    )


def site_clock(book: RuleBook, *, exceeded_on: date | None, is_far: bool = False) -> Clock:
    """By when all waste leaves a very small generator's site, from the day on which it reached the limit."""
    return _days(
        _near_or_far(book, Key.SITE_DAYS, Key.SITE_DAYS_FAR, is_far=is_far),
        "all waste leaves the site",
        "the site reached its limit",
        exceeded_on,
        waiting="The site has not reached the limit from which its clock runs.",
    )


def determination_clock(book: RuleBook, *, arrived_on: date | None) -> Clock:
    """By when waste is determined in a central area, from the day on which it arrived there."""
    return _days(
        book.find(Key.DETERMINATION_DAYS),
        "what it is is determined",
        "arrived in the central area",
        arrived_on,
        waiting="It is in no central area.",
    )


def full_clock(book: RuleBook, *, full_on: date | None) -> Clock:
    """By when a full container leaves, from the day on which it was full."""
    return _days(
        book.find(Key.FULL_DAYS), "a full container leaves", "full", full_on, waiting="It is not full."
    )


def removal_clock(book: RuleBook, *, started_on: date | None) -> Clock:
    """By when a container leaves the laboratory, from its first drop: in so many months or days, whichever comes first."""
    months, days = book.find(Key.REMOVAL_MONTHS), book.find(Key.REMOVAL_DAYS)
    title, waiting = "this container leaves the laboratory", "Nothing is in it yet."
    by_days = _days(days, title, "first drop", started_on, waiting=waiting)
    if months.amount is None or started_on is None:
        return by_days if months.amount is None else _not_running(months, title, "first drop", waiting)
    due = months_after(started_on, int(months.amount.number))
    formula = f"first drop + {months.words}, the month's last day where it has no such day"
    given = (Given("first drop", day_words(started_on)),)
    if by_days.due is not None and by_days.due < due:
        return by_days
    return Clock(title, Verdict.RUNS, f"By {day_words(due)}: {title}.", (months,), given, formula, due)


def _near_or_far(book: RuleBook, near: Key, far: Key, *, is_far: bool) -> RuleInForce:
    rule = book.find(far)
    return rule if is_far and rule.amount is not None else book.find(near)


def _not_running(rule: RuleInForce, title: str, started: str, waiting: str) -> Clock:
    given = (Given(started, "not yet"),)
    return Clock(title, Verdict.WAITS, waiting, (rule,), given, f"{started} + {rule.words}", None)


def _days(rule: RuleInForce, title: str, started: str, on: date | None, *, waiting: str) -> Clock:
    if rule.amount is None:
        given = (Given(started, day_words(on) if on else "not yet"),)
        return Clock(title, Verdict.NO_NUMBER, rule.says, (rule,), given, "none in this set", None)
    if on is None:
        return _not_running(rule, title, started, waiting)
    due = on + timedelta(days=int(rule.amount.number))
    return Clock(
        title,
        Verdict.RUNS,
        f"By {day_words(due)}: {title}.",
        (rule,),
        (Given(started, day_words(on)),),
        f"{started} + {rule.words}, counted as calendar days",
        due,
    )
