"""Whether what stands on the shelf lasts for the classes ahead, and when to order what is missing.

Amounts are whole numbers of one unit, plates or microlitres. What expires first is used first. Then the shelf is a line of lots in the
order of their last days: each use takes the next piece of it, and what has expired by the day of a use is skipped. How far along the line
a day ends is what has gone by then, used or spoiled; the shelf holds the day when it reaches that far.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True)
class Lot:
    """So much on the shelf; `last_day` is the last one on which it may be used, none where it has no end."""

    amount: int
    last_day: date | None = None


@dataclass(frozen=True)
class Delivery:
    """So much that is on its way. It counts from the day after `day`, because nobody knows the hour at which it comes."""

    day: date
    amount: int


@dataclass(frozen=True)
class Use:
    """So much that one day takes."""

    day: date
    amount: int


@dataclass(frozen=True)
class Need:
    """What must have been on the shelf by the end of `day`.

    `planned` is what the plans take, `spoiled` what expires before its turn when all goes by the plans, and `needed` both together with
    whatever is kept in reserve.
    """

    day: date
    planned: int
    spoiled: int
    needed: int

    @property
    def reserve(self) -> int:
        return self.needed - self.planned - self.spoiled


@dataclass(frozen=True)
class Standing:
    """The shelf at the end of `day`: `needed` must have been there since the start, `held` was there or came in time."""

    day: date
    needed: int
    held: int

    @property
    def left(self) -> int:
        return max(0, self.held - self.needed)

    @property
    def short(self) -> int:
        return max(0, self.needed - self.held)


@dataclass(frozen=True)
class Order:
    """What to order. `packs` of `pack` hold the `missing`; ordered by `order_by` they arrive on the day before `first_short` at the latest.

    `arrives_on` is when they come if ordered today, and `short_until_then` what is missing up to that day all the same.
    """

    first_short: date
    missing: int
    pack: int
    packs: int
    order_by: date
    arrives_on: date
    short_until_then: int

    @property
    def is_too_late(self) -> bool:
        return self.short_until_then > 0


def expired_before(lots: Sequence[Lot], day: date) -> int:
    """How much of the lots may not be used on `day` any more."""
    return sum(lot.amount for lot in lots if lot.last_day is not None and lot.last_day < day)


def needs_by_day(lots: Sequence[Lot], uses: Sequence[Use]) -> tuple[Need, ...]:
    """What must have been on the shelf by the end of each day of the uses, which stand in the order of their days; nothing is in reserve.

    Beyond the end of the shelf the uses go on as if it had no end, so that what is missing can be read off.

    >>> shelf = [Lot(20, date(2027, 3, 31)), Lot(30)]
    >>> [need.needed for need in needs_by_day(shelf, [Use(date(2027, 3, 30), 12), Use(date(2027, 4, 14), 12)])]
    [12, 32]
    """
    found, needed, planned = [], 0, 0
    for use in uses:
        # A day that takes nothing lets nothing spoil: what nobody wants is not missed.
        if use.amount:
            needed = max(needed, expired_before(lots, use.day)) + use.amount
        planned += use.amount
        found.append(Need(use.day, planned, needed - planned, needed))
    return tuple(found)


def standings(
    needs: Sequence[Need], *, lots: Sequence[Lot], deliveries: Sequence[Delivery] = ()
) -> tuple[Standing, ...]:
    """The shelf at the end of each day of the needs."""
    there = sum(lot.amount for lot in lots)
    return tuple(
        Standing(need.day, need.needed, there + sum(one.amount for one in deliveries if one.day < need.day))
        for need in needs
    )


def order(days: Sequence[Standing], *, pack: int, lead_days: int, today: date) -> Order | None:
    """What to order so that every day holds, in packs of `pack`, and the latest day for it; None where every day holds already.

    `lead_days` are calendar days from the order to its arrival. What is ordered is taken to keep until the last of the days.
    """
    first_short = next((one.day for one in days if one.short), None)
    if first_short is None:
        return None
    missing = max(one.short for one in days)
    arrives_on = today + timedelta(days=lead_days)
    return Order(
        first_short=first_short,
        missing=missing,
        pack=pack,
        packs=-(-missing // pack),
        order_by=first_short - timedelta(days=lead_days + 1),
        arrives_on=arrives_on,
        short_until_then=max((one.short for one in days if one.day <= arrives_on), default=0),
    )


def days_of_classes(first: date, last: date, every_days: int) -> tuple[date, ...]:
    """The days on which a class meets that comes again every so many days, from its first day to its last at most.

    >>> [day.isoformat() for day in days_of_classes(date(2027, 3, 2), date(2027, 3, 20), 7)]
    ['2027-03-02', '2027-03-09', '2027-03-16']
    """
    return tuple(first + timedelta(days=days) for days in range(0, (last - first).days + 1, every_days))
