"""Who did what, and whether notes came in time."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from server.core.deeds import (
    Held,
    NoteTime,
    OnTime,
    held_by,
    never_held,
    note_time,
    plates_noted,
    with_recorder,
)
from server.core.roles import Members, Role, share_roles

SHUT = datetime(2027, 2, 16, 9, 14, tzinfo=UTC)
PAIR = share_roles([Members("G1", ("a", "b"), (1, 2)), Members("G2", ("c", "d"), (1, 2))]).duties


def test_whoever_held_two_of_three_has_the_third_to_make_up() -> None:
    held = held_by("a", [one for one in PAIR if one.pass_no == 1])

    assert held == (Held(1, (Role.LOADER, Role.PROCESSOR)),)
    assert never_held(held) == (Role.SHUTTER,)
    assert never_held(held_by("a", PAIR)) == ()
    assert never_held(()) == (Role.LOADER, Role.SHUTTER, Role.PROCESSOR)


def test_whoever_filed_the_note_was_the_recorder() -> None:
    first = PAIR[0]
    assert first.holder(Role.RECORDER) == "b"

    changed = with_recorder(first, "a")
    assert (changed.holder(Role.RECORDER), changed.holder(Role.LOADER)) == ("a", "a")
    assert len(changed.holders) == len(first.holders)


def test_two_notes_of_one_plate_are_of_two() -> None:
    assert plates_noted([1, 1, None, 4]) == (1, 2, 3, 4)
    assert plates_noted([None, 1]) == (2, 1)


@given(st.lists(st.none() | st.integers(1, 9), max_size=8))
def test_each_run_is_of_a_plate_of_its_own_and_of_the_one_it_names_first(numbers: list[int | None]) -> None:
    found = plates_noted(numbers)

    assert len(set(found)) == len(found) == len(numbers)
    for index, number in enumerate(numbers):
        if number is not None and number not in numbers[:index]:
            assert number not in found[:index] or found[index] == number


def test_a_note_counts_by_when_it_was_written() -> None:
    """Written 10 minutes after the shutter closed, heard of an hour later: only the ten minutes count."""
    assert note_time(
        written_at=SHUT + timedelta(minutes=10), exposed_at=SHUT, within_s=1800
    ) == NoteTime(OnTime.YES, 600)  # fmt: skip


def test_a_note_is_late_from_the_first_second_beyond_its_time() -> None:
    for seconds, judged in ((1800, OnTime.YES), (1801, OnTime.LATE)):
        found = note_time(written_at=SHUT + timedelta(seconds=seconds), exposed_at=SHUT, within_s=1800)
        assert found.judged is judged


def test_a_note_written_while_the_shutter_was_planned_to_be_open_is_in_time() -> None:
    found = note_time(written_at=SHUT - timedelta(minutes=3), exposed_at=SHUT, within_s=60)

    assert found == NoteTime(OnTime.YES, 0)


def test_where_nobody_knows_the_exposure_a_note_is_not_judged() -> None:
    assert note_time(written_at=SHUT, exposed_at=None, within_s=60).judged is OnTime.UNKNOWN
