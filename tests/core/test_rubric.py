"""What marks come to."""

from fractions import Fraction
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.rubric import (
    Criterion,
    Level,
    Total,
    percent_words,
    points_fault,
    rubric_faults,
    total,
)


def _criterion(name: str, weight: int, *points: int) -> Criterion:
    return Criterion(name, Fraction(weight), tuple(Level(Fraction(each)) for each in points))


# Grading weight of the holography experiment at Berkeley's advanced laboratory: 30 % theory, 60 % technique, 10 % analysis.
LAB = [_criterion("theory", 30, 0, 1, 2, 3, 4), _criterion("technique", 60, 0, 1, 2), _criterion("analysis", 10, 0, 5)]  # fmt: skip


def test_a_worked_example_comes_to_what_a_pocket_calculator_says() -> None:
    """30 × 3/4 + 60 × 1/2 + 10 × 5/5 = 22.5 + 30 + 10 = 62.5 of 100."""
    found = total(LAB, {0: Fraction(3), 1: Fraction(1), 2: Fraction(5)})

    assert found == Total(3, 3, Fraction("62.5"), Fraction(100), Fraction(100))
    assert percent_words(found.share) == "62.5"


def test_what_is_not_marked_yet_is_not_a_nought() -> None:
    found = total(LAB, {0: Fraction(3)})

    assert (found.marked, found.criteria, found.share) == (1, 3, None)
    assert (found.earned, found.possible) == (Fraction("22.5"), Fraction(30))
    assert percent_words(found.share) == ""


def test_a_nought_that_was_given_counts() -> None:
    found = total(LAB, {0: Fraction(0), 1: Fraction(2), 2: Fraction(5)})

    assert found.share == Fraction(7, 10)


def test_weights_need_not_come_to_a_hundred() -> None:
    thirds = [_criterion("one", 1, 0, 1), _criterion("two", 2, 0, 1)]

    assert percent_words(total(thirds, {0: Fraction(0), 1: Fraction(1)}).share) == "66.7"


def test_without_a_criterion_nothing_is_complete() -> None:
    assert total([], {}).share is None


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (Fraction(0), "0.0"),
        (Fraction(1), "100.0"),
        (Fraction(4985, 10_000), "49.9"),
        (Fraction(49_849, 100_000), "49.8"),
        (Fraction(1, 3), "33.3"),
    ],
)
def test_a_share_is_rounded_once_and_half_up(share: Fraction, words: str) -> None:
    assert percent_words(share) == words


@pytest.mark.parametrize(
    ("criteria", "index", "what"),
    [
        ([_criterion("Theory", 30, 0, 1), _criterion("theory", 60, 0, 1)], 1, "name"),
        ([_criterion("theory", 0, 0, 1)], 0, "weight"),
        ([_criterion("theory", 30, 4)], 0, "levels"),
        ([_criterion("theory", 30, 0, 1, 1)], 0, "levels"),
        ([_criterion("theory", 30, -1, 1)], 0, "levels"),
    ],
)
def test_what_nobody_can_mark_by_is_a_fault(criteria: list[Criterion], index: int, what: str) -> None:
    assert [(fault.index, fault.what) for fault in rubric_faults(criteria)] == [(index, what)]
    assert rubric_faults(LAB) == ()


def test_points_stay_between_nought_and_the_best_level() -> None:
    assert points_fault(LAB[0], Fraction("3.5")) == ""
    assert "from 0 to 4" in points_fault(LAB[0], Fraction("4.5"))
    assert points_fault(LAB[0], Fraction(-1))


@st.composite
def rubrics(draw: st.DrawFn) -> list[Criterion]:
    hundredths = st.integers(0, 10_000).map(lambda number: Fraction(number, 100))
    return [
        Criterion(
            str(number),
            Fraction(draw(st.integers(1, 10_000)), 100),
            tuple(Level(each) for each in draw(st.lists(hundredths, min_size=2, max_size=6, unique=True))),
        )
        for number in range(draw(st.integers(1, 8)))
    ]


@st.composite
def marked(draw: st.DrawFn) -> tuple[list[Criterion], dict[int, Fraction]]:
    criteria = draw(rubrics())
    chosen = draw(st.sets(st.sampled_from(range(len(criteria)))))
    return criteria, {
        index: draw(st.sampled_from([level.points for level in criteria[index].levels]))
        for index in sorted(chosen)
    }


@given(marked(), st.randoms(use_true_random=False))
def test_the_order_of_marking_and_of_criteria_makes_no_difference(
    case: tuple[list[Criterion], dict[int, Fraction]], random: Random
) -> None:
    criteria, points = case
    given_in_turn = list(points.items())
    random.shuffle(given_in_turn)
    order = list(range(len(criteria)))
    random.shuffle(order)
    moved = {new: points[old] for new, old in enumerate(order) if old in points}

    assert total(criteria, dict(given_in_turn)) == total(criteria, points)
    assert total([criteria[old] for old in order], moved) == total(criteria, points)


@given(marked())
def test_what_is_earned_lies_between_nothing_and_what_was_possible(
    case: tuple[list[Criterion], dict[int, Fraction]],
) -> None:
    criteria, points = case
    found = total(criteria, points)

    assert 0 <= found.earned <= found.possible <= found.full
    assert found.is_complete == (len(points) == len(criteria))
    assert (found.possible == found.full) == found.is_complete


@given(marked(), st.integers(1, 1000))
def test_weighing_everything_so_many_times_as_much_changes_no_share(
    case: tuple[list[Criterion], dict[int, Fraction]], times: int
) -> None:
    criteria, points = case
    heavier = [Criterion(one.name, one.weight * times, one.levels, one.by) for one in criteria]

    assert total(heavier, points).share == total(criteria, points).share


@given(rubrics())
def test_the_best_of_everything_is_a_hundred_percent(criteria: list[Criterion]) -> None:
    best = {index: criterion.best for index, criterion in enumerate(criteria)}

    assert percent_words(total(criteria, best).share) == "100.0"
