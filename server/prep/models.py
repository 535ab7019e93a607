"""Which lines of a day's prep sheet are done."""

from datetime import date, datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant


class PrepTick(LabOwned, table=True):
    """`line` names the line of the sheet, such as `plates` or `mix`."""

    __tablename__ = "prep_tick"
    __table_args__ = (UniqueConstraint("lab_id", "on_day", "line"),)

    id: int = Field(default=None, primary_key=True)
    on_day: date
    line: str
    ticked_at: datetime = instant()
    ticked_by: str
