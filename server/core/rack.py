"""The numbered slots of a drying rack: R1, R2, …"""

from collections.abc import Iterable


def slot_name(slot: int) -> str:
    return f"R{slot}"


def free_slots(*, slots: int, taken: Iterable[int]) -> tuple[int, ...]:
    """The numbers of the slots without a plate, from the lowest."""
    held = set(taken)
    return tuple(slot for slot in range(1, slots + 1) if slot not in held)


def slots_words(slots: Iterable[int]) -> str:
    """Slots as a person reads them, neighbours together.

    >>> slots_words([3, 1, 2]), slots_words([1, 2, 5])
    ('R1–R3', 'R1, R2, R5')
    """
    spans: list[list[int]] = []
    for slot in sorted(set(slots)):
        if spans and slot == spans[-1][-1] + 1:
            spans[-1].append(slot)
        else:
            spans.append([slot])
    words = []
    for span in spans:
        names = [slot_name(slot) for slot in span]
        words.extend([f"{names[0]}–{names[-1]}"] if len(span) > 2 else names)  # noqa: PLR2004
    return ", ".join(words)
