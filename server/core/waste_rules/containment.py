"""How much the tray under waste containers must hold. Volumes are µL."""

from collections.abc import Sequence
from decimal import ROUND_CEILING, Decimal

from server.core.units import volume_words
from server.core.waste_rules.finding import Finding, Given, Verdict, no_number
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import RuleBook

_PERCENT = 100


def containment_ul(*, capacities_ul: Sequence[int], percent: Decimal) -> int:
    """Return what a tray must hold: so many percent of all capacities or the largest one, whichever is more; parts of a µL count whole.

    Only containers with liquid in them belong to `capacities_ul`.

    >>> containment_ul(capacities_ul=[20_000_000] * 25, percent=Decimal(10))
    50000000
    """
    share = (Decimal(sum(capacities_ul)) * percent / _PERCENT).to_integral_value(rounding=ROUND_CEILING)
    return max(int(share), max(capacities_ul, default=0))


def containment(book: RuleBook, *, capacities_ul: Sequence[int], tray_ul: int | None) -> Finding:
    """Whether the tray under containers of liquid holds enough; `tray_ul` None where nobody has measured it."""
    rule = book.find(Key.CONTAINMENT)
    title = "what stands under the containers"
    given = (
        Given("containers with liquid", str(len(capacities_ul))),
        Given("their capacities", volume_words(sum(capacities_ul))),
        Given("the largest", volume_words(max(capacities_ul, default=0))),
        Given("the tray holds", "not measured" if tray_ul is None else volume_words(tray_ul)),
    )
    formula = "larger of: share × sum of capacities; largest capacity"
    if rule.amount is None:
        return no_number(title, rule, given, formula)
    needed = containment_ul(capacities_ul=capacities_ul, percent=rule.amount.number)
    wanted = f"What stands under them must hold {volume_words(needed)}."
    if tray_ul is None:
        return Finding(
            title, Verdict.MEASURE, f"{wanted} Measure the tray and write it down.", (rule,), given, formula
        )
    if tray_ul < needed:
        says = f"{wanted} The tray holds {volume_words(tray_ul)}: set some of them into another tray."
        return Finding(title, Verdict.TOO_LITTLE, says, (rule,), given, formula)
    return Finding(
        title, Verdict.ENOUGH, f"{wanted} The tray holds {volume_words(tray_ul)}.", (rule,), given, formula
    )
