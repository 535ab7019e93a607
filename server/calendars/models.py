"""Secret addresses at which calendar programs fetch what is published."""

from datetime import datetime

from sqlmodel import Field

from server.data.columns import LabOwned, instant


class CalendarAddress(LabOwned, table=True):
    """An address that somebody's calendar program asks without signing in. Only the hash of its secret is kept.

    `section_id` is the section whose rotations it carries, none = those of all sections; `label` says who or what it is for.
    """

    __tablename__ = "calendar_address"

    id: int = Field(default=None, primary_key=True)
    section_id: int | None = Field(default=None, foreign_key="section.id", index=True)
    label: str
    secret_hash: str = Field(unique=True)
    made_at: datetime = instant()
