"""Rubrics and the marks given by them. An edition that marks were given by never changes, and no mark is written over."""

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.core.rubric import By
from server.data.columns import LabOwned, instant, not_negative, one_of

# Points and weights are kept in whole hundredths.
HUNDREDTHS = 100
# The rubric that is offered to begin with.
USUAL_NAME = "Hologram lab"
# Assumed, until an instructor says otherwise: a run note is in time within half an hour of its exposure.
NOTES_WITHIN_S = 1800


class Rubric(LabOwned, table=True):
    """What the lab marks by, by its name."""

    __table_args__ = (UniqueConstraint("lab_id", "name"),)

    id: int = Field(default=None, primary_key=True)
    name: str


class RubricEdition(LabOwned, table=True):
    """One wording of a rubric. `is_assumed` says that it is the offered one and nobody has changed it yet."""

    __tablename__ = "rubric_edition"
    __table_args__ = (UniqueConstraint("rubric_id", "number"),)

    id: int = Field(default=None, primary_key=True)
    rubric_id: int = Field(foreign_key="rubric.id", index=True)
    number: int
    note: str = ""
    is_assumed: bool = False
    made_at: datetime = instant()
    made_by: str


class RubricCriterion(LabOwned, table=True):
    """One thing that is marked, for each student or for a group at once.

    Written anew it gets a new id, and so do its levels: a page that was open meanwhile marks nothing by another criterion.
    """

    __tablename__ = "rubric_criterion"
    __table_args__ = (
        UniqueConstraint("edition_id", "position"),
        one_of("by", By),
        CheckConstraint("weight_hundredths > 0", name="has_a_weight"),
        {"sqlite_autoincrement": True},
    )

    id: int = Field(default=None, primary_key=True)
    edition_id: int = Field(foreign_key="rubric_edition.id", index=True)
    position: int
    name: str
    says: str = ""
    by: str = By.STUDENT
    weight_hundredths: int


class RubricLevel(LabOwned, table=True):
    """One step of a criterion: its points, and what earns them."""

    __tablename__ = "rubric_level"
    __table_args__ = (
        UniqueConstraint("criterion_id", "points_hundredths"),
        not_negative("points_hundredths"),
        {"sqlite_autoincrement": True},
    )

    id: int = Field(default=None, primary_key=True)
    criterion_id: int = Field(foreign_key="rubric_criterion.id", index=True)
    points_hundredths: int
    says: str = ""


class Marking(LabOwned, table=True):
    """By which edition a section is marked, and within how long of its exposure a run note counts as in time."""

    __table_args__ = (UniqueConstraint("section_id"), not_negative("notes_within_s"))

    id: int = Field(default=None, primary_key=True)
    section_id: int = Field(foreign_key="section.id", index=True)
    edition_id: int = Field(foreign_key="rubric_edition.id", index=True)
    notes_within_s: int


class Mark(LabOwned, table=True):
    """One student's mark by one criterion, as it was given at one time; the latest counts.

    It names a level, or points of the student's own with the reason for them, which go before any level; neither takes back what was
    given of its kind. `group_id` is set where a whole group was marked at once. `code` is what the student was called then and
    `given_to` the student's id, so that a mark whose student has left the list is still somebody's, and nobody else's.
    """

    __table_args__ = (
        not_negative("points_hundredths"),
        CheckConstraint("is_own OR points_hundredths IS NULL", name="points_are_of_ones_own"),
        CheckConstraint("NOT is_own OR level_id IS NULL", name="a_level_is_not_of_ones_own"),
    )

    id: int = Field(default=None, primary_key=True)
    section_id: int = Field(foreign_key="section.id", index=True)
    student_id: int | None = Field(default=None, foreign_key="student.id", index=True, ondelete="SET NULL")
    given_to: int | None = None
    code: str
    group_id: int | None = Field(default=None, foreign_key="student_group.id", index=True)
    criterion_id: int = Field(foreign_key="rubric_criterion.id", index=True)
    level_id: int | None = Field(default=None, foreign_key="rubric_level.id", index=True)
    is_own: bool = False
    points_hundredths: int | None = None
    reason: str = ""
    given_at: datetime = instant()
    given_by: str
