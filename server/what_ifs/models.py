"""What changes to a class would bring, kept beside the plan that they were weighed against."""

from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant


class WhatIfSet(LabOwned, table=True):
    """The changes asked about for one plan of a rotation. `digest` stands for the plan, its question and its talk: what was
    worked out for another plan is not shown.
    """

    __tablename__ = "what_if_set"
    __table_args__ = (UniqueConstraint("rotation_id"),)

    id: int = Field(default=None, primary_key=True)
    rotation_id: int = Field(foreign_key="rotation.id")
    digest: str
    asked_at: datetime = instant()
    done_at: datetime | None = instant(default=None)


class WhatIfLine(LabOwned, table=True):
    """What the class comes to with one change: its plates and its finish, in seconds as the plan without the change counts them."""

    __tablename__ = "what_if_line"
    __table_args__ = (UniqueConstraint("set_id", "key"),)

    id: int = Field(default=None, primary_key=True)
    set_id: int = Field(foreign_key="what_if_set.id", index=True)
    key: str
    placed: int
    plates: int
    makespan_s: int
    bound_s: int
    most: bool
