"""A rubric: what is marked, in which steps, and what the marks of one student come to.

Points and weights are exact numbers; nothing is rounded before `percent_words`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import floor

from server.core.units import plain

FEWEST_LEVELS = 2


class By(StrEnum):
    """Whom a criterion is marked for: each student, or a group, whose members then all have the mark."""

    STUDENT = "student"
    GROUP = "group"


@dataclass(frozen=True)
class Level:
    """One step of a criterion: its points, and a sentence that says what earns them."""

    points: Fraction
    says: str = ""


@dataclass(frozen=True)
class Criterion:
    """One thing that is marked. The best of its levels earns its whole `weight`, any other as large a part of it as its points
    are of the best one's.
    """

    name: str
    weight: Fraction
    levels: tuple[Level, ...]
    by: By = By.STUDENT

    @property
    def best(self) -> Fraction:
        return max((level.points for level in self.levels), default=Fraction(0))

    def part(self, points: Fraction) -> Fraction:
        """What so many points earn of the weight."""
        return self.weight * points / self.best


@dataclass(frozen=True)
class RubricFault:
    """What is wrong with one criterion: its index, what of it, and a sentence."""

    index: int
    what: str
    sentence: str


@dataclass(frozen=True)
class Total:
    """What marks come to: `earned` of `possible`, which is the weight of the criteria marked so far, of the `full` weight.

    A criterion that is not marked yet is neither earned nor lost: while one is, there is no `share`.
    """

    marked: int
    criteria: int
    earned: Fraction
    possible: Fraction
    full: Fraction

    @property
    def is_complete(self) -> bool:
        return self.marked == self.criteria > 0

    @property
    def share(self) -> Fraction | None:
        """The part of the full weight that is earned, from 0 to 1; None until every criterion is marked."""
        return self.earned / self.full if self.is_complete else None


def rubric_faults(criteria: Sequence[Criterion]) -> tuple[RubricFault, ...]:
    """What stands in the way of marking by these criteria."""
    found = []
    names = [criterion.name.casefold() for criterion in criteria]
    for index, criterion in enumerate(criteria):
        points = [level.points for level in criterion.levels]
        if names[index] in names[:index]:
            found.append(
                RubricFault(index, "name", f"{criterion.name} stands here twice. Give one another name.")
            )
        if criterion.weight <= 0:
            found.append(RubricFault(index, "weight", "A criterion that weighs nothing marks nothing."))
        if len(points) < FEWEST_LEVELS:
            found.append(RubricFault(index, "levels", "Please write two levels at least."))
        elif min(points) < 0:
            found.append(RubricFault(index, "levels", "Points are never below 0."))
        elif len(set(points)) < len(points):
            found.append(RubricFault(index, "levels", "Two levels have the same points. Change one of them."))
    return tuple(found)


def total(criteria: Sequence[Criterion], points: Mapping[int, Fraction]) -> Total:
    """What `points` (by the criterion's index) come to by criteria without faults.

    Berkeley's advanced laboratory weighs theory 30, technique 60 and analysis 10. Full theory, half of technique and nothing of
    the analysis are 30 + 30 + 0 of 100:

    >>> steps = tuple(Level(Fraction(number)) for number in range(5))
    >>> lab = [Criterion(name, Fraction(weight), steps) for name, weight in (("theory", 30), ("technique", 60), ("analysis", 10))]
    >>> percent_words(total(lab, {0: Fraction(4), 1: Fraction(2), 2: Fraction(0)}).share)
    '60.0'
    >>> total(lab, {0: Fraction(4)}).share is None
    True
    """
    marked = {index: points[index] for index in range(len(criteria)) if index in points}
    return Total(
        marked=len(marked),
        criteria=len(criteria),
        earned=sum((criteria[index].part(each) for index, each in marked.items()), Fraction(0)),
        possible=sum((criteria[index].weight for index in marked), Fraction(0)),
        full=sum((criterion.weight for criterion in criteria), Fraction(0)),
    )


def points_fault(criterion: Criterion, points: Fraction) -> str:
    """Why these points can't be given for the criterion; empty where they can."""
    if 0 <= points <= criterion.best:
        return ""
    return f"{criterion.name} has from 0 to {plain(criterion.best)} points. Write a number between."


def percent_words(share: Fraction | None) -> str:
    """A share of 1 in percent, rounded once, to one decimal, half up; empty where there is none.

    >>> percent_words(Fraction(2, 3)), percent_words(Fraction(1245, 10_000)), percent_words(None)
    ('66.7', '12.5', '')
    """
    return "" if share is None else tenths_words(100 * share)


def tenths_words(number: Fraction) -> str:
    """A number from 0 on, rounded once, to one decimal, half up."""
    tenths = floor(number * 10 + Fraction(1, 2))
    return f"{tenths // 10}.{tenths % 10}"
