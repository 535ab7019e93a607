"""What a collector takes of what waits."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from server.core.pickup_load import Load, share_of_pickup

LITRE = 1_000_000
BEGUN = datetime(2027, 2, 1, tzinfo=UTC)


def _load(name: str, litres: int, day: int | None) -> Load:
    return Load(name, litres * LITRE, None if day is None else BEGUN + timedelta(days=day))


def test_without_a_most_everything_goes() -> None:
    share = share_of_pickup([_load("Rinse 1", 18, 3)], most_ul=None, most_containers=None)

    assert (len(share.goes), share.stays) == (1, ())


def test_the_oldest_go_first_and_nothing_goes_in_the_place_of_one_that_does_not_fit() -> None:
    """40 L at most, 12 L of them another course's: 10 + 17 fit, 5 + 3 would not, and the 3 L wait their turn."""
    waiting = [_load("C", 5, 9), _load("A", 10, 1), _load("D", 1, 12), _load("B", 17, 4)]
    share = share_of_pickup(waiting, most_ul=40 * LITRE, most_containers=None, others_ul=12 * LITRE)

    assert [load.name for load in share.goes] == ["A", "B"]
    assert [load.name for load in share.stays] == ["C", "D"]
    assert (share.goes_ul, share.others_ul) == (27 * LITRE, 12 * LITRE)


def test_so_many_containers_go_and_those_not_begun_are_the_last() -> None:
    waiting = [_load("empty", 0, None), _load("B", 2, 2), _load("A", 2, 1)]
    share = share_of_pickup(waiting, most_ul=None, most_containers=2)

    assert [load.name for load in share.goes] == ["A", "B"]


def test_others_can_take_all_the_room() -> None:
    share = share_of_pickup([_load("A", 1, 1)], most_ul=5 * LITRE, most_containers=None, others_ul=9 * LITRE)

    assert share.goes == ()


@given(
    volumes=st.lists(st.integers(1, 30), max_size=8),
    most=st.integers(1, 60),
    containers=st.integers(1, 8),
    others=st.integers(0, 60),
)
def test_what_goes_is_within_the_most_and_the_next_one_is_not(
    volumes: list[int], most: int, containers: int, others: int
) -> None:
    waiting = [_load(f"{day}", litres, day) for day, litres in enumerate(volumes)]
    share = share_of_pickup(
        waiting, most_ul=most * LITRE, most_containers=containers, others_ul=others * LITRE
    )

    assert (*share.goes, *share.stays) == tuple(waiting)
    assert share.goes_ul <= max(0, most - others) * LITRE
    assert len(share.goes) <= containers
    if share.stays:
        one_more = share.goes_ul + share.stays[0].volume_ul
        assert one_more > max(0, most - others) * LITRE or len(share.goes) == containers
