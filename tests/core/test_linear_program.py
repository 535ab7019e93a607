"""The simplex method against a textbook's worked example, a solver of its own, and what no plan may do."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.linear_solver import pywraplp

from server.core.linear_program import maximise

ROW = st.lists(st.integers(0, 9), min_size=3, max_size=3)


def _sum(*factors: int) -> dict[int, Fraction]:
    return {place: Fraction(factor) for place, factor in enumerate(factors) if factor}


def test_a_product_mix_comes_out_as_worked_by_hand() -> None:
    """Two products, three machines, a common textbook example: 3x + 5y with x ≤ 4, 2y ≤ 12, 3x + 2y ≤ 18 is 36 at (2, 6).

    Its prices, also as commonly printed, are 0, 3/2 and 1.
    """
    limits = [(_sum(1, 0), Fraction(4)), (_sum(0, 2), Fraction(12)), (_sum(3, 2), Fraction(18))]
    best = maximise([_sum(3, 5)], limits, 2)

    assert best.largest == 36
    assert best.values == {0: 2, 1: 6}
    assert best.prices == [0, Fraction(3, 2), 1]


def test_a_second_objective_chooses_among_equals_only() -> None:
    """X + y is 4 wherever the two share it; the second objective then gives all to y."""
    limits = [(_sum(1, 1), Fraction(4))]
    best = maximise([_sum(1, 1), _sum(-1, 0)], limits, 2)

    assert best.largest == 4
    assert best.values == {1: 4}


def test_what_nothing_limits_is_an_error() -> None:
    with pytest.raises(ValueError, match="nothing limits"):
        maximise([_sum(1, 1)], [(_sum(1, 0), Fraction(4))], 2)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(ROW, st.integers(0, 30)), min_size=1, max_size=5), ROW)
def test_it_agrees_with_a_solver_that_works_in_decimals(
    rows: list[tuple[list[int], int]], gain: list[int]
) -> None:
    """The other solver is a well-known one of the kind that works in floating point; the last limit keeps it finite."""
    limits = [*rows, ([1, 1, 1], 20)]
    best = maximise([_sum(*gain)], [(_sum(*row), Fraction(most)) for row, most in limits], 3)
    solver = pywraplp.Solver.CreateSolver("GLOP")
    places = [solver.NumVar(0, solver.infinity(), str(place)) for place in range(3)]
    for row, most in limits:
        solver.Add(sum(factor * place for factor, place in zip(row, places, strict=True)) <= most)
    solver.Maximize(sum(factor * place for factor, place in zip(gain, places, strict=True)))

    assert solver.Solve() == pywraplp.Solver.OPTIMAL
    assert float(best.largest) == pytest.approx(solver.Objective().Value(), abs=1e-6)
    for row, most in limits:
        assert sum(factor * best.values.get(place, 0) for place, factor in enumerate(row)) <= most
