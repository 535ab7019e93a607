"""A ledger as people read it, and the entry that was sent twice."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Protocol

from server.core.moments import moment_words
from server.core.units import volume_words

A_MOMENT = timedelta(minutes=1)


class Entry(Protocol):
    """An entry of a ledger, whatever it is a ledger of."""

    note: str
    entered_at: datetime
    entered_by: str


class VolumeEntry(Entry, Protocol):
    """An entry of a ledger of volumes."""

    change_ul: int


@dataclass(frozen=True)
class LedgerLine:
    when: str
    what: str
    change: str
    balance: str
    note: str
    by: str


def _signed(change: int, words: Callable[[int], str]) -> str:
    return f"+{words(change)}" if change > 0 else words(change).replace("-", "−")


def ledger_lines(
    entries: Iterable[tuple[Entry, int, str]], zone: str, words: Callable[[int], str]
) -> tuple[Sequence[LedgerLine], int]:
    """The lines of a ledger and its total. Each entry comes with its change and what happened; `words` tells an amount."""
    lines, total = [], 0
    for entry, change, what in entries:
        total += change
        lines.append(
            LedgerLine(
                moment_words(entry.entered_at, zone),
                what,
                _signed(change, words),
                words(total),
                entry.note,
                entry.entered_by,
            )
        )
    return lines, total


def volume_ledger(entries: Iterable[tuple[VolumeEntry, str]], zone: str) -> tuple[Sequence[LedgerLine], int]:
    """The lines of a ledger of volumes, each entry with its words, and the total in microlitres."""
    return ledger_lines(((entry, entry.change_ul, what) for entry, what in entries), zone, volume_words)


def sent_twice(
    *, latest: tuple[str, int, str, datetime] | None, kind: str, change: int, note: str, now: datetime
) -> str | None:
    """Why an entry is asked back, or None. A button that was pressed twice must not take twice.

    `latest` is the kind, the change, the note and the instant of the newest entry of the ledger.
    """
    if latest is None or latest[:3] != (kind, change, note) or now - latest[3] > A_MOMENT:
        return None
    return (
        "The same was entered a moment ago. Look at the ledger; if it happened once more, "
        "write a note that tells the two apart."
    )
