"""A rule set as it stands on a day, with the campus's own values laid over it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from server.core.moments import day_words
from server.core.waste_rules.quantity import Quantity, read_quantity
from server.core.waste_rules.rule import SUBJECTS, Key, Rule, RuleSet, Tighter, Value

LONGEST_WORDS = 400
_SILENT = "This set says nothing of it. Ask the waste office."


@dataclass(frozen=True)
class Override:
    """A campus's own value from a day on. `value` None takes an earlier one back."""

    key: Key
    value: Value
    reason: str
    from_day: date


@dataclass(frozen=True)
class RuleInForce:
    """A rule on a day: what the set says, and what the campus lays over it. `rule` is None where the set says nothing of it."""

    key: Key
    rule: Rule | None
    override: Override | None

    @property
    def title(self) -> str:
        return SUBJECTS[self.key].title

    @property
    def value(self) -> Value:
        if self.override is not None:
            return self.override.value
        return None if self.rule is None else self.rule.value

    @property
    def amount(self) -> Quantity | None:
        """Its number, where it has one."""
        return self.value if isinstance(self.value, Quantity) else None

    @property
    def lines(self) -> tuple[str, ...]:
        """Its words, where it is a rule of words."""
        return self.value if isinstance(self.value, tuple) else ()

    @property
    def words(self) -> str:
        """Its value for a person."""
        return value_words(self.value)

    @property
    def says(self) -> str:
        return _SILENT if self.rule is None else self.rule.says

    @property
    def edition(self) -> str:
        if self.override is not None:
            return f"campus rule from {day_words(self.override.from_day)}"
        return "none" if self.rule is None else self.rule.edition

    @property
    def source(self) -> str:
        if self.override is not None:
            return self.override.reason
        return "none" if self.rule is None else self.rule.source

    @property
    def is_looser(self) -> bool:
        """Whether the campus's value asks for less than the set's: then the set's still holds by law, unless the waste office says why."""
        set_value = None if self.rule is None else self.rule.value
        if (
            self.override is None
            or not isinstance(set_value, Quantity)
            or not isinstance(self.value, Quantity)
        ):
            return False
        tighter = SUBJECTS[self.key].tighter
        if tighter == Tighter.LESS:
            return self.value.exact > set_value.exact
        return tighter == Tighter.MORE and self.value.exact < set_value.exact


@dataclass(frozen=True)
class RuleBook:
    """A set on a day. It answers for every key, with nothing where neither set nor campus says anything."""

    rule_set: RuleSet
    on: date
    overrides: tuple[Override, ...] = ()

    def find(self, key: Key) -> RuleInForce:
        """Return the rule of a key: the edition that holds on the day, and the campus's value that began last (of one day, the last in the sequence)."""
        rule = next((one for one in self.rule_set.rules if one.key == key and one.holds_on(self.on)), None)
        begun = [one for one in self.overrides if one.key == key and one.from_day <= self.on]
        latest = max(enumerate(begun), key=lambda found: (found[1].from_day, found[0]), default=None)
        override = None if latest is None or latest[1].value is None else latest[1]
        return RuleInForce(key, rule, override)

    @property
    def rules(self) -> tuple[RuleInForce, ...]:
        """Every rule that the set or the campus says something of, in the order of the keys."""
        found = (self.find(key) for key in Key)
        return tuple(one for one in found if one.rule is not None or one.override is not None)


def read_value(key: Key, text: str) -> Value:
    """Return what somebody typed as a campus's own value; nothing typed takes an earlier one back.

    A number may bring its unit, such as `200 L` for gallons; words are one line each. Raises ValueError with a sentence for a person.

    >>> value_words(read_value(Key.AREA_MOST, "200 L"))
    '200 L'
    """
    typed = text.strip()
    subject = SUBJECTS[key]
    if not typed:
        return None
    if subject.dimension is not None:
        return read_quantity(typed, dimension=subject.dimension, unit=subject.unit)
    if len(typed) > LONGEST_WORDS:
        message = f"Please keep the words below {LONGEST_WORDS} characters."
        raise ValueError(message)
    return tuple(line.strip() for line in typed.splitlines() if line.strip())


def value_words(value: Value) -> str:
    """A value for a person: `55 gal`, words on one line, or that there is none."""
    if value is None:
        return "no number: ask the waste office"
    return value.words if isinstance(value, Quantity) else "; ".join(value)


def book_on(rule_set: RuleSet, day: date, overrides: Sequence[Override] = ()) -> RuleBook:
    """Return a set as it stands on a day. `overrides` are in the order in which they were decided."""
    return RuleBook(rule_set, day, tuple(overrides))
