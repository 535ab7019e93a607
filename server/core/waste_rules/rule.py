"""What a rule of waste law is: its value in its own unit, its words, its edition, its source, and the days on which it holds."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from server.core.waste_rules.quantity import Dimension, Quantity


class Key(StrEnum):
    """What a rule is about. The same key means the same in every set; its text is kept with a campus's own value."""

    VSQG_MOST = "vsqg-most"
    LQG_FROM = "lqg-from"
    ACUTE_MOST = "acute-most"
    SPILL_MOST = "spill-most"
    COUNTING = "counting"
    SITE_MOST = "site-most"
    SITE_FROM = "site-clock-from"
    SITE_DAYS = "site-days"
    SITE_DAYS_FAR = "site-days-far"
    AREA_MOST = "area-most"
    AREA_ACUTE_LIQUID = "area-acute-liquid"
    AREA_ACUTE_SOLID = "area-acute-solid"
    AREA_DAYS = "area-days"
    LABORATORY_MOST = "laboratory-most"
    LABORATORY_ACUTE_LIQUID = "laboratory-acute-liquid"
    LABORATORY_ACUTE_SOLID = "laboratory-acute-solid"
    LABORATORY_DAYS = "laboratory-days"
    WORKING_MOST = "working-most"
    REMOVAL_MONTHS = "removal-months"
    REMOVAL_DAYS = "removal-days"
    FULL_DAYS = "full-days"
    CENTRAL_DAYS = "central-days"
    CENTRAL_DAYS_FAR = "central-days-far"
    FAR = "far"
    DETERMINATION_DAYS = "determination-days"
    PH_ACID = "ph-acid"
    PH_CAUSTIC = "ph-caustic"
    PH_TEMPERED_ABOVE = "ph-tempered-above"
    PH_TEMPERATURE = "ph-temperature"
    PH_TEMPERATURE_BAND = "ph-temperature-band"
    SILVER = "silver"
    CHROMIUM = "chromium"
    CONTAINMENT = "containment"
    FILL = "fill"
    INSPECTION_DAYS = "inspection-days"
    RECORD_YEARS = "record-years"
    REGISTRATION_FROM = "registration-from"
    LABEL = "label"
    LABEL_FACTS = "label-facts"
    LOG_FACTS = "log-facts"
    DATING = "dating"
    CLOSED = "closed"
    MIXING = "mixing"
    CARRYING = "carrying"
    CODES = "codes"
    SHIPPING = "shipping"


class Tighter(StrEnum):
    """Which other value of a number asks for more: a campus may ask for more than the law, hardly for less."""

    LESS = "less"
    MORE = "more"
    NEITHER = "neither"


@dataclass(frozen=True)
class Subject:
    """What a key is called, in which unit it is written, and which way it gets stricter. Without a dimension its value is words."""

    title: str
    dimension: Dimension | None = None
    unit: str = ""
    tighter: Tighter = Tighter.LESS


_GALLONS, _QUARTS = (Dimension.VOLUME, "gal"), (Dimension.VOLUME, "qt")
_KG, _DAYS = (Dimension.MASS, "kg"), (Dimension.DAYS, "days")
SUBJECTS: Mapping[Key, Subject] = {
    Key.VSQG_MOST: Subject("the most non-acute waste in a month of a very small quantity generator", *_KG),
    Key.LQG_FROM: Subject(
        "the non-acute waste in a month from which a site is a large quantity generator", *_KG
    ),
    Key.ACUTE_MOST: Subject("acute waste in a month above which a site is a large quantity generator", *_KG),
    Key.SPILL_MOST: Subject(
        "residue of acute spills in a month above which a site is a large quantity generator", *_KG
    ),
    Key.COUNTING: Subject("the month in which waste counts"),
    Key.SITE_MOST: Subject("the most waste on the whole site", *_KG),
    Key.SITE_FROM: Subject("waste on the whole site from which its clock runs", *_KG),
    Key.SITE_DAYS: Subject("days for all waste to leave the site", *_DAYS),
    Key.SITE_DAYS_FAR: Subject("days for all waste to leave the site, to a far facility", *_DAYS),
    Key.AREA_MOST: Subject("the most non-acute waste in one area", *_GALLONS),
    Key.AREA_ACUTE_LIQUID: Subject("the most liquid acute waste in one area", *_QUARTS),
    Key.AREA_ACUTE_SOLID: Subject("the most solid acute waste in one area", *_KG),
    Key.AREA_DAYS: Subject("days to take away what is over the most of an area", *_DAYS),
    Key.LABORATORY_MOST: Subject("the most unwanted material in one laboratory", *_GALLONS),
    Key.LABORATORY_ACUTE_LIQUID: Subject(
        "the most liquid reactive acute material in one laboratory", *_QUARTS
    ),
    Key.LABORATORY_ACUTE_SOLID: Subject("the most solid reactive acute material in one laboratory", *_KG),
    Key.LABORATORY_DAYS: Subject("days to clear a laboratory that is over its most", *_DAYS),
    Key.WORKING_MOST: Subject("the largest working container at the bench", *_GALLONS),
    Key.REMOVAL_MONTHS: Subject("months until a container leaves the laboratory", Dimension.MONTHS, "months"),
    Key.REMOVAL_DAYS: Subject("days until a container leaves the laboratory", *_DAYS),
    Key.FULL_DAYS: Subject("days until a full container leaves the laboratory", *_DAYS),
    Key.CENTRAL_DAYS: Subject("days in a central area", *_DAYS),
    Key.CENTRAL_DAYS_FAR: Subject("days in a central area before a far facility", *_DAYS),
    Key.FAR: Subject("how far a far facility is", Dimension.DISTANCE, "miles", Tighter.MORE),
    Key.DETERMINATION_DAYS: Subject("days in a central area until it is determined", *_DAYS),
    Key.PH_ACID: Subject(
        "the pH at or below which a liquid is corrosive waste", Dimension.ACIDITY, "", Tighter.MORE
    ),
    Key.PH_CAUSTIC: Subject("the pH at or above which a liquid is corrosive waste", Dimension.ACIDITY, ""),
    Key.PH_TEMPERED_ABOVE: Subject(
        "the pH above which the sample is brought to one temperature", Dimension.ACIDITY, ""
    ),
    Key.PH_TEMPERATURE: Subject(
        "the temperature of such a sample", Dimension.TEMPERATURE, "°C", Tighter.NEITHER
    ),
    Key.PH_TEMPERATURE_BAND: Subject(
        "how far from that temperature the sample may be", Dimension.TEMPERATURE, "°C"
    ),
    Key.SILVER: Subject("silver at or above which a waste is toxic waste", Dimension.STRENGTH, "mg/L"),
    Key.CHROMIUM: Subject("chromium at or above which a waste is toxic waste", Dimension.STRENGTH, "mg/L"),
    Key.CONTAINMENT: Subject(
        "of all that stands in a tray, what the tray holds", Dimension.PERCENT, "%", Tighter.MORE
    ),
    Key.FILL: Subject("of what a container holds to the brim, how far it is filled", Dimension.PERCENT, "%"),
    Key.INSPECTION_DAYS: Subject("days from one look at the waste to the next", *_DAYS),
    Key.RECORD_YEARS: Subject("years to keep records", Dimension.YEARS, "years", Tighter.MORE),
    Key.REGISTRATION_FROM: Subject("waste in twelve months from which premises are registered", *_KG),
    Key.LABEL: Subject("words on a container"),
    Key.LABEL_FACTS: Subject("what else stands on a container"),
    Key.LOG_FACTS: Subject("what may stand in the log instead"),
    Key.DATING: Subject("the date on a container"),
    Key.CLOSED: Subject("when a container may be open"),
    Key.MIXING: Subject("what may go together"),
    Key.CARRYING: Subject("where waste may be carried"),
    Key.CODES: Subject("waste codes that the waste office chooses from"),
    Key.SHIPPING: Subject("what goes with a container that leaves the site"),
}

Value = Quantity | tuple[str, ...] | None


@dataclass(frozen=True)
class Rule:
    """One rule in one edition. In force from `since` (None: since before the days this program looks at) until the day before `until`.

    `value` is None where the set names no number on purpose: `says` tells whom to ask.
    """

    key: Key
    value: Value
    says: str
    edition: str
    source: str
    since: date | None = None
    until: date | None = None

    def holds_on(self, day: date) -> bool:
        return (self.since is None or self.since <= day) and (self.until is None or day < self.until)


# The keys by what they are about, in the order in which a person looks for them.
THEMES: Mapping[str, tuple[Key, ...]] = {
    "What is measured": (
        Key.PH_ACID,
        Key.PH_CAUSTIC,
        Key.PH_TEMPERED_ABOVE,
        Key.PH_TEMPERATURE,
        Key.PH_TEMPERATURE_BAND,
        Key.SILVER,
        Key.CHROMIUM,
        Key.CODES,
    ),
    "A container": (
        Key.FILL,
        Key.CONTAINMENT,
        Key.WORKING_MOST,
        Key.LABEL,
        Key.LABEL_FACTS,
        Key.LOG_FACTS,
        Key.DATING,
        Key.CLOSED,
        Key.MIXING,
        Key.FULL_DAYS,
        Key.REMOVAL_DAYS,
        Key.REMOVAL_MONTHS,
        Key.INSPECTION_DAYS,
    ),
    "An area": (Key.AREA_MOST, Key.AREA_ACUTE_LIQUID, Key.AREA_ACUTE_SOLID, Key.AREA_DAYS, Key.CARRYING),
    "A laboratory": (
        Key.LABORATORY_MOST,
        Key.LABORATORY_ACUTE_LIQUID,
        Key.LABORATORY_ACUTE_SOLID,
        Key.LABORATORY_DAYS,
    ),
    "A central area": (Key.CENTRAL_DAYS, Key.CENTRAL_DAYS_FAR, Key.DETERMINATION_DAYS, Key.FAR),
    "The whole site": (
        Key.VSQG_MOST,
        Key.LQG_FROM,
        Key.ACUTE_MOST,
        Key.SPILL_MOST,
        Key.COUNTING,
        Key.SITE_FROM,
        Key.SITE_DAYS,
        Key.SITE_DAYS_FAR,
        Key.SITE_MOST,
        Key.REGISTRATION_FROM,
    ),
    "Papers": (Key.SHIPPING, Key.RECORD_YEARS),
}


class Establishment(StrEnum):
    """What kind of place the lab belongs to: some rule sets are only for some of them."""

    UNIVERSITY = "university"
    AFFILIATE = "affiliate"
    SCHOOL = "school"
    OTHER = "other"

    @property
    def words(self) -> str:
        return _PLACES[self]


_PLACES: Mapping[Establishment, str] = {
    Establishment.UNIVERSITY: "an accredited college or university",
    Establishment.AFFILIATE: "a teaching hospital or non-profit research institute formally affiliated with one",
    Establishment.SCHOOL: "a secondary school",
    Establishment.OTHER: "another kind of place",
}


@dataclass(frozen=True)
class RuleSet:
    """The rules that one jurisdiction has for one kind of site.

    `counts_when_determined`: waste counts in the month of its determination, not of the pour. `largest` is the category the set is for:
    a month in a larger one is another set's.
    """

    key: str
    title: str
    jurisdiction: str
    who: str
    cautions: tuple[str, ...]
    rules: tuple[Rule, ...]
    only_for: frozenset[Establishment] = frozenset(Establishment)
    counts_when_determined: bool = False
    labels_by_volume: bool = False
    largest: str | None = None

    def refusals(self, establishment: Establishment) -> tuple[str, ...]:
        """Why a lab of such a place can't keep this set; nothing where it may."""
        if establishment in self.only_for:
            return ()
        others = " or ".join(one.words for one in Establishment if one in self.only_for)
        return (
            f"{self.title} are only for {others}; {establishment.words} can't choose them. Ask the waste office which rules hold here.",
        )


def number(key: Key, text: str, *, unit: str | None = None) -> Quantity:
    """Return a rule's number in its key's own unit, or in another of the same dimension.

    >>> number(Key.AREA_MOST, "55").words
    '55 gal'
    """
    subject = SUBJECTS[key]
    if subject.dimension is None:
        message = f"{key} is a rule of words, not of a number."
        raise ValueError(message)
    return Quantity(Decimal(text), subject.dimension, subject.unit if unit is None else unit)
