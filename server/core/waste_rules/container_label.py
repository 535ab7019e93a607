"""What a set asks for on a waste container."""

from dataclasses import dataclass

from server.core.label_sizes import LabelSize, size_for
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import RuleBook, RuleInForce

_PLAIN = "Waste"


@dataclass(frozen=True)
class ContainerLabel:
    """The words for the head of a label, what else stands on it, what a log may hold instead, and what the date is.

    `size` is the least size that the set asks for by what the container holds, None where it asks for none. `is_by_rule` says whether
    the words come from the set or the campus; otherwise they are plain words of our own.
    """

    words: str
    facts: tuple[str, ...]
    in_the_log: tuple[str, ...]
    dating: tuple[str, ...]
    codes: tuple[str, ...]
    size: LabelSize | None
    is_by_rule: bool
    rules: tuple[RuleInForce, ...]


def container_label(book: RuleBook, *, vessel_ul: int) -> ContainerLabel:
    """Return what the label of a waste container of this capacity must say."""
    keys = (Key.LABEL, Key.LABEL_FACTS, Key.LOG_FACTS, Key.DATING, Key.CODES)
    words, facts, log, dating, codes = found = tuple(map(book.find, keys))
    return ContainerLabel(
        words=" ".join(words.lines) or _PLAIN,
        facts=facts.lines,
        in_the_log=log.lines,
        dating=dating.lines,
        codes=codes.lines,
        size=size_for(vessel_ul) if book.rule_set.labels_by_volume else None,
        is_by_rule=bool(words.lines),
        rules=tuple(rule for rule in found if rule.rule is not None or rule.override is not None),
    )
