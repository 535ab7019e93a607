"""The plan of a section: what is asked (periods, steps, plates per group) and what came back (a plan and its visits)."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant, one_of


class StepPlace(StrEnum):
    """Where a step happens: at any station, in any tray of a bath, at a dryer or a bench, or where the step before was."""

    STATION = "station"
    DEVELOPER = "developer"
    RINSE = "rinse"
    BLEACH = "bleach"
    WASH = "wash"
    DRYER = "dryer"
    BENCH = "bench"
    SAME = "same"


class StepTime(StrEnum):
    """Whose duration a step takes: its own, or the station's settle or exposure time."""

    OWN = "own"
    SETTLE = "settle"
    EXPOSURE = "exposure"


class RotationState(StrEnum):
    DRAFT = "draft"
    PLANNED = "planned"
    PUBLISHED = "published"


class Rotation(LabOwned, table=True):
    """A section's rotation. Once published, its plan stays as it is."""

    __table_args__ = (one_of("state", RotationState),)

    id: int = Field(default=None, primary_key=True)
    section_id: int = Field(foreign_key="section.id", index=True)
    name: str
    state: str = RotationState.DRAFT
    made_at: datetime = instant()
    published_at: datetime | None = instant(default=None)


class Period(LabOwned, table=True):
    """A stretch of time in which the section has the room."""

    __table_args__ = (CheckConstraint("ends_at > starts_at", name="ends_after_it_starts"),)

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id", index=True)
    starts_at: datetime = instant()
    ends_at: datetime = instant()


class RotationStep(LabOwned, table=True):
    """One step of a pass. `max_wait_s` is the longest wait before the next step, none = no limit."""

    __tablename__ = "rotation_step"
    __table_args__ = (
        UniqueConstraint("rotation_id", "position"),
        one_of("at", StepPlace),
        one_of("time_from", StepTime),
        one_of("light", ("dark", "lit", "any")),
        one_of("still", ("still", "moves", "any")),
    )

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id", index=True)
    position: int
    name: str
    at: str
    time_from: str = StepTime.OWN
    seconds: int
    light: str = "any"
    still: str = "any"
    max_wait_s: int | None = None
    attended: bool = True


class GroupPlates(LabOwned, table=True):
    """How many plates a group makes in a rotation."""

    __tablename__ = "group_plates"
    __table_args__ = (
        UniqueConstraint("rotation_id", "group_id"),
        CheckConstraint("plates >= 0", name="plates_not_negative"),
    )

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id", index=True)
    group_id: int = Field(foreign_key="student_group.id", index=True)
    plates: int


class RotationPlan(LabOwned, table=True):
    """What the planner answered. `class_file` is the whole question as asked, so that an answer never changes by itself.

    Times are seconds from the first period's start, as in `class_file`.
    """

    __tablename__ = "rotation_plan"
    __table_args__ = (
        UniqueConstraint("rotation_id"),
        one_of("status", ("optimal", "feasible", "partial", "impossible")),
    )

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id", index=True)
    status: str
    makespan_s: int
    bound_s: int
    whiteboard_s: int | None = None
    plates_planned: int
    plates_unplaced: int
    unplaced: str = ""
    reasons: str = ""
    class_file: str
    seed: int
    starts_at: datetime = instant()
    made_at: datetime = instant()


class Visit(LabOwned, table=True):
    """One step of one pass of one group, at one place, at one time (UTC)."""

    id: int = Field(default=None, primary_key=True)
    plan_id: int = Field(foreign_key="rotation_plan.id", index=True)
    group_id: int = Field(foreign_key="student_group.id", index=True)
    pass_no: int
    step: str
    place: str
    light: str
    still: str
    starts_at: datetime = instant()
    ends_at: datetime = instant()
