"""The prep sheet's arithmetic."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from server.core.prep_sheet import BoxOnShelf, BoxPick, pick_plates


def test_plates_come_from_the_box_that_expires_first() -> None:
    boxes = [
        BoxOnShelf(1, 30, None),
        BoxOnShelf(2, 9, date(2027, 3, 31)),
        BoxOnShelf(3, 5, date(2027, 2, 28)),
    ]

    picked = pick_plates(boxes, plates=20, day=date(2027, 2, 16))

    assert picked.picks == (BoxPick(3, 5), BoxPick(2, 9), BoxPick(1, 6))
    assert picked.short == 0


def test_a_box_past_its_day_is_not_counted_for_the_class() -> None:
    """House example: the box expires on 31 March and the class is on 14 April."""
    picked = pick_plates([BoxOnShelf(1, 30, date(2027, 3, 31))], plates=12, day=date(2027, 4, 14))

    assert (picked.picks, picked.short, picked.expired) == ((), 12, 30)
    assert pick_plates([BoxOnShelf(1, 30, date(2027, 3, 31))], plates=12, day=date(2027, 3, 31)).short == 0


@given(
    st.lists(
        st.tuples(st.integers(0, 40), st.none() | st.dates(date(2027, 1, 1), date(2027, 4, 1))), max_size=5
    ),
    st.integers(0, 90),
)
def test_plates_picked_and_short_are_the_plates_wanted(
    shelf: list[tuple[int, date | None]], plates: int
) -> None:
    boxes = [BoxOnShelf(number, held, expires) for number, (held, expires) in enumerate(shelf)]

    picked = pick_plates(boxes, plates=plates, day=date(2027, 2, 16))

    assert sum(pick.plates for pick in picked.picks) + picked.short == plates
    assert all(0 < pick.plates <= boxes[pick.box_id].plates for pick in picked.picks)
