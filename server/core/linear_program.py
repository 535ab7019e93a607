"""The largest value of a sum under limits on other sums, exact: Dantzig's simplex method in fractions.

Bland's rule chooses the pivots, so that it always ends. Quantities are never negative, and limits neither.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

Sum = Mapping[int, Fraction]


@dataclass(frozen=True)
class Optimum:
    """`values` of the quantities that are not 0; `prices` is what one more of each limit would add to the first objective."""

    largest: Fraction
    values: Mapping[int, Fraction]
    prices: Sequence[Fraction]


def maximise(objectives: Sequence[Sum], limits: Sequence[tuple[Sum, Fraction]], quantities: int) -> Optimum:
    """Maximise the first objective, and each further one as far as those before it stay at their best.

    Quantities are numbered from 0; each limit is a sum of them and what it may be at most. Raises ValueError where nothing limits an
    objective.

    >>> at_most = [({0: Fraction(1), 1: Fraction(1)}, Fraction(4)), ({0: Fraction(1), 1: Fraction(3)}, Fraction(6))]
    >>> maximise([{0: Fraction(1), 1: Fraction(2)}], at_most, 2).largest
    Fraction(5, 1)
    """
    rows = [{**dict(left), quantities + index: Fraction(1)} for index, (left, _most) in enumerate(limits)]
    right = [most for _left, most in limits]
    basis = [quantities + index for index in range(len(limits))]
    gains = [dict(objective) for objective in objectives]
    for rank in range(len(gains)):
        while (column := _entering(gains[: rank + 1])) is not None:
            pivot = _leaving(rows, right, basis, column)
            _turn(rows, right, gains, pivot, column)
            basis[pivot] = column
    values = {place: most for place, most in zip(basis, right, strict=True) if place < quantities and most}
    return Optimum(
        sum((gain * values.get(place, 0) for place, gain in objectives[0].items()), Fraction(0)),
        values,
        [-gains[0].get(quantities + index, Fraction(0)) for index in range(len(limits))],
    )


def _entering(gains: Sequence[Mapping[int, Fraction]]) -> int | None:
    """The first quantity that still gains for the last objective and costs nothing for those before."""
    *before, now = gains
    return min(
        (place for place, gain in now.items() if gain > 0 and not any(done.get(place) for done in before)),
        default=None,
    )


def _leaving(
    rows: Sequence[Mapping[int, Fraction]], right: Sequence[Fraction], basis: Sequence[int], column: int
) -> int:
    reaches = [
        (right[index] / row[column], basis[index], index)
        for index, row in enumerate(rows)
        if row.get(column, 0) > 0
    ]
    if not reaches:
        message = "nothing limits this objective"
        raise ValueError(message)
    return min(reaches)[2]


def _turn(
    rows: list[dict[int, Fraction]],
    right: list[Fraction],
    gains: Sequence[dict[int, Fraction]],
    pivot: int,
    column: int,
) -> None:
    by = rows[pivot][column]
    rows[pivot] = {place: factor / by for place, factor in rows[pivot].items()}
    right[pivot] /= by
    for index, row in enumerate(rows):
        factor = row.get(column)
        if index != pivot and factor:
            _subtract(row, rows[pivot], factor)
            right[index] -= factor * right[pivot]
    for gain in gains:
        factor = gain.get(column)
        if factor:
            _subtract(gain, rows[pivot], factor)


def _subtract(row: dict[int, Fraction], other: Mapping[int, Fraction], factor: Fraction) -> None:
    for place, amount in other.items():
        left = row.get(place, Fraction(0)) - factor * amount
        if left:
            row[place] = left
        else:
            row.pop(place, None)
