"""How much is in an area, a laboratory and on a site, and what a site's month makes of it. Volumes are µL, masses mg.

What is added up where: an area's and a laboratory's total is the volume in all of their containers; a site's is net mass, without the
containers. The same ledger gives all of them.
"""

from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from server.core.units import mass_words, volume_words
from server.core.waste_rules.finding import Finding, Given, Verdict, limit_words, no_number
from server.core.waste_rules.quantity import Quantity
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import RuleBook, RuleInForce


class Category(StrEnum):
    """A site's category in one month, from the smallest."""

    VERY_SMALL = "very small quantity generator"
    SMALL = "small quantity generator"
    LARGE = "large quantity generator"

    def is_larger_than(self, other: "Category") -> bool:
        order = list(Category)
        return order.index(self) > order.index(other)


@dataclass(frozen=True)
class Masses:
    """Net waste of one month in milligrams: acute waste, non-acute waste, residue from spills of acute waste."""

    acute_mg: int = 0
    non_acute_mg: int = 0
    spill_mg: int = 0

    def plus(self, other: "Masses") -> "Masses":
        return Masses(
            self.acute_mg + other.acute_mg,
            self.non_acute_mg + other.non_acute_mg,
            self.spill_mg + other.spill_mg,
        )


@dataclass(frozen=True)
class CategoryFinding(Finding):
    """A site's month. `category` is the site's, or None while the rest of the site is unknown; `at_least` is what this lab alone makes it."""

    category: Category | None
    at_least: Category | None


def area_total(book: RuleBook, *, volume_ul: int) -> Finding:
    """Whether the non-acute waste of one area is over its most; all of its containers and streams together."""
    rule = book.find(Key.AREA_MOST)
    return _up_to(rule, "non-acute waste in this area", volume_ul, volume_words(volume_ul))


def area_acute_liquid(book: RuleBook, *, volume_ul: int) -> Finding:
    """Whether the liquid acute waste of one area is over its most."""
    rule = book.find(Key.AREA_ACUTE_LIQUID)
    return _up_to(rule, "liquid acute waste in this area", volume_ul, volume_words(volume_ul))


def area_acute_solid(book: RuleBook, *, mass_mg: int) -> Finding:
    """Whether the solid acute waste of one area is over its most."""
    rule = book.find(Key.AREA_ACUTE_SOLID)
    return _up_to(rule, "solid acute waste in this area", mass_mg, mass_words(mass_mg))


def laboratory_acute_liquid(book: RuleBook, *, volume_ul: int) -> Finding:
    """Whether the liquid acute waste of one laboratory is over its most."""
    rule = book.find(Key.LABORATORY_ACUTE_LIQUID)
    return _up_to(rule, "liquid acute waste in this laboratory", volume_ul, volume_words(volume_ul))


def laboratory_acute_solid(book: RuleBook, *, mass_mg: int) -> Finding:
    """Whether the solid acute waste of one laboratory is over its most."""
    rule = book.find(Key.LABORATORY_ACUTE_SOLID)
    return _up_to(rule, "solid acute waste in this laboratory", mass_mg, mass_words(mass_mg))


def laboratory_total(book: RuleBook, *, volume_ul: int) -> Finding:
    """Whether all the waste of one laboratory is over its most."""
    rule = book.find(Key.LABORATORY_MOST)
    return _up_to(rule, "waste in this laboratory", volume_ul, volume_words(volume_ul))


def site_total(book: RuleBook, *, lab_mg: int, rest_mg: int | None) -> Finding:
    """Whether all waste on the site is over the most that may be there. `rest_mg` None where nobody said what else stands there."""
    rule, title = book.find(Key.SITE_MOST), "waste on the site"
    given = _on_site(lab_mg, rest_mg)
    total = lab_mg + (rest_mg or 0)
    if rest_mg is None and rule.amount is not None and Decimal(total) <= rule.amount.exact:
        return Finding(title, Verdict.UNKNOWN, _part_of_site(rule.amount), (rule,), given, "total > limit")
    return replace(_up_to(rule, title, total, mass_words(total)), given=given)


def site_clock_total(book: RuleBook, *, lab_mg: int, rest_mg: int | None) -> Finding:
    """Whether so much waste is on the site that its clock runs: from the very limit on."""
    rule, title = book.find(Key.SITE_FROM), "waste from which the site's clock runs"
    given, formula = _on_site(lab_mg, rest_mg), "total ≥ limit"
    total = lab_mg + (rest_mg or 0)
    if rule.amount is None:
        return no_number(title, rule, given, formula)
    if Decimal(total) >= rule.amount.exact:
        says = f"{mass_words(total)} on the site reach {rule.words}: its clock runs. Have all of it collected in time."
        return Finding(title, Verdict.REACHED, says, (rule,), given, formula)
    if rest_mg is None:
        return Finding(title, Verdict.UNKNOWN, _part_of_site(rule.amount), (rule,), given, formula)
    says = f"{mass_words(total)} on the site do not reach {rule.words}."
    return Finding(title, Verdict.BELOW, says, (rule,), given, formula)


def _on_site(lab_mg: int, rest_mg: int | None) -> tuple[Given, ...]:
    rest = "not reported" if rest_mg is None else mass_words(rest_mg)
    return (Given("on this lab's shelves", mass_words(lab_mg)), Given("on the rest of the site", rest))


def _part_of_site(limit: Quantity) -> str:
    return f"This lab's waste is only a part of the site's, whose limit is {limit.words}. Ask the waste office what else stands there."


def generator_category(book: RuleBook, masses: Masses) -> Category | None:
    """Return the category of a site that had so much waste in one month; None where the set knows no categories.

    Exactly 100 kg is very small, exactly 1000 kg is large; 1 kg of acute waste and 100 kg of spill residue are still not more.
    """
    very_small_most, large_from, acute_most, spill_most = (rule.amount for rule in _category_rules(book))
    if very_small_most is None or large_from is None or acute_most is None or spill_most is None:
        return None
    if (
        masses.acute_mg > acute_most.exact
        or masses.non_acute_mg >= large_from.exact
        or masses.spill_mg > spill_most.exact
    ):
        return Category.LARGE
    return Category.SMALL if masses.non_acute_mg > very_small_most.exact else Category.VERY_SMALL


def site_month(book: RuleBook, *, lab: Masses, rest: Masses | None) -> CategoryFinding:
    """A site's month from this lab's contribution and what the rest of the site counted, None where nobody said it.

    The lab alone never makes the category, but no other lab can make it smaller: `at_least` says how far this lab's own waste takes it.
    """
    title = "the site's category in this month"
    rules = _category_rules(book)
    alone = generator_category(book, lab)
    given = _month_given("this lab", lab)
    given += (
        _month_given("the rest of the site", rest)
        if rest
        else (Given("the rest of the site", "not reported"),)
    )
    if alone is None:
        says = "This set knows no categories by the month. Ask the waste office what the month's waste means."
        return CategoryFinding(title, Verdict.NO_NUMBER, says, rules, given, "none in this set", None, None)
    formula = _category_formula(rules)
    kept = book.rule_set.largest
    largest = None if kept is None else Category(kept)
    if rest is None and largest is not None and alone.is_larger_than(largest):
        says = (
            f"What this lab made alone makes the site at least a {alone} in this month, whatever the rest of it counted. "
            f"That is more than what the lab's rules are for, a {largest}: tell the waste office now."
        )
        return CategoryFinding(title, Verdict.OVER, says, rules, given, formula, None, alone)
    if rest is None:
        says = (
            f"What this lab made is a contribution; the category is the whole site's. Alone it would make the site a {alone}. "
            "Write down what the rest of the site counted, or ask the waste office."
        )
        return CategoryFinding(title, Verdict.UNKNOWN, says, rules, given, formula, None, alone)
    found = generator_category(book, lab.plus(rest))
    says = f"With what the rest of the site counted, the site is a {found} in this month."
    if largest is not None and found is not None and found.is_larger_than(largest):
        says += f" That is more than what the lab's rules are for, a {largest}: tell the waste office now."
        return CategoryFinding(title, Verdict.OVER, says, rules, given, formula, found, alone)
    says += " The waste office confirms it."
    return CategoryFinding(title, Verdict.WITHIN, says, rules, given, formula, found, alone)


def _category_rules(book: RuleBook) -> tuple[RuleInForce, RuleInForce, RuleInForce, RuleInForce]:
    return (
        book.find(Key.VSQG_MOST),
        book.find(Key.LQG_FROM),
        book.find(Key.ACUTE_MOST),
        book.find(Key.SPILL_MOST),
    )


def _category_formula(rules: tuple[RuleInForce, ...]) -> str:
    very_small_most, large_from, acute_most, spill_most = (rule.words for rule in rules)
    return (
        f"acute > {acute_most}, or non-acute ≥ {large_from}, or spill residue > {spill_most}: large; "
        f"otherwise non-acute > {very_small_most}: small; otherwise very small"
    )


def _month_given(whose: str, masses: Masses) -> tuple[Given, ...]:
    return (
        Given(f"{whose}, non-acute", mass_words(masses.non_acute_mg)),
        Given(f"{whose}, acute", mass_words(masses.acute_mg)),
        Given(f"{whose}, spill residue", mass_words(masses.spill_mg)),
    )


def _up_to(rule: RuleInForce, title: str, amount: int, words: str) -> Finding:
    """A limit that may be reached but not passed."""
    given = (Given(title, words),)
    formula = "total > limit"
    if rule.amount is None:
        return no_number(title, rule, given, formula)
    limit = limit_words(rule.amount)
    if Decimal(amount) > rule.amount.exact:
        says = f"{words} of {title} are over the most, {limit}. Tell the waste office now."
        return Finding(title, Verdict.OVER, says, (rule,), given, formula)
    return Finding(
        title, Verdict.WITHIN, f"{words} of {title}; the most is {limit}.", (rule,), given, formula
    )
