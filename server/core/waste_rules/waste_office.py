"""The set of a lab that has chosen no jurisdiction: good practice, and for every limit of law the question to ask."""

from server.core.waste_rules import good_practice
from server.core.waste_rules.rule import SUBJECTS, Key, Rule, RuleSet

_PRACTICE = (
    good_practice.CONTAINMENT,
    good_practice.FILL,
    good_practice.WEEKLY,
    good_practice.FULL_DAYS,
    good_practice.REMOVAL_DAYS,
    good_practice.REMOVAL_MONTHS,
)
_ASKED = (
    Key.AREA_MOST,
    Key.AREA_DAYS,
    Key.LABORATORY_MOST,
    Key.SITE_MOST,
    Key.CENTRAL_DAYS,
    Key.PH_ACID,
    Key.PH_CAUSTIC,
    Key.SILVER,
    Key.CHROMIUM,
    Key.RECORD_YEARS,
    Key.LABEL,
    Key.CODES,
)

WASTE_OFFICE = RuleSet(
    "waste-office",
    "Ask my waste office",
    "wherever the lab is",
    "a lab whose jurisdiction is none of these, or is not known yet",
    (
        "This set knows no law. Ask the waste office for each number below and lay it over the set, with what the office said as the reason.",
    ),
    (
        *_PRACTICE,
        *(
            Rule(
                key,
                None,
                f"Ask the waste office for {SUBJECTS[key].title}.",
                "none: ask the waste office",
                "none",
            )
            for key in _ASKED
        ),
    ),
)
