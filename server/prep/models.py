"""A lab's times and assignments for preparing a day, and which lines of a day's prep sheet are done."""

from datetime import date, datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from server.core.prep_sheet import LineKind, Who
from server.data.columns import LabOwned, instant, not_negative, one_of


class PrepTimes(LabOwned, table=True):
    """How long things take before and around a class, in seconds. `assumed` until the lab has set them.

    Laying out begins `lay_out_lead_s` before the first class, measuring out `measure_s` before a mixing; objects settle in the room for
    `equalise_s`; the room is watched in the dark for `dark_s`. `opens_s` and `day_before_s` are seconds after midnight: when work begins, and when things are made ready for the next day.
    """

    __tablename__ = "prep_times"
    __table_args__ = (
        UniqueConstraint("lab_id"),
        *(
            not_negative(name)
            for name in (
                "lay_out_lead_s",
                "measure_s",
                "equalise_s",
                "dark_s",
                "opens_s",
                "day_before_s",
            )
        ),
    )

    id: int = Field(default=None, primary_key=True)
    lay_out_lead_s: int = 40 * 60
    measure_s: int = 10 * 60
    equalise_s: int = 3 * 3600
    dark_s: int = 10 * 60
    opens_s: int = 7 * 3600
    day_before_s: int = 15 * 3600
    assumed: bool = True


class PrepAssignment(LabOwned, table=True):
    """Who does the lines of a kind, where the lab has said so."""

    __tablename__ = "prep_assignment"
    __table_args__ = (UniqueConstraint("lab_id", "kind"), one_of("kind", LineKind), one_of("who", Who))

    id: int = Field(default=None, primary_key=True)
    kind: str
    who: str


class PrepTick(LabOwned, table=True):
    """`line` names the line of the sheet, such as `rinse` or `mix-0740-600`."""

    __tablename__ = "prep_tick"
    __table_args__ = (UniqueConstraint("lab_id", "on_day", "line"),)

    id: int = Field(default=None, primary_key=True)
    on_day: date
    line: str
    ticked_at: datetime = instant()
    ticked_by: str
