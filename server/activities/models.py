"""What groups of the lab can do while they wait."""

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, one_of


class LabActivity(LabOwned, table=True):
    """One activity. `at_once` is how many groups can do it at the same time, none any number; a zone may be none: elsewhere.

    `opens` says that it comes before a group's other activities. The minutes of an assumed one came with the usual list and
    were not changed yet.
    """

    __tablename__ = "activity"
    __table_args__ = (
        UniqueConstraint("lab_id", "name"),
        one_of("light", ("dark", "lit", "any")),
        one_of("still", ("still", "moves", "any")),
        CheckConstraint("shortest_s >= 60", name="lasts_a_minute"),
        CheckConstraint("longest_s >= shortest_s", name="longest_is_not_shorter"),
        CheckConstraint("at_once >= 1", name="one_group_at_least"),
    )

    id: int = Field(default=None, primary_key=True)
    name: str
    shortest_s: int
    longest_s: int
    repeatable: bool = False
    at_once: int | None = None
    light_zone_id: int | None = Field(default=None, foreign_key="light_zone.id", index=True)
    light: str = "any"
    still_zone_id: int | None = Field(default=None, foreign_key="still_zone.id", index=True)
    still: str = "any"
    opens: bool = False
    is_assumed: bool = False
