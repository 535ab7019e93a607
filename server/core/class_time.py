"""A class's time: its periods without their breaks, of which the talk takes the first part and the clean-up each day's last."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from server.core.moments import day_at


@dataclass(frozen=True)
class Stretch:
    """A stretch of time between two instants."""

    starts_at: datetime
    ends_at: datetime

    @property
    def length(self) -> timedelta:
        return self.ends_at - self.starts_at


@dataclass(frozen=True)
class ClassTime:
    """What the class's time goes to, each in the order of time. Plates are made in `plates` only."""

    talk: tuple[Stretch, ...]
    plates: tuple[Stretch, ...]
    clean_up: tuple[Stretch, ...]


def divide_class_time(
    *, periods: Sequence[Stretch], breaks: Sequence[Stretch], talk_s: int, clean_up_s: int, zone: str
) -> ClassTime:
    """Take the breaks out of the periods, the talk (seconds) off the first day's start and the clean-up off each day's end.

    `periods` are in order and without overlap; a day is that of the lab's wall clock (`zone`) on which a period starts. A talk that
    reaches a break goes on after it, a clean-up begins before it; neither goes over to another day.
    """
    talk: tuple[Stretch, ...] = ()
    plates: tuple[Stretch, ...] = ()
    clean_up: tuple[Stretch, ...] = ()
    days = groupby(periods, key=lambda period: day_at(period.starts_at, zone))
    for number, (_day, of_day) in enumerate(days):
        open_time = _without(of_day, breaks)
        if number == 0:
            talk, open_time = _taken_first(open_time, timedelta(seconds=talk_s))
        cleaned, open_time = _taken_last(open_time, timedelta(seconds=clean_up_s))
        plates, clean_up = plates + open_time, clean_up + cleaned
    return ClassTime(talk, plates, clean_up)


def _without(periods: Iterable[Stretch], breaks: Sequence[Stretch]) -> tuple[Stretch, ...]:
    pieces = []
    for period in periods:
        begins = period.starts_at
        inside = [one for one in breaks if one.starts_at < period.ends_at and period.starts_at < one.ends_at]
        for one in sorted(inside, key=lambda one: one.starts_at):
            pieces.append(Stretch(begins, one.starts_at))
            begins = max(begins, one.ends_at)
        pieces.append(Stretch(begins, period.ends_at))
    return tuple(piece for piece in pieces if piece.ends_at > piece.starts_at)


Split = tuple[tuple[Stretch, ...], tuple[Stretch, ...]]


def _taken_first(pieces: Sequence[Stretch], length: timedelta) -> Split:
    """The first `length` of the pieces, and the rest of them."""
    taken, left = [], []
    for piece in pieces:
        cut = min(piece.ends_at, piece.starts_at + length)
        taken.append(Stretch(piece.starts_at, cut))
        left.append(Stretch(cut, piece.ends_at))
        length -= cut - piece.starts_at
    return _filled(taken), _filled(left)


def _taken_last(pieces: Sequence[Stretch], length: timedelta) -> Split:
    """The last `length` of the pieces, and the rest of them."""
    before = sum((piece.length for piece in pieces), timedelta()) - length
    left, taken = _taken_first(pieces, max(timedelta(), before))
    return taken, left


def _filled(pieces: Iterable[Stretch]) -> tuple[Stretch, ...]:
    return tuple(piece for piece in pieces if piece.length)
