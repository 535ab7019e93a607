"""What the lab knows about its term besides its rotations: classes that have none yet, what is on its way, how sure it wants to be."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from server.data.columns import LabOwned, instant, not_negative

# What an order is of, beside the solutions, which are called by their names.
PLATES = "plates"


class ClassesAhead(LabOwned, table=True):
    """Classes that come again every `every_days` from `first_day` to `last_day`, before there is a rotation for them.

    On each day `groups` make `plates_per_group` plates each; `other_plates` are for tests and trials. With a section, a day on which it
    has a rotation is counted by that rotation instead.
    """

    __tablename__ = "classes_ahead"
    __table_args__ = (
        CheckConstraint("last_day >= first_day", name="ends_when_it_begins_or_later"),
        CheckConstraint("every_days > 0", name="comes_again"),
        not_negative("groups"),
        not_negative("plates_per_group"),
        not_negative("other_plates"),
    )

    id: int = Field(default=None, primary_key=True)
    name: str
    section_id: int | None = Field(default=None, foreign_key="section.id", index=True)
    first_day: date
    last_day: date
    every_days: int
    groups: int
    plates_per_group: int
    other_plates: int
    entered_at: datetime = instant()
    entered_by: str


class SupplyOrder(LabOwned, table=True):
    """Something ordered and expected on a day. `what` is “plates”, then `amount` counts them, or a solution, then it is microlitres.

    It counts until it is closed: because it came and was taken in, or because it is not coming.
    """

    __tablename__ = "supply_order"
    __table_args__ = (CheckConstraint("amount > 0", name="is_of_something"),)

    id: int = Field(default=None, primary_key=True)
    what: str
    amount: int
    expected_on: date
    ordered_at: datetime = instant()
    ordered_by: str
    closed_at: datetime | None = instant(default=None)


class ReserveChoice(LabOwned, table=True):
    """How sure the lab wants to be that its plates last, in percent."""

    __tablename__ = "reserve_choice"
    __table_args__ = (
        UniqueConstraint("lab_id"),
        CheckConstraint("percent IN (90, 95)", name="percent_is_known"),
    )

    id: int = Field(default=None, primary_key=True)
    percent: int
