"""Slots of a drying rack."""

from hypothesis import given
from hypothesis import strategies as st

from server.core.rack import Slot, free_slots, slot_name, slots_words


@given(st.integers(0, 60), st.sets(st.integers(1, 80)))
def test_a_slot_is_free_or_taken_and_never_both(slots: int, taken: set[int]) -> None:
    free = free_slots(slots=slots, taken=taken)

    assert not set(free) & taken
    assert set(free) | (taken & set(range(1, slots + 1))) == set(range(1, slots + 1))
    assert list(free) == sorted(free)


def _words(*numbers: int) -> str:
    return slots_words(Slot(number) for number in numbers)


def test_three_neighbours_are_told_as_a_span_and_two_by_name() -> None:
    assert _words(1, 2, 3) == "R1–R3"
    assert _words(4, 5, 9) == "R4, R5, R9"
    assert _words() == ""
    assert slot_name(12) == Slot(12).words == "R12"


def test_slots_of_several_racks_are_told_rack_by_rack() -> None:
    assert Slot(1, "shelf").words == "R1 of shelf"
    assert slots_words([Slot(1, "shelf"), Slot(1, "door"), Slot(2, "shelf"), Slot(3, "shelf")]) == (
        "R1 of door; R1–R3 of shelf"
    )
