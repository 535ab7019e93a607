"""Rules of the European Union. Member states say how long waste may stay and how much of it."""

from decimal import Decimal

from server.core.label_sizes import ACID_PH_HUNDREDTHS, CAUSTIC_PH_HUNDREDTHS
from server.core.waste_rules import good_practice
from server.core.waste_rules.rule import Key, Rule, RuleSet, number

# The asterisk is part of the code: it makes a waste hazardous by the list itself, whatever is measured.
LIST_OF_WASTE = Rule(
    Key.CODES,
    (
        "09 01 01* water-based developer and activator solutions",
        "09 01 02* water-based offset plate developer solutions",
        "09 01 03* solvent-based developer solutions",
        "09 01 04* fixer solutions",
        "09 01 05* bleach solutions and bleach fixer solutions",
        "09 01 06* wastes containing silver from on-site treatment of photographic wastes",
        "09 01 07 film and paper containing silver or its compounds",
        "09 01 08 film and paper free of silver and its compounds",
        "09 01 13* aqueous liquid waste from on-site reclamation of silver other than 09 01 06",
        "09 01 99 wastes not otherwise specified",
    ),
    "Codes of the photographic industry. The asterisk belongs to the code and makes the waste hazardous by the list, whatever is measured. "
    "Whoever classifies the waste chooses; collected rinse has no code of its own here.",
    "Decision 2000/532/EC as amended by 2014/955/EU, chapter 09 01",
    "public code tables, read; 09 01 13* and 09 01 99 from memory",
)


def _ph(hundredths: int) -> str:
    """A pH as its rule writes it.

    >>> _ph(1150)
    '11.5'
    """
    return str(Decimal(hundredths) / 100)


CORROSIVE = (
    Rule(
        Key.PH_ACID,
        number(Key.PH_ACID, _ph(ACID_PH_HUNDREDTHS)),
        "A mixture of pH 2 or less is handled as corrosive, unless data on how well it buffers say otherwise.",
        "CLP Annex I, section 3.2.3.1.2, which property HP 8 leans on",
        "from memory",
    ),
    Rule(
        Key.PH_CAUSTIC,
        number(Key.PH_CAUSTIC, _ph(CAUSTIC_PH_HUNDREDTHS)),
        "A mixture of pH 11.5 or more is handled as corrosive, unless data on how well it buffers say otherwise.",
        "CLP Annex I, section 3.2.3.1.2, which property HP 8 leans on",
        "from memory",
    ),
)
_METALS = "This set names no concentration in the waste itself: the code decides, then the hazardous properties HP 1 to HP 15. Ask the waste office."
METALS = (
    Rule(Key.SILVER, None, _METALS, "Directive 2008/98/EC, Annex III", "from memory"),
    Rule(Key.CHROMIUM, None, _METALS, "Directive 2008/98/EC, Annex III", "from memory"),
)
_STATES = "The rules of the member state, or the permit, say how long and how much. Lay their numbers over the set once the waste office has named them."
NO_NUMBERS = tuple(
    Rule(key, None, _STATES, "rules of the member state", "not read")
    for key in (Key.AREA_MOST, Key.AREA_DAYS, Key.LABORATORY_MOST, Key.SITE_MOST, Key.CENTRAL_DAYS)
)

EUROPEAN_UNION = RuleSet(
    "eu",
    "European Union",
    "European Union",
    "a site in a member state",
    (
        "Directives become law through the member state, whose rules may ask for more: the waste office knows them.",
        "A code with an asterisk is hazardous by the list; a code without one may be, by what is in the waste.",
    ),
    (
        LIST_OF_WASTE,
        *CORROSIVE,
        *METALS,
        Rule(
            Key.LABEL,
            ("Hazardous waste",),
            "Hazardous waste is packed and labelled by the rules for substances and for transport.",
            "Directive 2008/98/EC, article 19",
            "from memory",
        ),
        Rule(
            Key.LABEL_FACTS,
            (
                "waste code",
                "what is in it, and its hazards with their signs",
                "name of the lab",
                "label and signs of the size that the container asks for",
            ),
            "The least size of label and signs follows what the container holds.",
            "CLP Annex I, section 1.2.1, table 1.3",
            "a public copy of the annex, read",
        ),
        Rule(
            Key.MIXING,
            ("no hazardous waste with another kind, with other waste or with anything else", "no dilution"),
            "Hazardous wastes are not mixed, and dilution counts as mixing.",
            "Directive 2008/98/EC, article 18",
            "from memory",
        ),
        *NO_NUMBERS,
        Rule(
            Key.RECORD_YEARS,
            number(Key.RECORD_YEARS, "3"),
            "Records of hazardous waste are kept at least three years.",
            "Directive 2008/98/EC, article 35",
            "from memory",
        ),
        good_practice.CONTAINMENT,
        good_practice.FILL,
        good_practice.FULL_DAYS,
        good_practice.REMOVAL_DAYS,
        good_practice.REMOVAL_MONTHS,
        good_practice.WEEKLY,
    ),
    labels_by_volume=True,
)
