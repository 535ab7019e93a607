"""Whether a measured pH, silver or chromium reaches a limit. What was not measured is asked for, never inferred, least of all from a recipe.

pH in hundredths, temperatures in tenths of a degree Celsius, metals in micrograms a litre. `poured_since_ul` is what came in after the
sample was taken: what did not reach a limit then is measured again.
"""

from decimal import Decimal

from server.core.units import celsius_words, ph_words, volume_words
from server.core.waste_rules.finding import DETERMINES, Finding, Given, Verdict, no_number
from server.core.waste_rules.rule import Key
from server.core.waste_rules.rule_book import RuleBook, RuleInForce

_MEASURE_PH = "Measure the pH where the waste arises, before anything dilutes it, and write down the temperature of the sample."
_FORMULA = "pH ≤ acid limit, or pH ≥ caustic limit"


def corrosivity(
    book: RuleBook,
    *,
    ph_hundredths: int | None,
    temperature_decicelsius: int | None,
    poured_since_ul: int = 0,
) -> Finding:
    """Whether a liquid with water in it reaches the limit of corrosive waste; both limits belong to it.

    Above the pH from which the method wants one temperature, a sample of another temperature that does not reach the limit is to be
    measured again; one that reaches it has reached it.
    """
    title = "acidity (pH)"
    acid, caustic = book.find(Key.PH_ACID), book.find(Key.PH_CAUSTIC)
    if acid.amount is None or caustic.amount is None:
        return no_number(title, acid, _acidity_given(ph_hundredths, temperature_decicelsius), _FORMULA)
    rules = (acid, caustic, *_tempering(book))
    given = _acidity_given(ph_hundredths, temperature_decicelsius)
    if ph_hundredths is None:
        return Finding(title, Verdict.MEASURE, _MEASURE_PH, rules, given, _FORMULA)
    if ph_hundredths <= acid.amount.exact:
        says = f"{ph_words(ph_hundredths)} reaches the limit: {acid.words} or less is corrosive waste. {DETERMINES}"
        return Finding(title, Verdict.REACHED, says, rules, given, _FORMULA)
    if ph_hundredths >= caustic.amount.exact:
        says = f"{ph_words(ph_hundredths)} reaches the limit: {caustic.words} or more is corrosive waste. {DETERMINES}"
        return Finding(title, Verdict.REACHED, says, rules, given, _FORMULA)
    again = _measure_again(book, ph_hundredths, temperature_decicelsius)
    if again is not None:
        return Finding(title, Verdict.MEASURE, again, rules, given, _FORMULA)
    return _below(title, ph_words(ph_hundredths), "this limit", rules, given, _FORMULA, poured_since_ul)


def silver(book: RuleBook, *, ug_per_l: int | None, poured_since_ul: int = 0) -> Finding:
    """Whether measured silver reaches the limit of toxic waste."""
    return _metal(book.find(Key.SILVER), "silver", ug_per_l, poured_since_ul)


def chromium(book: RuleBook, *, ug_per_l: int | None, poured_since_ul: int = 0) -> Finding:
    """Whether measured chromium, of whatever kind, reaches the limit of toxic waste."""
    return _metal(book.find(Key.CHROMIUM), "chromium", ug_per_l, poured_since_ul)


def strength_words(ug_per_l: int) -> str:
    """Micrograms a litre for a person, in the rule's unit: `4.99 mg/L`.

    >>> strength_words(4990)
    '4.99 mg/L'
    """
    return f"{(Decimal(ug_per_l) / 1000).normalize():f} mg/L"


def _below(
    title: str,
    measured: str,
    limit: str,
    rules: tuple[RuleInForce, ...],
    given: tuple[Given, ...],
    formula: str,
    poured_since_ul: int,
) -> Finding:
    """The answer to a measurement that does not reach its limit; to be measured again where something came in since."""
    says = f"{measured} does not reach {limit}. {DETERMINES}"
    if poured_since_ul <= 0:
        return Finding(title, Verdict.BELOW, says, rules, given, formula)
    given += (Given("poured in since", volume_words(poured_since_ul)),)
    says = f"{measured} did not reach {limit}, but {volume_words(poured_since_ul)} came in since: measure again. {DETERMINES}"
    return Finding(title, Verdict.MEASURE, says, rules, given, formula)


def _metal(rule: RuleInForce, name: str, ug_per_l: int | None, poured_since_ul: int) -> Finding:
    given = (Given(name, "not measured" if ug_per_l is None else strength_words(ug_per_l)),)
    formula = f"{name} ≥ limit"
    if rule.amount is None:
        return no_number(name, rule, given, formula)
    if ug_per_l is None:
        says = f"Have the {name} measured in a sample of what is in the container, and write it down in mg/L."
        return Finding(name, Verdict.MEASURE, says, (rule,), given, formula)
    if ug_per_l >= rule.amount.exact:
        says = f"{strength_words(ug_per_l)} of {name} reaches the limit of {rule.words}. {DETERMINES}"
        return Finding(name, Verdict.REACHED, says, (rule,), given, formula)
    measured = f"{strength_words(ug_per_l)} of {name}"
    return _below(name, measured, f"this limit of {rule.words}", (rule,), given, formula, poured_since_ul)


def _acidity_given(ph_hundredths: int | None, temperature_decicelsius: int | None) -> tuple[Given, ...]:
    return (
        Given("pH", "not measured" if ph_hundredths is None else f"{Decimal(ph_hundredths) / 100:f}"),
        Given(
            "temperature of the sample",
            "not measured" if temperature_decicelsius is None else celsius_words(temperature_decicelsius),
        ),
    )


def _tempering(book: RuleBook) -> tuple[RuleInForce, ...]:
    keys = (Key.PH_TEMPERED_ABOVE, Key.PH_TEMPERATURE, Key.PH_TEMPERATURE_BAND)
    return tuple(rule for rule in map(book.find, keys) if rule.rule is not None or rule.override is not None)


def _measure_again(book: RuleBook, ph_hundredths: int, temperature_decicelsius: int | None) -> str | None:
    above, at, band = (
        book.find(key).amount for key in (Key.PH_TEMPERED_ABOVE, Key.PH_TEMPERATURE, Key.PH_TEMPERATURE_BAND)
    )
    if above is None or at is None or band is None or ph_hundredths <= above.exact:
        return None
    if temperature_decicelsius is not None and abs(temperature_decicelsius - at.exact) <= band.exact:
        return None
    return (
        f"Above pH {above.words} the method wants the sample at {at.number:f} ± {band.words}: "
        f"measure {ph_words(ph_hundredths)} again there. {DETERMINES}"
    )
