"""Rules of the United Kingdom, as they stand for England and Wales; Scotland and Northern Ireland have their own."""

from dataclasses import replace
from datetime import date

from server.core.waste_rules import good_practice
from server.core.waste_rules.european_union import CORROSIVE, LIST_OF_WASTE, METALS
from server.core.waste_rules.rule import Key, Rule, RuleSet, number

_REGULATIONS = "Hazardous Waste (England and Wales) Regulations 2005"
_GUIDANCE = "guidance of the government as a council's business page repeats it, read"
REGISTRATION_ENDED = date(2016, 4, 1)
_NO_NUMBER = (
    "These regulations name no number. Lay the site's own over the set once the waste office has named it."
)
_REGISTRATION = Rule(
    Key.REGISTRATION_FROM,
    number(Key.REGISTRATION_FROM, "500"),
    "Premises that produce 500 kg of hazardous waste or more in twelve months are registered.",
    _REGULATIONS,
    "the Environment Agency's notice of the change, read",
    None,
    REGISTRATION_ENDED,
)

UNITED_KINGDOM = RuleSet(
    "uk",
    "United Kingdom",
    "United Kingdom",
    "a site in England or Wales; elsewhere ask which regulations hold",
    (
        "These are the regulations of England and Wales. Scotland and Northern Ireland have their own: the waste office knows them.",
        "A consignment note goes with hazardous waste that leaves; wastes are classified by code and hazardous property, and kept apart.",
    ),
    (
        replace(
            LIST_OF_WASTE,
            edition="List of Wastes, chapter 09 01, as the United Kingdom keeps it",
            source="public code tables of the European list, read; that the United Kingdom keeps it, from memory",
        ),
        *(replace(rule, edition="GB CLP, as in CLP Annex I, section 3.2.3.1.2") for rule in CORROSIVE),
        *(replace(rule, edition="guidance on classifying waste (WM3)") for rule in METALS),
        Rule(
            Key.LABEL,
            ("Hazardous waste",),
            "Hazardous waste is kept apart and marked, so that nobody takes it for anything else.",
            _REGULATIONS,
            _GUIDANCE,
        ),
        Rule(
            Key.LABEL_FACTS,
            (
                "waste code and hazardous property",
                "what is in it, and its hazards with their signs",
                "name of the lab",
                "label and signs of the size that the container asks for",
            ),
            "The least size of label and signs follows what the container holds.",
            "GB CLP, the sizes of CLP Annex I, table 1.3",
            "a public copy of the annex, read; that the sizes are kept, from memory",
        ),
        Rule(
            Key.MIXING,
            ("no hazardous waste with another kind, with other waste or with anything else",),
            "Hazardous wastes are kept separate.",
            _REGULATIONS,
            _GUIDANCE,
        ),
        Rule(
            Key.SHIPPING,
            (
                "a consignment note with its code",
                "waste code and hazardous property",
                "quantity, as measured or well estimated",
            ),
            "What goes with hazardous waste that leaves the premises.",
            _REGULATIONS,
            _GUIDANCE,
        ),
        Rule(
            Key.RECORD_YEARS,
            number(Key.RECORD_YEARS, "3"),
            "A producer keeps its register of consignment notes three years.",
            _REGULATIONS,
            _GUIDANCE,
        ),
        _REGISTRATION,
        replace(
            _REGISTRATION,
            value=None,
            says="Premises are no longer registered in England, and the limit of 500 kg in twelve months is gone. Ask elsewhere.",
            edition="change of 1 April 2016, England",
            since=REGISTRATION_ENDED,
            until=None,
        ),
        *(
            Rule(key, None, _NO_NUMBER, _REGULATIONS, "from memory")
            for key in (Key.AREA_MOST, Key.AREA_DAYS, Key.LABORATORY_MOST, Key.SITE_MOST, Key.CENTRAL_DAYS)
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
