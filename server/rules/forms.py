"""What is typed about the rules of waste law."""

from typing import Annotated

from pydantic import Field, ValidationInfo, field_validator

from server.core.waste_rules.rule import Establishment, Key
from server.core.waste_rules.rule_book import LONGEST_WORDS, read_value
from server.core.waste_rules.rule_sets import RULE_SETS
from server.web.submitted import Form
from server.web.typed import Day, Reason


class NewChoice(Form):
    establishment: Establishment
    rule_set: str
    is_far: bool = False
    from_day: Annotated[Day, Field(validation_alias="kept_from")]

    @field_validator("rule_set")
    @classmethod
    def _is_for_such_a_place(cls, rule_set: str, others: ValidationInfo) -> str:
        chosen = RULE_SETS.get(rule_set)
        if chosen is None:
            message = "Please choose one of the list."
            raise ValueError(message)
        establishment = others.data.get("establishment")
        for reason in () if establishment is None else chosen.refusals(establishment):
            raise ValueError(reason)
        return rule_set


class NewOverride(Form):
    """A value left empty takes the campus's value back."""

    rule: Key
    value: Annotated[str, Field(max_length=LONGEST_WORDS)] = ""
    reason: Reason
    from_day: Annotated[Day, Field(validation_alias="laid_from")]

    @field_validator("value")
    @classmethod
    def _can_be_read(cls, value: str, others: ValidationInfo) -> str:
        rule = others.data.get("rule")
        if rule is not None:
            read_value(rule, value)
        return value


class AskedRule(Form):
    """Which rule the form of campus rules begins with."""

    rule: Key
