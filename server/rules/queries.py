"""Reads of the rules of waste law that a lab keeps."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlmodel import col, select

from server.core.headspace import USUAL_FILL_PERCENT
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import Override, RuleBook, book_on, read_value
from server.core.waste_rules.rule_sets import RULE_SETS
from server.core.waste_rules.waste_office import WASTE_OFFICE
from server.data.session import LabSession
from server.rules.models import RuleChoice, RuleOverride


@dataclass(frozen=True)
class KeptRules:
    """The rules of a day. `choice` is None where the lab has chosen no set: then the book is the one that asks the waste office."""

    book: RuleBook
    choice: RuleChoice | None

    @property
    def is_far(self) -> bool:
        """Whether the waste goes to a far facility, so that the longer of two times holds."""
        return self.choice is not None and self.choice.is_far


def list_choices(session: LabSession) -> Sequence[RuleChoice]:
    """Every choice of a rule set, in the order of their days; of one day the latest decision last."""
    return session.exec(select(RuleChoice).order_by(col(RuleChoice.from_day), col(RuleChoice.id))).all()


def list_overrides(session: LabSession) -> Sequence[RuleOverride]:
    """Every campus rule in the order in which they were decided."""
    return session.exec(select(RuleOverride).order_by(col(RuleOverride.id))).all()


def find_fill_percent(session: LabSession, day: date) -> Decimal:
    """How far a container that is set out on a day is filled, in hundredths of what it holds to the brim."""
    amount = find_rules(session, day).book.find(Key.FILL).amount
    return USUAL_FILL_PERCENT if amount is None else amount.number


def find_rules(session: LabSession, day: date) -> KeptRules:
    """The rule set that the lab keeps on a day, with its campus rules laid over it."""
    begun = [choice for choice in list_choices(session) if choice.from_day <= day]
    choice = begun[-1] if begun else None
    rule_set = WASTE_OFFICE if choice is None else RULE_SETS[choice.rule_set]
    overrides = [
        Override(Key(one.rule), read_value(Key(one.rule), one.value), one.reason, one.from_day)
        for one in list_overrides(session)
    ]
    return KeptRules(book_on(rule_set, day, overrides), choice)
