"""What the pages of the rules of waste law show."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from server.core.moments import day_at, day_words, moment_words
from server.core.waste_rules.quantity import Quantity
from server.core.waste_rules.rule import SUBJECTS, THEMES, Establishment, Key, Rule, RuleSet
from server.core.waste_rules.rule_book import RuleBook, RuleInForce, book_on, read_value, value_words
from server.core.waste_rules.rule_sets import RULE_SETS
from server.data.session import LabSession
from server.refusal import NotFound
from server.rules.forms import NewChoice, NewOverride
from server.rules.queries import find_rules, list_choices, list_overrides
from server.web.submitted import Submitted

_NOT_CHOSEN = "No rule set is chosen yet, so every limit of law asks the waste office. Choose the set of your jurisdiction below."


@dataclass(frozen=True)
class RuleLine:
    """One rule on a page. `set_value` is what the set itself says where the campus says otherwise."""

    key: str
    title: str
    value: Sequence[str]
    has_value: bool
    says: str
    edition: str
    source: str
    holds: str
    set_value: str
    reason: str
    is_looser: bool


@dataclass(frozen=True)
class Theme:
    title: str
    lines: Sequence[RuleLine]


@dataclass(frozen=True)
class Decided:
    """One line of what was decided, the latest first."""

    what: str
    from_day: str
    why: str
    when: str
    by: str


@dataclass(frozen=True)
class RulesPage:
    """`to_come` are choices whose day is not here yet."""

    title: str
    who: str
    kept: str
    cautions: Sequence[str]
    to_come: Sequence[str]
    themes: Sequence[Theme]
    looser: Sequence[str]
    sets: Sequence[tuple[str, str]]
    establishments: Sequence[tuple[str, str]]
    subjects: Sequence[tuple[str, str]]
    today: str
    choices: Sequence[Decided]
    overrides: Sequence[Decided]
    choice_form: Submitted[NewChoice]
    override_form: Submitted[NewOverride]
    asked: str


@dataclass(frozen=True)
class RuleSetPage:
    """A set to look at before it is chosen, with its earlier editions."""

    title: str
    who: str
    jurisdiction: str
    cautions: Sequence[str]
    only_for: str
    themes: Sequence[Theme]
    earlier: Sequence[RuleLine]


def _holds(rule: Rule) -> str:
    since = f"from {day_words(rule.since)}" if rule.since else "in force; from which day is not kept here"
    return f"{since} until the day before {day_words(rule.until)}" if rule.until else since


def _value_lines(value: Quantity | tuple[str, ...] | None) -> Sequence[str]:
    return value if isinstance(value, tuple) else [value_words(value)]


def _line(found: RuleInForce) -> RuleLine:
    rule, override = found.rule, found.override
    return RuleLine(
        key=found.key,
        title=found.title[0].upper() + found.title[1:],
        value=_value_lines(found.value),
        has_value=found.value is not None,
        says=found.says,
        edition="none" if rule is None else rule.edition,
        source="none" if rule is None else rule.source,
        holds="" if rule is None else _holds(rule),
        set_value="" if override is None else value_words(None if rule is None else rule.value),
        reason="" if override is None else f"{override.reason}, from {day_words(override.from_day)}",
        is_looser=found.is_looser,
    )


def _themes(book: RuleBook) -> Iterator[Theme]:
    there = {found.key: found for found in book.rules}
    for title, keys in THEMES.items():
        lines = [_line(there[key]) for key in keys if key in there]
        if lines:
            yield Theme(title, lines)


def _choices(session: LabSession, zone: str) -> Sequence[Decided]:
    return [
        Decided(
            RULE_SETS[one.rule_set].title,
            day_words(one.from_day),
            f"for {Establishment(one.establishment).words}" + ("; the facility is far" if one.is_far else ""),
            moment_words(one.chosen_at, zone),
            one.chosen_by,
        )
        for one in sorted(list_choices(session), key=lambda one: -one.id)
    ]


def _overrides(session: LabSession, zone: str) -> Sequence[Decided]:
    return [
        Decided(
            f"{SUBJECTS[Key(one.rule)].title}: "
            + (value_words(read_value(Key(one.rule), one.value)) if one.value else "taken back"),
            day_words(one.from_day),
            one.reason,
            moment_words(one.decided_at, zone),
            one.decided_by,
        )
        for one in reversed(list_overrides(session))
    ]


def _subject_words(key: Key) -> str:
    unit = SUBJECTS[key].unit
    return f"{SUBJECTS[key].title} ({unit})" if unit else SUBJECTS[key].title


def rules_page(
    session: LabSession,
    *,
    now: datetime,
    zone: str,
    choice_form: Submitted[NewChoice] | None = None,
    override_form: Submitted[NewOverride] | None = None,
    asked: Key | None = None,
) -> RulesPage:
    today = day_at(now, zone)
    kept = find_rules(session, today)
    rule_set = kept.book.rule_set
    themes = tuple(_themes(kept.book))
    return RulesPage(
        title=rule_set.title,
        who=rule_set.who,
        kept=_NOT_CHOSEN if kept.choice is None else f"Kept from {day_words(kept.choice.from_day)} on.",
        cautions=rule_set.cautions,
        to_come=[
            f"{RULE_SETS[one.rule_set].title} from {day_words(one.from_day)} on"
            for one in list_choices(session)
            if one.from_day > today
        ],
        themes=themes,
        looser=[line.title for theme in themes for line in theme.lines if line.is_looser],
        sets=[(one.key, one.title) for one in RULE_SETS.values()],
        establishments=[(one.value, one.words) for one in Establishment],
        subjects=[(key.value, _subject_words(key)) for keys in THEMES.values() for key in keys],
        today=today.isoformat(),
        choices=_choices(session, zone),
        overrides=_overrides(session, zone),
        choice_form=choice_form or Submitted(),
        override_form=override_form or Submitted(),
        asked="" if asked is None else asked.value,
    )


def _earlier(rule_set: RuleSet, today: date) -> Iterator[RuleLine]:
    for rule in rule_set.rules:
        if rule.until is not None and rule.until <= today:
            yield _line(RuleInForce(rule.key, rule, None))


def rule_set_page(rule_set: str, *, now: datetime, zone: str) -> RuleSetPage:
    found = RULE_SETS.get(rule_set)
    if found is None:
        raise NotFound("There is no such rule set. Choose one from Rules.")
    today = day_at(now, zone)
    everyone = len(found.only_for) == len(Establishment)
    return RuleSetPage(
        title=found.title,
        who=found.who,
        jurisdiction=found.jurisdiction,
        cautions=found.cautions,
        only_for="" if everyone else " or ".join(one.words for one in Establishment if one in found.only_for),
        themes=tuple(_themes(book_on(found, today))),
        earlier=tuple(_earlier(found, today)),
    )
