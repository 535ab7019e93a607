"""Choosing a rule set, and laying the campus's own values over it. Both only add: what held on a past day stays readable."""

from datetime import date, datetime

from server.core.waste_rules.rule import SUBJECTS, Establishment, Key
from server.core.waste_rules.rule_book import read_value
from server.core.waste_rules.rule_sets import RULE_SETS
from server.data.session import LabSession
from server.refusal import NotFound, Refusal
from server.rules.models import RuleChoice, RuleOverride
from server.rules.queries import find_rules


def choose_rule_set(
    session: LabSession,
    *,
    rule_set: str,
    establishment: Establishment,
    is_far: bool,
    from_day: date,
    by: str,
    now: datetime,
) -> None:
    """From a day on the lab keeps a set. Refused where the set isn't for a place of this kind."""
    chosen = RULE_SETS.get(rule_set)
    if chosen is None:
        raise NotFound("There is no such rule set. Choose one of the list.")
    for reason in chosen.refusals(establishment):
        raise Refusal(reason)
    session.add(
        RuleChoice(
            rule_set=rule_set,
            establishment=establishment,
            is_far=is_far,
            from_day=from_day,
            chosen_at=now,
            chosen_by=by,
        )
    )


def lay_over(
    session: LabSession, *, rule: Key, value: str, reason: str, from_day: date, by: str, now: datetime
) -> None:
    """From a day on a rule has the campus's value; an empty one takes the campus's value back. Raises ValueError for what can't be read."""
    read_value(rule, value)
    if not value and find_rules(session, from_day).book.find(rule).override is None:
        raise Refusal(
            f"No campus rule is laid over {SUBJECTS[rule].title} on that day, so there is nothing to take back. Write a value."
        )
    session.add(
        RuleOverride(rule=rule, value=value, reason=reason, from_day=from_day, decided_at=now, decided_by=by)
    )
