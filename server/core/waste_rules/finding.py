"""What a check of a rule answers: a verdict, a sentence, the rules with their edition and source, what went in, and how it was reckoned."""

from dataclasses import dataclass
from enum import StrEnum

from server.core.units import volume_words
from server.core.waste_rules.quantity import Dimension, Quantity
from server.core.waste_rules.rule_book import RuleInForce

# Said with every limit that is not reached: one limit says nothing of the others, and none of them makes a waste harmless.
DETERMINES = "The waste office determines what the waste is."


class Verdict(StrEnum):
    """What a check comes to. None of them says that anything is allowed, harmless or not hazardous."""

    OVER = "over the limit"
    REACHED = "reaches the limit"
    MEASURE = "to be measured"
    UNKNOWN = "not known yet"
    NO_NUMBER = "no number in this set"
    TOO_LITTLE = "holds too little"
    BELOW = "does not reach this limit"
    WITHIN = "within this limit"
    ENOUGH = "holds enough"
    RUNS = "a clock runs"
    WAITS = "no clock runs"


@dataclass(frozen=True)
class Given:
    """One thing that went into a check, in words."""

    name: str
    value: str


@dataclass(frozen=True)
class Finding:
    """One check. `rules` are all that it leans on, the deciding one first."""

    title: str
    verdict: Verdict
    says: str
    rules: tuple[RuleInForce, ...]
    given: tuple[Given, ...]
    formula: str


def no_number(title: str, rule: RuleInForce, given: tuple[Given, ...], formula: str) -> Finding:
    """The answer where the set names no number: it says whom to ask."""
    return Finding(title, Verdict.NO_NUMBER, rule.says, (rule,), given, formula)


def limit_words(limit: Quantity) -> str:
    """A limit in its own unit, with litres beside gallons and quarts.

    >>> from decimal import Decimal
    >>> limit_words(Quantity(Decimal(55), Dimension.VOLUME, "gal"))
    '55 gal (208.198 L)'
    """
    if limit.dimension == Dimension.VOLUME and limit.unit in {"gal", "qt"}:
        return f"{limit.words} ({volume_words(round(limit.exact))})"
    return limit.words
