"""A class as it was called: every event beside what was planned, only ever added to."""

from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from server.core.calling import EventKind
from server.data.columns import LabOwned, instant, one_of


class CalledClass(LabOwned, table=True):
    """One calling of a rotation. A rehearsal is another one than the class itself; the newest that was not ended goes on."""

    __tablename__ = "called_class"

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id", index=True)
    begun_at: datetime = instant()
    begun_by: str
    ended_at: datetime | None = instant(default=None)
    ended_by: str = ""


class CallEvent(LabOwned, table=True):
    """What somebody said to the class. `tablet_id` was made on the device: the same id twice is one event.

    `answers` is the cue that was called, or the id of the event that was undone. `begins` names what the call began, a line each,
    `repeats` the plates that are made again, a line each: pass, repeats before, group. `in_round_of` is the group of a round kept for repeats that
    one of them takes. `happened_at` is when it was said, `kept_at` when the server heard of it.
    """

    __tablename__ = "call_event"
    __table_args__ = (UniqueConstraint("lab_id", "tablet_id"), one_of("kind", EventKind))

    id: int = Field(default=None, primary_key=True)
    class_id: int = Field(foreign_key="called_class.id", index=True)
    tablet_id: str
    kind: str
    answers: str = ""
    begins: str = ""
    repeats: str = ""
    in_round_of: str = ""
    words: str
    planned_at: datetime | None = instant(default=None)
    happened_at: datetime = instant()
    kept_at: datetime = instant()
    called_by: str

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(self.begins.split("\n")) if self.begins else ()
