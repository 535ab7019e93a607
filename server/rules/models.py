"""Which rules of waste law a lab keeps, and what its campus asks beyond them. Choices and overrides only grow; the latest one counts."""

from datetime import date, datetime

from sqlalchemy import false
from sqlmodel import Field

from server.core.waste_rules.rule import Establishment
from server.data.columns import LabOwned, instant, one_of


class RuleChoice(LabOwned, table=True):
    """From `from_day` on the lab keeps the rule set called `rule_set`.

    `establishment` is the kind of place it was chosen for; `is_far` says that its waste goes to a facility as far away as its rules call far.
    """

    __tablename__ = "rule_choice"
    __table_args__ = (one_of("establishment", Establishment),)

    id: int = Field(default=None, primary_key=True)
    rule_set: str
    establishment: str = Field(
        default=Establishment.OTHER, sa_column_kwargs={"server_default": Establishment.OTHER.value}
    )
    is_far: bool = Field(default=False, sa_column_kwargs={"server_default": false()})
    from_day: date
    chosen_at: datetime = instant()
    chosen_by: str


class RuleOverride(LabOwned, table=True):
    """From `from_day` on one rule has another value than its set says, because the campus asks for it. An empty value takes it back."""

    __tablename__ = "rule_override"

    id: int = Field(default=None, primary_key=True)
    rule: str
    value: str
    reason: str
    from_day: date
    decided_at: datetime = instant()
    decided_by: str
