"""Federal rules of the United States. Many states ask for more, and a change holds in a state from the day the state takes it over."""

from dataclasses import replace
from datetime import date

from server.core.waste_rules import good_practice
from server.core.waste_rules.rule import Establishment, Key, Rule, RuleSet, number

# The generator rules were put in order anew on this day (81 FR 85732 of 28 November 2016); the numbers here are those of the new order.
REORDERED = date(2017, 5, 30)
# The first day of the rules for academic laboratories (73 FR 72912 of 1 December 2008, from memory).
ACADEMIC = date(2008, 12, 31)

_STATES = (
    "Federal rules. Your state may ask for more, and a change holds there only from the day on which the state took it over: the waste "
    "office knows."
)
_SITE = "The category is the whole site's, for one calendar month. A lab's ledger is only its contribution; the waste office adds up the site."
_TABLE = "40 CFR 262.13, table 1; 40 CFR 260.10"
_TABLE_READ = "a training firm's copy of the table and Washington's WAC 173-303-169, read"
_SATELLITE = "40 CFR 262.15(a)"
_SATELLITE_READ = "word-for-word adoptions of Utah (R315-262-15) and Wisconsin (NR 662.015), read"
_TOXICITY = "40 CFR 261.24(a), table 1"
_TOXICITY_READ = "the 2004 edition of the Code of Federal Regulations, read"
_PH = "40 CFR 261.22(a)(1)"
_PH_READ = "the 2015 edition of the Code of Federal Regulations, read"
_ACADEMIC_2015 = "the 2015 edition of the Code of Federal Regulations, read"

_CATEGORY = (
    Rule(
        Key.VSQG_MOST,
        number(Key.VSQG_MOST, "100"),
        "Up to and with 100 kg of non-acute waste in the month a site is a very small quantity generator.",
        _TABLE,
        _TABLE_READ,
        REORDERED,
    ),
    Rule(
        Key.LQG_FROM,
        number(Key.LQG_FROM, "1000"),
        "From exactly 1000 kg of non-acute waste in the month on a site is a large quantity generator.",
        _TABLE,
        _TABLE_READ,
        REORDERED,
    ),
    Rule(
        Key.ACUTE_MOST,
        number(Key.ACUTE_MOST, "1"),
        "With more than 1 kg of acute waste in the month a site is a large quantity generator.",
        _TABLE,
        _TABLE_READ,
        REORDERED,
    ),
    Rule(
        Key.SPILL_MOST,
        number(Key.SPILL_MOST, "100"),
        "With more than 100 kg of residue from spills of acute waste in the month a site is a large quantity generator.",
        _TABLE,
        _TABLE_READ,
        REORDERED,
    ),
)

_CHARACTERISTICS = (
    Rule(
        Key.PH_ACID,
        number(Key.PH_ACID, "2"),
        "A liquid with water in it of pH 2 or less is corrosive waste, D002.",
        _PH,
        _PH_READ,
    ),
    Rule(
        Key.PH_CAUSTIC,
        number(Key.PH_CAUSTIC, "12.5"),
        "A liquid with water in it of pH 12.5 or more is corrosive waste, D002.",
        _PH,
        _PH_READ,
    ),
    Rule(
        Key.PH_TEMPERED_ABOVE,
        number(Key.PH_TEMPERED_ABOVE, "12"),
        "Above pH 12 the sample is measured at one temperature, because there its pH moves with it: about 0.20 in 10 °F at pH 13.",
        "Method 9040C",
        "from memory; how far the pH moves: a navy photography manual, read",
    ),
    Rule(
        Key.PH_TEMPERATURE,
        number(Key.PH_TEMPERATURE, "25"),
        "That temperature is 25 °C.",
        "Method 9040C",
        "from memory",
    ),
    Rule(
        Key.PH_TEMPERATURE_BAND,
        number(Key.PH_TEMPERATURE_BAND, "1"),
        "One degree more or less is near enough.",
        "Method 9040C",
        "from memory",
    ),
    Rule(
        Key.SILVER,
        number(Key.SILVER, "5.0"),
        "With 5.0 mg of silver or more in a litre of its extract a waste is toxic waste, D011. A liquid with less than 0.5 % of solids is "
        "its own extract once it is filtered.",
        _TOXICITY,
        _TOXICITY_READ,
    ),
    Rule(
        Key.CHROMIUM,
        number(Key.CHROMIUM, "5.0"),
        "With 5.0 mg of chromium or more in a litre of its extract, of whatever kind, a waste is toxic waste, D007.",
        _TOXICITY,
        _TOXICITY_READ,
    ),
    Rule(
        Key.CODES,
        (
            "D002 corrosive: pH 2 or less, 12.5 or more",
            "D007 toxic: chromium",
            "D011 toxic: silver",
            "D001 oxidizer: solid dichromate or persulfate",
        ),
        "Codes that this lab's wastes may carry. The waste office chooses; copper has no federal code, and a state may have one.",
        "40 CFR 261.21 to 261.24",
        "261.22 and 261.24 read; 261.21 and states' rules from memory",
    ),
    Rule(
        Key.MIXING,
        (
            "nothing that reacts with what is in the container",
            "nothing into an unwashed container that held what it reacts with",
            "no dilution to come below a limit",
        ),
        "Wastes that react stay apart, in containers and on the shelf; diluting in place of treating is prohibited.",
        "40 CFR 265.177; 40 CFR 268.3(a)",
        "the 2015 edition of the Code of Federal Regulations, read",
    ),
)

_SHIPPING = (
    Rule(
        Key.SHIPPING,
        (
            "HAZARDOUS WASTE – Federal Law Prohibits Improper Disposal",
            "generator’s name and address",
            "EPA identification number",
            "manifest tracking number",
        ),
        "What a container of up to 119 gallons carries when it leaves the site. The waste office fills it in.",
        "40 CFR 262.32(b), before the generator rules were put in order anew",
        _ACADEMIC_2015,
        None,
        REORDERED,
    ),
    Rule(
        Key.SHIPPING,
        (
            "HAZARDOUS WASTE – Federal Law Prohibits Improper Disposal",
            "generator’s name and address",
            "EPA identification number",
            "manifest tracking number",
            "waste codes",
        ),
        "What a container of up to 119 gallons carries when it leaves the site. The waste office fills it in.",
        "40 CFR 262.32(b)",
        "the 2015 edition, read; the waste codes, added since, from memory",
        REORDERED,
    ),
    Rule(
        Key.RECORD_YEARS,
        number(Key.RECORD_YEARS, "3"),
        "Signed manifests are kept three years, and what was determined of a waste three years from its last shipment.",
        "40 CFR 262.40 and 262.11(f)",
        "the 2015 edition of the Code of Federal Regulations, read; the newer number from memory",
    ),
    good_practice.CONTAINMENT,
    good_practice.FILL,
    good_practice.FULL_DAYS,
    good_practice.REMOVAL_DAYS,
)

_IN_THE_MONTH = Rule(
    Key.COUNTING,
    ("in the month in which it becomes waste",),
    "Waste counts once, in the calendar month in which it becomes waste. Months are never averaged.",
    "40 CFR 262.13",
    "Utah's word-for-word adoption (R315-262-13) and Washington's guidance, read",
)
_FAR = Rule(
    Key.FAR,
    number(Key.FAR, "200"),
    "The longer time holds where the waste goes to a facility 200 miles away or more.",
    "40 CFR 262.14(a)(4) and 262.16(c)",
    "Hawaii's word-for-word adoption, read; 262.16(c) from memory",
    REORDERED,
)

_AREA = (
    Rule(
        Key.AREA_MOST,
        number(Key.AREA_MOST, "55"),
        "A satellite area holds up to 55 gallons of non-acute waste in all: per area, not per container or stream. It lies at or near "
        "where the waste arises, under the control of who works there.",
        f"{_SATELLITE}; EPA's answer in its list of frequent questions",
        _SATELLITE_READ,
        REORDERED,
    ),
    Rule(
        Key.CARRYING,
        ("from a satellite area to a central one only",),
        "Waste does not move from one satellite area to another, neither carried nor poured over.",
        "EPA, frequent questions on satellite accumulation",
        "waste.zendesk.com/hc/en-us/articles/212355067, read",
    ),
    Rule(
        Key.AREA_ACUTE_LIQUID,
        number(Key.AREA_ACUTE_LIQUID, "1"),
        "A satellite area holds up to one quart of liquid acute waste.",
        _SATELLITE,
        _SATELLITE_READ,
        REORDERED,
    ),
    Rule(
        Key.AREA_ACUTE_SOLID,
        number(Key.AREA_ACUTE_SOLID, "1"),
        "A satellite area holds up to 1 kg of solid acute waste.",
        _SATELLITE,
        _SATELLITE_READ,
        REORDERED,
    ),
    Rule(
        Key.AREA_DAYS,
        number(Key.AREA_DAYS, "3"),
        "What is over the most of a satellite area is dated at once and leaves within three consecutive calendar days, not 72 hours and "
        "not working days.",
        "40 CFR 262.15(a)(6); EPA's letter on three days",
        "Wisconsin's word-for-word adoption (NR 662.015), and the letter as a training firm quotes it, read",
        REORDERED,
    ),
    Rule(
        Key.LABEL,
        ("Hazardous Waste",),
        "The words on a container in a satellite area, before hazards were asked for.",
        "40 CFR 262.34(c)(1)(ii); other words that name the contents did as well",
        "from memory",
        None,
        REORDERED,
    ),
    Rule(
        Key.LABEL,
        ("Hazardous Waste",),
        "The words on a container in a satellite or central area.",
        "40 CFR 262.15(a)(5)",
        _SATELLITE_READ,
        REORDERED,
    ),
    Rule(
        Key.LABEL_FACTS,
        ("an indication of the hazards",),
        "Beside the words: the characteristic, or the signs and statements of transport, of the workplace or of the fire service.",
        "40 CFR 262.15(a)(5)",
        _SATELLITE_READ,
        REORDERED,
    ),
    Rule(
        Key.DATING,
        (
            "no date until the area is over its most",
            "then the date, on what is over",
            "in a central area the date of the first drop",
        ),
        "A container in a satellite area needs no start date. Writing one does no harm, but no clock begins with it.",
        "40 CFR 262.15(a)(6), 262.16(b)(6) and 262.17(a)(5)",
        f"{_SATELLITE_READ}; central areas from memory",
        REORDERED,
    ),
    Rule(
        Key.CLOSED,
        ("shut, except while waste is added, removed or put together, or while it must vent",),
        "Closed is shut: a funnel in the neck is open.",
        "40 CFR 262.15(a)(4)",
        "a training firm's newsletter and instructions of university waste offices, read",
        REORDERED,
    ),
    good_practice.REMOVAL_MONTHS,
    Rule(
        Key.INSPECTION_DAYS,
        number(Key.INSPECTION_DAYS, "7"),
        "Central areas are looked at every week. For satellite areas it is good practice, and campuses ask for it.",
        "40 CFR 262.16(b)(2)(iv) and 262.17(a)(1)(v)",
        "from memory",
        REORDERED,
    ),
)

_NO_AREA = "A very small quantity generator has no federal duty here. States and campuses usually add one: ask the waste office."

VERY_SMALL = RuleSet(
    "us-very-small",
    "US very small quantity generator",
    "United States",
    "a site of at most 100 kg of non-acute waste a month",
    (_STATES, _SITE),
    (
        *_CATEGORY,
        _IN_THE_MONTH,
        Rule(
            Key.SITE_FROM,
            number(Key.SITE_FROM, "1000"),
            "From 1000 kg of non-acute waste on the site on, all of it must leave in time, counted from that date.",
            "40 CFR 262.14(a)(4)",
            "Hawaii's word-for-word adoption (HAR 11-262-14), read",
            REORDERED,
        ),
        Rule(
            Key.SITE_DAYS,
            number(Key.SITE_DAYS, "180"),
            "Once 1000 kg are on the site, 180 days. Below that there is no federal clock.",
            "40 CFR 262.14(a)(4)",
            "Hawaii's word-for-word adoption (HAR 11-262-14), read; no clock below, from memory",
            REORDERED,
        ),
        Rule(
            Key.SITE_DAYS_FAR,
            number(Key.SITE_DAYS_FAR, "270"),
            "Where the facility is 200 miles away or more, 270 days.",
            "40 CFR 262.14(a)(4)",
            "Hawaii's word-for-word adoption (HAR 11-262-14), read",
            REORDERED,
        ),
        Rule(
            Key.SITE_MOST,
            number(Key.SITE_MOST, "6000"),
            "Never more than 6000 kg on the site.",
            "40 CFR 262.14(a)(4)",
            "Hawaii's word-for-word adoption (HAR 11-262-14), read",
            REORDERED,
        ),
        _FAR,
        Rule(Key.AREA_MOST, None, _NO_AREA, "40 CFR 262.15, by its title", "title read; from memory"),
        Rule(Key.LABEL, None, _NO_AREA, "40 CFR 262.14", "from memory"),
        Rule(
            Key.CLOSED,
            ("shut, except while waste is added or removed",),
            "No federal duty; good practice everywhere. Closed is shut: a funnel in the neck is open.",
            "good practice",
            "instructions of university waste offices, read",
        ),
        good_practice.REMOVAL_MONTHS,
        good_practice.WEEKLY,
        *_CHARACTERISTICS,
        *_SHIPPING,
    ),
    largest="very small quantity generator",
)

SMALL = RuleSet(
    "us-small",
    "US small quantity generator with satellite areas",
    "United States",
    "a site of more than 100 and less than 1000 kg of non-acute waste a month",
    (_STATES, _SITE),
    (
        *_CATEGORY,
        _IN_THE_MONTH,
        *_AREA,
        Rule(
            Key.CENTRAL_DAYS,
            number(Key.CENTRAL_DAYS, "180"),
            "In a central area waste stays at most 180 days. Its clock begins when it arrives there, not with the first drop in a "
            "satellite area.",
            "40 CFR 262.16(b)",
            "a compliance handbook's chapter, read; when the clock begins: EPA's memorandum of 2004, its opening read",
            REORDERED,
        ),
        Rule(
            Key.CENTRAL_DAYS_FAR,
            number(Key.CENTRAL_DAYS_FAR, "270"),
            "Where the facility is 200 miles away or more, 270 days.",
            "40 CFR 262.16(c)",
            "from memory",
            REORDERED,
        ),
        _FAR,
        Rule(
            Key.SITE_MOST,
            number(Key.SITE_MOST, "6000"),
            "Never more than 6000 kg on the site.",
            "40 CFR 262.16(b)(1)",
            "a compliance handbook's chapter, read",
            REORDERED,
        ),
        *_CHARACTERISTICS,
        *_SHIPPING,
    ),
    largest="small quantity generator",
)

LARGE = RuleSet(
    "us-large",
    "US large quantity generator with satellite areas",
    "United States",
    "a site of 1000 kg of non-acute waste a month or more, or of more than 1 kg of acute waste",
    (_STATES, _SITE),
    (
        *_CATEGORY,
        _IN_THE_MONTH,
        *_AREA,
        Rule(
            Key.CENTRAL_DAYS,
            number(Key.CENTRAL_DAYS, "90"),
            "In a central area waste stays at most 90 days. Its clock begins when it arrives there, not with the first drop in a "
            "satellite area.",
            "40 CFR 262.17(a)",
            "Hawaii's word-for-word adoption (HAR 11-262-17), read; when the clock begins: EPA's memorandum of 2004, its opening read",
            REORDERED,
        ),
        *_CHARACTERISTICS,
        *_SHIPPING,
    ),
    largest="large quantity generator",
)

_REMOVAL = Rule(
    Key.REMOVAL_MONTHS,
    number(Key.REMOVAL_MONTHS, "12"),
    "All containers leave at a regular interval of at most twelve months, or each within twelve months of its own start date.",
    "40 CFR 262.208(a)",
    "the electronic Code of Federal Regulations of 10 June 2026, read; the day from which it holds, from memory",
    REORDERED,
)

ACADEMIC_LABORATORIES = RuleSet(
    "us-academic",
    "US academic laboratories (Subpart K)",
    "United States",
    "a teaching or research laboratory of an eligible academic entity that has notified and keeps a laboratory management plan",
    (
        _STATES,
        _SITE,
        (
            "Only a place that has notified (262.203) and keeps a laboratory management plan (262.214) works by these rules. Photo laboratories "
            "count as laboratories; undergraduates in a supervised class are not laboratory workers."
        ),
        (
            "How long waste stays in the central area follows the site's category, 90 or 180 days: the waste office says it, and it is laid "
            "over this set."
        ),
    ),
    (
        *_CATEGORY,
        Rule(
            Key.COUNTING,
            ("in the month in which it is determined",),
            "Unwanted material that turns out to be hazardous waste counts in the calendar month of its determination, not of the pour.",
            "40 CFR 262.210(b)(3) and 262.211(e)(3)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        Rule(
            Key.LABORATORY_MOST,
            number(Key.LABORATORY_MOST, "55"),
            "A laboratory holds up to 55 gallons of unwanted material in all. Over it, all containers get the date.",
            "40 CFR 262.208(d)(1)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        Rule(
            Key.LABORATORY_ACUTE_LIQUID,
            number(Key.LABORATORY_ACUTE_LIQUID, "1"),
            "A laboratory holds up to one quart of liquid reactive acutely hazardous material.",
            "40 CFR 262.208(d)(2)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        Rule(
            Key.LABORATORY_ACUTE_SOLID,
            number(Key.LABORATORY_ACUTE_SOLID, "1"),
            "A laboratory holds up to 1 kg of solid reactive acutely hazardous material.",
            "40 CFR 262.208(d)(2)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        Rule(
            Key.LABORATORY_DAYS,
            number(Key.LABORATORY_DAYS, "10"),
            "A laboratory over its most is cleared within ten calendar days or at the next removal that is booked, whichever comes first.",
            "40 CFR 262.208(d)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        replace(
            _REMOVAL,
            value=number(Key.REMOVAL_MONTHS, "6"),
            says="All containers leave at a regular interval of at most six months, or each within six months of its own start date.",
            edition="40 CFR 262.208(a), 2015 edition",
            source=_ACADEMIC_2015,
            since=ACADEMIC,
            until=REORDERED,
        ),
        _REMOVAL,
        Rule(
            Key.DETERMINATION_DAYS,
            number(Key.DETERMINATION_DAYS, "4"),
            "In the central area a trained professional determines it within four calendar days of its arrival.",
            "40 CFR 262.211",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        Rule(
            Key.CENTRAL_DAYS,
            None,
            "It follows the site's category: 90 days for a large quantity generator, 180 for a small one. Ask the waste office.",
            "40 CFR 262.16 and 262.17",
            "word-for-word adoptions, read",
            REORDERED,
        ),
        Rule(
            Key.WORKING_MOST,
            number(Key.WORKING_MOST, "2"),
            "A working container at the bench holds at most 2 gallons. It may stay open until the end of the procedure or the work shift "
            "or until it is full, whichever comes first.",
            "40 CFR 262.200 and 262.206(b)(3)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        Rule(
            Key.LABEL,
            ("Unwanted material",),
            "These words, or one other term that means the same and is used everywhere, are fixed to the container.",
            "40 CFR 262.206(a)(1)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        Rule(
            Key.LABEL_FACTS,
            ("what is in it, for whoever comes in an emergency",),
            "Fixed to the container beside the words.",
            "40 CFR 262.206(a)(1)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        Rule(
            Key.LOG_FACTS,
            ("date on which accumulation began", "enough of what is in it to give it waste codes"),
            "Need not be fixed to the container; a log that belongs to it will do.",
            "40 CFR 262.206(a)(2)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        Rule(
            Key.DATING,
            (
                "the date on which accumulation began, in the log",
                "on all containers the date on which the laboratory is over its most",
            ),
            "The removal interval begins with the first drop.",
            "40 CFR 262.206(a)(2) and 262.208(d)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        Rule(
            Key.CLOSED,
            (
                "shut, except while material is added, removed or put together",
                "a working container until the end of the procedure or shift, or until it is full",
                "while it must vent",
            ),
            "Closed is shut: a funnel in the neck is open.",
            "40 CFR 262.206(b)(3)",
            _ACADEMIC_2015,
            ACADEMIC,
        ),
        good_practice.WEEKLY,
        *_CHARACTERISTICS,
        *_SHIPPING,
    ),
    only_for=frozenset({Establishment.UNIVERSITY, Establishment.AFFILIATE}),
    counts_when_determined=True,
)
