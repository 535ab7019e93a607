"""What wastes hold by reactivity group, and what pairs of groups do: the chart of 1980, and rules of our own for what it has no group for.

The chart is “A Method for Determining the Compatibility of Hazardous Wastes”, EPA-600/2-80-076, United States Environmental Protection
Agency, April 1980. It speaks of strong wastes; which groups a thin bath belongs to is a judgement. A pair that isn't here is a blank,
and the chart itself says that a blank is no evidence of anything.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import product


class Group(StrEnum):
    """The chart's groups that a processing lab can meet, by their numbers, then our own by a word."""

    MINERAL_ACIDS = "1"
    OXIDIZING_ACIDS = "2"
    ORGANIC_ACIDS = "3"
    AMINES = "7"
    CAUSTICS = "10"
    TOXIC_METALS = "24"
    PHENOLS = "31"
    SULFIDES = "33"
    COMBUSTIBLES = "101"
    OXIDIZERS = "104"
    REDUCERS = "105"
    WATER = "106"
    WATER_REACTIVE = "107"
    SULFITES = "sulfites"
    CARBONATES = "carbonates"
    SILVER = "silver"
    AMMONIA = "ammonia"
    HYPOCHLORITE = "hypochlorite"
    DEVELOPER = "developer"
    BLEACH = "bleach"
    TRACES = "traces"

    @property
    def is_of_the_chart(self) -> bool:
        return self.value.isdigit()


@dataclass(frozen=True)
class GroupWords:
    """What a group is called within a sentence, and what of a lab's waste belongs to it."""

    name: str
    examples: str


WORDS: Mapping[Group, GroupWords] = {
    Group.MINERAL_ACIDS: GroupWords("mineral acids", "hydrochloric acid, sodium hydrogen sulfate"),
    Group.OXIDIZING_ACIDS: GroupWords("oxidizing mineral acids", "sulfuric acid, nitric acid, chromic acid"),
    Group.ORGANIC_ACIDS: GroupWords("organic acids", "acetic, citric, ascorbic acid"),
    Group.AMINES: GroupWords("amines", "amidol, triethanolamine"),
    Group.CAUSTICS: GroupWords("caustics", "sodium hydroxide, carbonate, alkaline developer"),
    Group.TOXIC_METALS: GroupWords("toxic metals and their salts", "silver, copper, chromium"),
    Group.PHENOLS: GroupWords("phenol-like substances", "hydroquinone, catechol, pyrogallol"),
    Group.SULFIDES: GroupWords("sulfides", "sulfide toner"),
    Group.COMBUSTIBLES: GroupWords("things that burn", "towels, solvents"),
    Group.OXIDIZERS: GroupWords("strong oxidizers", "dichromate, persulfate, permanganate"),
    Group.REDUCERS: GroupWords("strong reducers", "fresh developer, dithionite"),
    Group.WATER: GroupWords("water", "every bath, every rinse"),
    Group.WATER_REACTIVE: GroupWords("what reacts with water", "alkali metals, hydrides"),
    Group.SULFITES: GroupWords("sulfites", "sulfite, bisulfite, metabisulfite, thiosulfate"),
    Group.CARBONATES: GroupWords("carbonates", "sodium carbonate, hydrogen carbonate"),
    Group.SILVER: GroupWords("silver in solution", "spent fixer, solvent bleach, silver nitrate"),
    Group.AMMONIA: GroupWords("ammonia", "ammonia water, ammonium salts"),
    Group.HYPOCHLORITE: GroupWords("hypochlorite", "chlorine cleaner, disinfectant"),
    Group.DEVELOPER: GroupWords("photographic developer", "working developer, fresh or spent"),
    Group.BLEACH: GroupWords("photographic bleach", "copper, iron, quinone or dichromate bleach"),
    Group.TRACES: GroupWords("traces of several baths", "rinse water"),
}

# What is of the first group is of the second too.
WIDER: Mapping[Group, Group] = {
    Group.SILVER: Group.TOXIC_METALS,
    Group.AMMONIA: Group.CAUSTICS,
    Group.HYPOCHLORITE: Group.OXIDIZERS,
}


class Code(StrEnum):
    """What a pair may do, from the gravest. All but the last are the chart's codes; the last stands for its row 107."""

    EXPLOSION = "E"
    FIRE = "F"
    TOXIC_GAS = "GT"
    FLAMMABLE_GAS = "GF"
    POLYMERIZATION = "P"
    HEAT = "H"
    GAS = "G"
    SOLUBILIZATION = "S"
    UNKNOWN = "U"
    WATER_REACTIVE = "107"


CODE_WORDS: Mapping[Code, str] = {
    Code.EXPLOSION: "explosion",
    Code.FIRE: "fire",
    Code.TOXIC_GAS: "toxic gas",
    Code.FLAMMABLE_GAS: "flammable gas",
    Code.POLYMERIZATION: "violent polymerization",
    Code.HEAT: "heat",
    Code.GAS: "gas that builds up pressure",
    Code.SOLUBILIZATION: "toxic metals brought into solution",
    Code.UNKNOWN: "a mixture nobody knows",
    Code.WATER_REACTIVE: "a violent reaction",
}


class Standing(StrEnum):
    """How far an entry can be relied on."""

    READ = "read in a public copy"
    DOUBTED = "read in a public copy whose row 105 looks shifted: check it against the report"
    MEMORY = "from memory: check it against the report"
    OWN = "a rule of this program"


@dataclass(frozen=True)
class Entry:
    """What the chart says of one pair; `here` is where a processing lab meets it."""

    codes: tuple[Code, ...]
    standing: Standing
    here: str = ""


CHART_SOURCE = "EPA-600/2-80-076, April 1980"

_ROWS: Sequence[tuple[str, str, str]] = (
    ("2-3", "H,G", ""),
    ("1-7", "H", ""),
    ("2-7", "H,GT", ""),
    ("3-7", "H", ""),
    ("1-10", "H", "acid bleach and alkaline developer"),
    ("2-10", "H", "acid bleach and alkaline developer"),
    ("3-10", "H", "acid stop bath and alkaline developer"),
    ("1-24", "S", "acid keeps silver, copper and chromium in solution"),
    ("2-24", "S", "acid keeps silver, copper and chromium in solution"),
    ("3-24", "S", "acid keeps silver, copper and chromium in solution"),
    ("7-24", "S", ""),
    ("10-24", "S", "caustics keep metals in solution"),
    ("1-31", "H", "developer and acid"),
    ("2-31", "H,F", "developer and acid"),
    ("1-33", "GT,GF", "sulfide toner and acid give hydrogen sulfide"),
    ("2-33", "H,F,GF", "sulfide toner and acid give hydrogen sulfide"),
    ("3-33", "GT", "sulfide toner and acid give hydrogen sulfide"),
    ("1-101", "H,G", ""),
    ("2-101", "H,F,GT", ""),
    ("1-104", "H,GT", "acid, bromide and an oxidizer give bromine"),
    ("3-104", "H,GT", "ascorbic, citric or acetic acid and a bleach of dichromate or persulfate"),
    ("7-104", "H,F,GT", ""),
    ("31-104", "H,F", "developer and a bleach of dichromate or persulfate"),
    ("33-104", "H,F,GT", ""),
    ("101-104", "H,F,G", "towels and an oxidizer"),
    ("1-106", "H", ""),
    ("2-106", "H", ""),
    ("24-106", "S", "rinse water carries metals along"),
    ("33-106", "GT,GF", ""),
)
_DOUBTED_ROWS: Sequence[tuple[str, str, str]] = (
    ("1-105", "H,GF", "developer and acid"),
    ("2-105", "H,F,GT", "developer and acid"),
    ("3-105", "H,GF", "developer and acid"),
    ("7-105", "H,G", ""),
    ("31-105", "H,GF", ""),
    ("101-105", "H,GF", ""),
)
_REMEMBERED_ROWS: Sequence[tuple[str, str, str]] = (
    ("104-105", "H,F,E", "developer and a bleach of dichromate or persulfate"),
)


def _entries(rows: Sequence[tuple[str, str, str]], standing: Standing) -> Mapping[frozenset[Group], Entry]:
    return {
        frozenset(Group(number) for number in pair.split("-")): Entry(
            tuple(Code(code) for code in codes.split(",")), standing, here
        )
        for pair, codes, here in rows
    }


CHART: Mapping[frozenset[Group], Entry] = {
    **_entries(_ROWS, Standing.READ),
    **_entries(_DOUBTED_ROWS, Standing.DOUBTED),
    **_entries(_REMEMBERED_ROWS, Standing.MEMORY),
    # Row 107: extremely reactive, mix with nothing at all.
    **{
        frozenset({Group.WATER_REACTIVE, other}): Entry((Code.WATER_REACTIVE,), Standing.READ)
        for other in Group
        if other != Group.WATER_REACTIVE
    },
}


@dataclass(frozen=True)
class OwnRule:
    """What each group of `first` does with each of `second`, where the chart has no group for it."""

    first: tuple[Group, ...]
    second: tuple[Group, ...]
    codes: tuple[Code, ...]
    reason: str
    source: str

    @property
    def pairs(self) -> frozenset[frozenset[Group]]:
        return frozenset(frozenset(pair) for pair in product(self.first, self.second))


ACIDS = (Group.MINERAL_ACIDS, Group.OXIDIZING_ACIDS, Group.ORGANIC_ACIDS)

SULFITE_RULE = OwnRule(
    (Group.SULFITES,),
    ACIDS,
    (Code.TOXIC_GAS,),
    "sulfites and acid give sulfur dioxide, which burns eyes and lungs",
    "safety data sheets of sulfites; cjballphotography.org.uk, chemicals",
)
CARBONATE_RULE = OwnRule(
    (Group.CARBONATES,),
    ACIDS,
    (Code.GAS,),
    "carbonates and acid give carbon dioxide, which can burst a closed container",
    "by definition",
)
BLEACH_RULE = OwnRule(
    (Group.BLEACH,),
    (Group.DEVELOPER, Group.REDUCERS, Group.PHENOLS),
    (Code.HEAT, Code.UNKNOWN),
    "bleach oxidizes developer: heat, a sludge, and a mixture that must be determined anew",
    "common practice",
)
SILVER_RULE = OwnRule(
    (Group.SILVER,),
    (Group.AMMONIA, Group.AMINES),
    (Code.EXPLOSION,),
    "silver and ammonia or amines form explosive compounds on standing",
    "from memory",
)
HYPOCHLORITE_ACID_RULE = OwnRule(
    (Group.HYPOCHLORITE,),
    (*ACIDS, Group.BLEACH),
    (Code.TOXIC_GAS,),
    "hypochlorite and anything acid give chlorine",
    "from memory",
)
HYPOCHLORITE_AMMONIA_RULE = OwnRule(
    (Group.HYPOCHLORITE,),
    (Group.AMMONIA, Group.AMINES),
    (Code.TOXIC_GAS, Code.EXPLOSION),
    "hypochlorite and ammonia or amines give chloramines",
    "from memory",
)
TRACES_RULE = OwnRule(
    (Group.TRACES,),
    tuple(group for group in Group if group not in {Group.TRACES, Group.WATER, Group.WATER_REACTIVE}),
    (Code.UNKNOWN,),
    "rinse water holds traces of several baths, and thinning a waste doesn't end its hazard: the mixture must be determined anew",
    "40 CFR 268.3(a) on dilution; common practice",
)

OWN_RULES: Sequence[OwnRule] = (
    SULFITE_RULE,
    CARBONATE_RULE,
    BLEACH_RULE,
    SILVER_RULE,
    HYPOCHLORITE_ACID_RULE,
    HYPOCHLORITE_AMMONIA_RULE,
    TRACES_RULE,
)
