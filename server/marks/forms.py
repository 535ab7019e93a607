"""What is typed about rubrics and marks."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any

from pydantic import Field

from server.core.rubric import By, Criterion, Level, rubric_faults
from server.web.submitted import Form, RowId, Submitted, read_lines
from server.web.typed import Line, Name, Note, Reason

MOST_CRITERIA = 12
MOST_LEVELS = 5

Weight = Annotated[Decimal, Field(ge=0, le=1000, decimal_places=2)]
Points = Annotated[Decimal, Field(ge=0, le=1000, decimal_places=2)]
Says = Annotated[Line, Field(max_length=200)]


class NewRubric(Form):
    name: Name


class NewEdition(Form):
    """The head of an edition; its criteria come in the same form."""

    note: Note = ""


class CriterionRow(Form):
    """One criterion with up to five levels. Without a name the criterion is left out, without points the level."""

    name: Annotated[Line, Field(max_length=60)] = ""
    position: Annotated[int, Field(ge=0, le=10_000)] = 0
    weight: Weight | None = None
    by: By = By.STUDENT
    says: Says = ""
    points_1: Points | None = None
    says_1: Says = ""
    points_2: Points | None = None
    says_2: Says = ""
    points_3: Points | None = None
    says_3: Says = ""
    points_4: Points | None = None
    says_4: Says = ""
    points_5: Points | None = None
    says_5: Says = ""


class CriterionTable(Form):
    """One entry a criterion."""

    name: tuple[str, ...] = ()
    position: tuple[str, ...] = ()
    weight: tuple[str, ...] = ()
    by: tuple[str, ...] = ()
    says: tuple[str, ...] = ()
    points_1: tuple[str, ...] = ()
    says_1: tuple[str, ...] = ()
    points_2: tuple[str, ...] = ()
    says_2: tuple[str, ...] = ()
    points_3: tuple[str, ...] = ()
    says_3: tuple[str, ...] = ()
    points_4: tuple[str, ...] = ()
    says_4: tuple[str, ...] = ()
    points_5: tuple[str, ...] = ()
    says_5: tuple[str, ...] = ()


class MarkedBy(Form):
    """By which rubric a section is marked, and within how many minutes of its exposure a run note is in time."""

    rubric_id: RowId
    notes_within_min: Annotated[int, Field(ge=1, le=10_080)]

    def kept(self) -> dict[str, int]:
        return {"rubric_id": self.rubric_id, "notes_within_s": 60 * self.notes_within_min}


class GivenLevel(Form):
    """A level by one tap; without one, what was given is taken back."""

    criterion_id: RowId
    level_id: RowId | None = None


class OwnPoints(Form):
    """Points of a student's own for one criterion; without any, they are taken back."""

    own_criterion_id: RowId
    points: Points | None = None
    reason: Reason

    def kept(self) -> dict[str, Any]:
        """The points as an exact number."""
        points = None if self.points is None else Fraction(self.points)
        return {"criterion_id": self.own_criterion_id, "points": points, "reason": self.reason}


class NotedAbsence(Form):
    """Whether a student was away in a class."""

    rotation_id: RowId
    was_away: bool


@dataclass(frozen=True)
class NewCriterion:
    """A criterion as asked for: what the core knows of it, and its sentence."""

    core: Criterion
    says: str = ""


def read_criteria(table: CriterionTable) -> tuple[list[Submitted[CriterionRow]], list[NewCriterion]]:
    """The criteria as typed with a sentence beside each fault, and those to keep in their order: none where there is a fault."""
    lines = [line for line in read_lines(CriterionRow, table) if _is_filled_in(line)]
    for index, line in enumerate(lines):
        if index >= MOST_CRITERIA:
            lines[index] = line.refused(
                "name", f"A rubric has at most {MOST_CRITERIA} criteria. Take this one out."
            )
        elif not line.value("name").strip():
            lines[index] = line.refused("name", "Please name it, or clear its levels too to take it out.")
        elif not line.error("weight") and not line.value("weight").strip():
            lines[index] = line.refused("weight", "Please write its weight, such as 30.")
        else:
            lines[index] = _with_level_faults(line)
    clean = [(line.clean, index) for index, line in enumerate(lines) if line.clean is not None]
    if len(clean) < len(lines):
        return lines, []  # beside a criterion that can't be read, the others can't be judged
    ordered = sorted(clean, key=lambda found: found[0].position)
    criteria = [_criterion(row) for row, _index in ordered]
    faults = rubric_faults([criterion.core for criterion in criteria])
    for fault in faults:
        index = ordered[fault.index][1]
        field = "points_1" if fault.what == "levels" else fault.what
        lines[index] = lines[index].refused(field, fault.sentence)
    return lines, [] if faults else criteria


def _levels() -> Sequence[tuple[str, str]]:
    return [(f"points_{number}", f"says_{number}") for number in range(1, MOST_LEVELS + 1)]


def _is_filled_in(line: Submitted[CriterionRow]) -> bool:
    names = ("name", *(name for level in _levels() for name in level))
    return any(line.value(name).strip() for name in names)


def _with_level_faults(line: Submitted[CriterionRow]) -> Submitted[CriterionRow]:
    """A level with a sentence and no points would fall away unseen."""
    for points, says in _levels():
        if line.value(says).strip() and not line.value(points).strip():
            line = line.refused(points, "Please write this level's points, or clear its sentence.")
    return line


def _criterion(row: CriterionRow) -> NewCriterion:
    levels = [(getattr(row, points), getattr(row, says)) for points, says in _levels()]
    kept = tuple(Level(Fraction(points), says) for points, says in levels if points is not None)
    by_points = tuple(sorted(kept, key=lambda level: level.points))
    return NewCriterion(Criterion(row.name, Fraction(row.weight or 0), by_points, row.by), row.says)
