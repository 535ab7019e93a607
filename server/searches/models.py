"""A search: the planner at work on a rotation's question, and how it ended."""

from datetime import datetime
from enum import StrEnum

from sqlmodel import Field

from server.data.columns import LabOwned, instant, one_of


class SearchState(StrEnum):
    """`done` came to its own end, `stopped` was ended by somebody, `failed` ended early for the reason in its sentence."""

    WAITING = "waiting"
    WORKING = "working"
    DONE = "done"
    STOPPED = "stopped"
    FAILED = "failed"


class PlanSearch(LabOwned, table=True):
    """One search for a rotation's plan. `class_file` is the question as asked; what was found is the rotation's plan.

    The server process that runs it writes `heard_at` every few seconds; any other may set `stop_asked`.
    """

    __tablename__ = "plan_search"
    __table_args__ = (one_of("state", SearchState),)

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id", index=True)
    state: str = SearchState.WAITING
    seconds: float
    seed: int
    class_file: str
    asked_by: str
    asked_at: datetime = instant()
    began_at: datetime | None = instant(default=None)
    heard_at: datetime = instant()
    ended_at: datetime | None = instant(default=None)
    has_found: bool = False
    stop_asked: bool = False
    sentence: str = ""
