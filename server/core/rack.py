"""The numbered slots of a drying rack: R1, R2, …"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass


def slot_name(slot: int) -> str:
    return f"R{slot}"


def free_slots(*, slots: int, taken: Iterable[int]) -> tuple[int, ...]:
    """The numbers of the slots without a plate, from the lowest."""
    held = set(taken)
    return tuple(slot for slot in range(1, slots + 1) if slot not in held)


@dataclass(frozen=True)
class Slot:
    """A slot by its number; `rack` is the rack's name where there are several, empty where there is one."""

    number: int
    rack: str = ""

    @property
    def words(self) -> str:
        return slots_words([self])


def slots_words(slots: Iterable[Slot]) -> str:
    """Slots as a person reads them, neighbours together, rack by rack.

    >>> slots_words([Slot(3), Slot(1), Slot(2)]), slots_words([Slot(1, "door rack"), Slot(1, "shelf"), Slot(2, "shelf")])
    ('R1–R3', 'R1 of door rack; R1, R2 of shelf')
    """
    racks = defaultdict(set)
    for slot in slots:
        racks[slot.rack].add(slot.number)
    return "; ".join(
        f"{_spans(racks[rack])} of {rack}" if rack else _spans(racks[rack]) for rack in sorted(racks)
    )


def _spans(numbers: Iterable[int]) -> str:
    spans: list[list[int]] = []
    for number in sorted(numbers):
        if spans and number == spans[-1][-1] + 1:
            spans[-1].append(number)
        else:
            spans.append([number])
    words = []
    for span in spans:
        names = [slot_name(number) for number in span]
        words.extend([f"{names[0]}–{names[-1]}"] if len(span) > 2 else names)  # noqa: PLR2004
    return ", ".join(words)
