"""What every set asks for besides its own rules: how full, what stands under it, how often somebody looks, how long records are kept."""

from server.core.headspace import USUAL_FILL_PERCENT
from server.core.waste_rules.rule import Key, Rule, number

_ASK = "This set names no number. Where your campus has one, the waste office says it, and it is laid over the set here."

CONTAINMENT = Rule(
    Key.CONTAINMENT,
    number(Key.CONTAINMENT, "10"),
    "What stands under containers of liquid holds a tenth of all their capacities or the largest one, whichever is more. "
    "Containers without liquid don't count.",
    "40 CFR 264.175(b)(3), for permitted facilities; good practice elsewhere",
    "the 2015 edition of the Code of Federal Regulations, read",
)
FILL = Rule(
    Key.FILL,
    number(Key.FILL, str(USUAL_FILL_PERCENT)),
    "A container is full at nine tenths of what it holds to the brim: liquids expand.",
    "assumed; campus rules of 75, 80 and 90 % are in use",
    "instructions of several university waste offices, read",
)
FULL_DAYS = Rule(Key.FULL_DAYS, None, _ASK, "campus rules; three days is common", "common practice")
REMOVAL_DAYS = Rule(Key.REMOVAL_DAYS, None, _ASK, "campus rules; 90 days is common", "common practice")
REMOVAL_MONTHS = Rule(
    Key.REMOVAL_MONTHS,
    None,
    "This set gives a container at the bench no longest time. Where your campus gives one, such as six months, it is laid over the set "
    "here.",
    "campus rules; six months is common",
    "common practice",
)
WEEKLY = Rule(
    Key.INSPECTION_DAYS,
    number(Key.INSPECTION_DAYS, "7"),
    "Somebody looks at every container once a week: shut, labelled, sound, nothing leaks.",
    "common practice",
    "common practice; some sites look monthly",
)
