"""What is kept about students beside their names: consents, adjustments, and who is away. Never a reason for any of them."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant, one_of


class Signing(StrEnum):
    """What is signed on paper, each separately."""

    SAFETY = "safety agreement"
    GUARDIAN = "guardian form"
    PHOTO = "photo use"


class Arrangement(StrEnum):
    """What a lab can do for a student."""

    LIT = "lit activities only"
    NITRILE = "nitrile gloves"
    DOOR = "place near the door"
    ADAPT = "longer time to adapt to the dark"
    LOW_BENCH = "low bench station"
    PARTNER = "works with a partner"
    LARGE_PRINT = "large print"
    SOUND = "sound cues"
    VISUAL = "visual cues"
    TOUCH = "trays marked for the hand"
    MORE_TIME = "more time for each step"
    BEFOREHAND = "instructions beforehand, written and spoken"
    OTHER = "other"


class Consent(LabOwned, table=True):
    """That a paper was signed, or taken back. Rows are only added; of a student and a signing the one with the latest day counts."""

    __table_args__ = (one_of("signing", Signing),)

    id: int = Field(default=None, primary_key=True)
    student_id: int = Field(foreign_key="student.id", ondelete="CASCADE", index=True)
    signing: str
    given: bool
    on_day: date
    kept_by: str
    kept_at: datetime = instant()


class Adjustment(LabOwned, table=True):
    """What is arranged for a student; `words` only where it is none of the list."""

    __table_args__ = (UniqueConstraint("student_id", "arrangement"), one_of("arrangement", Arrangement))

    id: int = Field(default=None, primary_key=True)
    student_id: int = Field(foreign_key="student.id", ondelete="CASCADE", index=True)
    arrangement: str
    words: str = ""


class Absence(LabOwned, table=True):
    """A student who is away on a day."""

    __table_args__ = (UniqueConstraint("student_id", "day"),)

    id: int = Field(default=None, primary_key=True)
    student_id: int = Field(foreign_key="student.id", ondelete="CASCADE", index=True)
    day: date = Field(index=True)


class PapersAfter(LabOwned, table=True):
    """What is kept of a student's papers once they were erased: from which day on nothing was missing of them, or something was."""

    __tablename__ = "papers_after"
    __table_args__ = (UniqueConstraint("student_id", "from_day"),)

    id: int = Field(default=None, primary_key=True)
    student_id: int = Field(foreign_key="student.id", ondelete="CASCADE", index=True)
    from_day: date
    is_missing: bool
