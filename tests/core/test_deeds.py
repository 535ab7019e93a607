"""Who did what, and whether notes came in time."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from server.core.deeds import Held, NoteTime, OnTime, duties_done, held_by, never_held, note_time
from server.core.roles import Members, Role, share_roles

SHUT = datetime(2027, 2, 16, 9, 14, tzinfo=UTC)
PAIR = share_roles([Members("G1", ("a", "b"), (1, 2)), Members("G2", ("c", "d"), (1, 2))]).duties


def test_a_plate_that_was_planned_and_never_made_gave_nobody_a_role() -> None:
    done = duties_done(PAIR, {"G1": 1, "G2": 2})

    assert [(one.group, one.pass_no) for one in done] == [("G1", 1), ("G2", 1), ("G2", 2)]
    assert held_by("a", done) == (Held(1, (Role.LOADER, Role.PROCESSOR)),)
    assert never_held(held_by("a", done)) == (Role.SHUTTER,)
    assert never_held(held_by("c", done)) == ()


def test_whoever_held_nothing_misses_loading_exposing_and_processing() -> None:
    assert never_held(held_by("a", duties_done(PAIR, {}))) == (Role.LOADER, Role.SHUTTER, Role.PROCESSOR)


@given(st.dictionaries(st.sampled_from(["G1", "G2", "G3"]), st.integers(0, 5)))
def test_no_more_plates_count_than_were_made_or_planned(made: dict[str, int]) -> None:
    done = duties_done(PAIR, made)

    for group in ("G1", "G2"):
        assert sum(one.group == group for one in done) == min(2, made.get(group, 0))


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
