"""A container's life: what may follow what, and why the rest may not."""

from itertools import pairwise, product

import pytest

from server.core.container_life import (
    GONE,
    IN_USE,
    MOVES,
    TAKES_MORE,
    ContainerState,
    moves_from,
    why_not,
    why_nothing_leaves,
    why_takes_nothing,
)

STATES = tuple(ContainerState)


def _why_not(
    before: ContainerState, after: ContainerState, *, held_ul: int = 0, reason: str = "because"
) -> str | None:
    return why_not(name="Rinse 1", before=before, after=after, held_ul=held_ul, reason=reason)


def test_every_state_is_either_ordered_in_use_or_gone() -> None:
    assert {ContainerState.ORDERED, *IN_USE, *GONE} == set(STATES)
    assert not set(IN_USE) & set(GONE)


def test_a_whole_life_from_order_to_the_next_filling_is_allowed() -> None:
    life = [
        "ordered", "empty", "open", "closed", "open", "closed", "full", "requested", "collected", "washed", "reusable", "retired",
    ]  # fmt: skip

    for before, after in pairwise(life):
        assert _why_not(ContainerState(before), ContainerState(after)) is None


@pytest.mark.parametrize(("before", "after"), [pair for pair in product(STATES, STATES) if pair not in MOVES])
def test_every_other_move_is_refused_with_what_to_do(before: ContainerState, after: ContainerState) -> None:
    sentence = _why_not(before, after)

    assert sentence is not None
    assert sentence.startswith("“Rinse 1” ")
    assert sentence.endswith(".")


def test_nothing_follows_on_a_retired_container_and_every_state_leads_there() -> None:
    reached = {ContainerState.RETIRED}
    while True:
        more = {before for before, after in MOVES if after in reached} | reached
        if more == reached:
            break
        reached = more

    assert reached == set(STATES)
    assert not [after for before, after in MOVES if before is ContainerState.RETIRED]


def test_what_was_collected_never_takes_waste_again_under_the_same_name() -> None:
    assert not [after for before, after in MOVES if before in GONE and after in IN_USE]


@pytest.mark.parametrize("state", STATES)
def test_a_container_takes_waste_or_says_why_it_does_not(state: ContainerState) -> None:
    sentence = why_takes_nothing(name="Rinse 1", state=state)

    assert (sentence is None) == (state in TAKES_MORE)
    assert sentence is None or "takes nothing. " in sentence


@pytest.mark.parametrize("state", STATES)
def test_what_is_gone_loses_nothing_more_and_what_is_requested_is_not_transferred(
    state: ContainerState,
) -> None:
    leaves = why_nothing_leaves(name="Rinse 1", state=state, is_transfer=False)
    goes_over = why_nothing_leaves(name="Rinse 1", state=state, is_transfer=True)

    assert (leaves is None) == (state in IN_USE)
    assert (goes_over is None) == (state in IN_USE and state is not ContainerState.REQUESTED)


def test_a_full_container_is_reopened_with_a_reason_only() -> None:
    full, closed = ContainerState.FULL, ContainerState.CLOSED

    assert _why_not(full, closed, reason="") == "Please write why: whoever reads this later asks."
    assert _why_not(full, closed, reason="the line was moved") is None


@pytest.mark.parametrize("after", [ContainerState.WASHED, ContainerState.RETIRED])
def test_what_holds_waste_is_neither_washed_nor_retired(after: ContainerState) -> None:
    sentence = _why_not(ContainerState.CLOSED, after, held_ul=1)

    assert sentence is not None
    assert "still holds waste" in sentence
    assert _why_not(ContainerState.CLOSED, after, held_ul=0) is None


def test_a_collected_container_is_not_called_collected_by_hand() -> None:
    by_hand = {after for state in STATES for after, _move in moves_from(state)}

    assert not by_hand & {ContainerState.COLLECTED, ContainerState.REQUESTED, ContainerState.ORDERED}
