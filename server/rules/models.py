"""Which rules of waste law a lab keeps, and what its campus asks beyond them. Choices and overrides only grow; the latest one counts."""

from datetime import date, datetime

from sqlmodel import Field

from server.data.columns import LabOwned, instant


class RuleChoice(LabOwned, table=True):
    """From `from_day` on the lab keeps the rule set called `rule_set`."""

    __tablename__ = "rule_choice"

    id: int = Field(default=None, primary_key=True)
    rule_set: str
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
