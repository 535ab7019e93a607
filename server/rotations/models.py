"""The plan of a section: what is asked (periods, steps, plates per group) and what came back (a plan and its visits)."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant, not_negative, one_of


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
    """A section's rotation. Once published, its plan stays as it is.

    `talk_s` is the talk at the start of the first period, `clean_up_s` the clean-up at the end of each day; no plate is made then.
    `plates_per_group` is the usual number, for groups that were formed later. `reserve_rounds` are kept free at the end for repeats.
    `class_file` is the whole question where it came as a file; the rows of the rotation then ask nothing.
    """

    __table_args__ = (
        one_of("state", RotationState),
        not_negative("talk_s"),
        not_negative("clean_up_s"),
        not_negative("plates_per_group"),
        not_negative("reserve_rounds"),
    )

    id: int = Field(default=None, primary_key=True)
    section_id: int = Field(foreign_key="section.id", index=True)
    name: str
    state: str = RotationState.DRAFT
    made_at: datetime = instant()
    published_at: datetime | None = instant(default=None)
    talk_s: int = Field(default=0, sa_column_kwargs={"server_default": "0"})
    clean_up_s: int = Field(default=0, sa_column_kwargs={"server_default": "0"})
    plates_per_group: int = Field(default=1, sa_column_kwargs={"server_default": "1"})
    reserve_rounds: int = Field(default=0, sa_column_kwargs={"server_default": "0"})
    class_file: str | None = None


class Period(LabOwned, table=True):
    """A stretch of time in which the section has the room."""

    __table_args__ = (CheckConstraint("ends_at > starts_at", name="ends_after_it_starts"),)

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id", index=True)
    starts_at: datetime = instant()
    ends_at: datetime = instant()


class PeriodBreak(LabOwned, table=True):
    """A stretch inside a period in which nothing is done, such as lunch."""

    __tablename__ = "period_break"
    __table_args__ = (CheckConstraint("ends_at > starts_at", name="ends_after_it_starts"),)

    id: int = Field(default=None, primary_key=True)
    period_id: int = Field(foreign_key="period.id", index=True)
    name: str
    starts_at: datetime = instant()
    ends_at: datetime = instant()


class RotationMix(LabOwned, table=True):
    """Developer that is mixed for a rotation. It lives `life_s` seconds from `mixed_at` and serves `plates` in each developer tray,
    none = as many as come.
    """

    __tablename__ = "rotation_mix"
    __table_args__ = (
        CheckConstraint("life_s > 0", name="has_a_life"),
        CheckConstraint("plates > 0", name="serves_a_plate"),
    )

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id", index=True)
    mixed_at: datetime = instant()
    life_s: int
    plates: int | None = None


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
    """How many plates a group makes in a rotation, and the station it is tied to, if it needs a certain one."""

    __tablename__ = "group_plates"
    __table_args__ = (
        UniqueConstraint("rotation_id", "group_id"),
        CheckConstraint("plates >= 0", name="plates_not_negative"),
    )

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id", index=True)
    group_id: int = Field(foreign_key="student_group.id", index=True)
    plates: int
    tied_place_id: int | None = Field(default=None, foreign_key="place.id", index=True)


class RotationPlan(LabOwned, table=True):
    """What the planner answered. `class_file` is the whole question as asked, so that an answer never changes by itself.

    Times are seconds from `starts_at`, when the first period given to the planner starts, as in `class_file`. The plates are those of
    the section's groups; rounds kept free for repeats are not counted. `changed_at` is when the plan was last changed in the middle of
    the class. `lost` names the plates that were begun in vain, a line each: its pass, a blank and its group.
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
    changed_at: datetime | None = instant(default=None)
    lost: str | None = None


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


class NamedVisit(LabOwned, table=True):
    """A visit of a group that is only a name: a round kept free for a repeat, or a group of a class file that was taken in."""

    __tablename__ = "named_visit"

    id: int = Field(default=None, primary_key=True)
    plan_id: int = Field(foreign_key="rotation_plan.id", index=True)
    group_name: str
    pass_no: int
    step: str
    place: str
    light: str
    still: str
    starts_at: datetime = instant()
    ends_at: datetime = instant()
