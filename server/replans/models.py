"""What went wrong in a class, and the new plan that was proposed for it."""

from datetime import datetime
from enum import StrEnum

from sqlmodel import Field

from server.data.columns import LabOwned, instant, one_of


class MishapKind(StrEnum):
    LATE = "late"
    STATION = "station"
    PLATE = "plate"
    ABSENT = "absent"
    SPILL = "spill"
    BELL = "bell"


class ProposalState(StrEnum):
    PROPOSED = "proposed"
    TAKEN = "taken"
    DROPPED = "dropped"


class Proposal(LabOwned, table=True):
    """A new plan beside the one it would replace, whole, so that both stay readable whatever comes later.

    `from_at` is the moment from which it plans anew; `is_typed` tells that somebody typed it, and that it was not the clock's.
    `moved` and `repeating` name groups, a line each. `lost` names plates that this change cost, a line each: the pass, a
    blank and the group.
    """

    __table_args__ = (one_of("kind", MishapKind), one_of("state", ProposalState))

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id", index=True)
    kind: str
    words: str
    asked_at: datetime = instant()
    asked_by: str
    from_at: datetime = instant()
    is_typed: bool
    starts_at: datetime = instant()
    old_class_file: str
    old_answer: str
    new_class_file: str
    new_answer: str
    moved: str
    repeating: str
    lost: str
    bell_s: int
    state: str = ProposalState.PROPOSED
    decided_at: datetime | None = instant(default=None)
    decided_by: str = ""
