"""How large a label must be, how large its signs and letters, and when one is needed: rules of law as data, with edition and source.

Lengths are micrometres, volumes microlitres. What a rule says here is no legal advice; the lab's safety office knows the local one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, sqrt

LITRE = 1_000_000
ML = 1_000


class Part(StrEnum):
    """What a line of a label says. In the order in which it is given up where a label has no room for everything, the last first."""

    RULE_WORDS = "words that the rules ask for"
    NAME = "name"
    NUMBER = "number"
    SIGNAL = "signal word"
    ENDS = "end of life"
    START = "start date"
    CAUTION = "caution"
    STATEMENT = "hazard statement"
    LAB = "lab"
    FILL_LINE = "fill line"
    AREA = "where it stands"
    ROLE = "role in the process"
    WASTE = "where it goes"
    CONTENTS = "ingredient"
    CLASSIFICATION = "who classifies it"
    MADE = "when and by whom"
    EDITION = "recipe"
    FROM = "what it was mixed from"
    VOLUME = "volume"


@dataclass(frozen=True)
class LabelSize:
    """The least size of a label on a vessel that holds at most `up_to_ul` (None: whatever it holds), and of each pictogram's side.

    `pictogram_least_um` is the side below which it must never be, where the rule's own side is only wanted “if possible”.
    """

    up_to_ul: int | None
    short_um: int
    long_um: int
    pictogram_um: int
    pictogram_least_um: int

    @property
    def side_um(self) -> int:
        """The side of a pictogram: the table's, or of a fifteenth of this label's area where that is more, up to the tenth of a millimetre."""
        tenths = ceil(sqrt(self.short_um * self.long_um / 15) / 100)
        return max(self.pictogram_um, tenths * 100)


@dataclass(frozen=True)
class TextHeight:
    """The least height of a small letter x on a vessel that holds at most `up_to_ul`."""

    up_to_ul: int | None
    x_height_um: int


@dataclass(frozen=True)
class SmallContainer:
    """What must stand on a vessel that holds at most `up_to_ul` and has no room for more."""

    up_to_ul: int | None
    must: frozenset[Part]
    words: str


@dataclass(frozen=True)
class Rule:
    """Where a table of this module comes from. `applies` says from when it holds, as far as is known."""

    name: str
    edition: str
    source: str
    applies: str


SIZES_RULE = Rule(
    "label and pictogram sizes",
    "CLP Annex I, section 1.2.1, table 1.3",
    "Regulation (EC) No 1272/2008, read in a public copy of the annex",
    "in force; the United Kingdom keeps the same sizes",
)
SIZES: Sequence[LabelSize] = (
    LabelSize(3 * LITRE, 52_000, 74_000, 16_000, 10_000),
    LabelSize(50 * LITRE, 74_000, 105_000, 23_000, 23_000),
    LabelSize(500 * LITRE, 105_000, 148_000, 32_000, 32_000),
    LabelSize(None, 148_000, 210_000, 46_000, 46_000),
)

TEXT_RULE = Rule(
    "height of letters",
    "Regulation (EU) 2024/2865, amending CLP Annex I, section 1.2.1",
    "a consultant's summary of the regulation; the text itself was not read",
    "in force since December 2024; the day from which it applies has been moved more than once: ask your safety office",
)
TEXT_HEIGHTS: Sequence[TextHeight] = (
    TextHeight(LITRE // 2, 1_200),
    TextHeight(3 * LITRE, 1_400),
    TextHeight(50 * LITRE, 1_800),
    TextHeight(None, 2_000),
)
# A line and its gap, in letter sizes.
LINE_SPACING = 1.2
# How high an x is, in letter sizes: of the usual typefaces without serifs, the lowest.
X_HEIGHT = 0.5

SMALL_RULE = Rule(
    "small vessels",
    "Hazard Communication Standard of 2024, 29 CFR 1910.1200(f)(12), 89 FR 44144",
    "a labelling firm's summary; the notice's heading was read",
    "in force in the United States since 19 July 2024",
)
SMALL_CONTAINERS: Sequence[SmallContainer] = (
    SmallContainer(3 * ML, frozenset({Part.NAME}), "at least what it is"),
    SmallContainer(
        100 * ML,
        frozenset({Part.NAME, Part.SIGNAL, Part.LAB}),
        "at least what it is, the pictograms, the signal word and whose it is; the whole label on the box around it",
    ),
    SmallContainer(
        None,
        frozenset(
            {
                Part.RULE_WORDS,
                Part.NAME,
                Part.NUMBER,
                Part.SIGNAL,
                Part.ENDS,
                Part.START,
                Part.CAUTION,
                Part.STATEMENT,
            }
        ),
        "what it is, its number, its date, the pictograms, the signal word and every hazard statement",
    ),
)

CORROSIVE_RULE = Rule(
    "pH that counts as corrosive",
    "CLP Annex I, section 3.2.3.1.2",
    "Regulation (EC) No 1272/2008, from memory",
    "in force; data on how well it buffers may say otherwise",
)
ACID_PH_HUNDREDTHS, CAUSTIC_PH_HUNDREDTHS = 200, 1150

USE_RULE = Rule(
    "immediate use",
    "29 CFR 1910.1200(f)(8)",
    "the 2015 edition of the Code of Federal Regulations, read",
    "in force in the United States",
)

# How high a capital is, in letter sizes: of the usual typefaces without serifs, the lowest.
CAPITAL_HEIGHT = 0.7
# Letters are read from a distance of two hundred times their height: common practice for signs.
DISTANCE_PER_HEIGHT = 200


def size_for(vessel_ul: int) -> LabelSize:
    """Return the least label for a vessel of this capacity.

    >>> size_for(5 * LITRE).pictogram_um
    23000
    """
    return next(size for size in SIZES if size.up_to_ul is None or vessel_ul <= size.up_to_ul)


def least_letter_um(vessel_ul: int) -> int:
    """Return the least letter size (from the top of an l to the bottom of a p, about) for a vessel of this capacity."""
    rule = next(rule for rule in TEXT_HEIGHTS if rule.up_to_ul is None or vessel_ul <= rule.up_to_ul)
    return round(rule.x_height_um / X_HEIGHT)


def small_container(vessel_ul: int) -> SmallContainer:
    """Return what must stand on a vessel of this capacity, whatever else finds no room."""
    return next(rule for rule in SMALL_CONTAINERS if rule.up_to_ul is None or vessel_ul <= rule.up_to_ul)


def counts_as_corrosive(ph_hundredths: int) -> bool:
    """Whether a measured pH alone says that the bath is handled as corrosive.

    >>> [counts_as_corrosive(ph) for ph in (200, 201, 1149, 1150)]
    [True, False, False, True]
    """
    return ph_hundredths <= ACID_PH_HUNDREDTHS or ph_hundredths >= CAUSTIC_PH_HUNDREDTHS


def is_for_immediate_use(*, only_by_who_filled_it: bool, within_the_shift: bool) -> bool:
    """Whether a vessel needs no label: only who filled it uses it, and it is used up within that work shift."""
    return only_by_who_filled_it and within_the_shift


def letter_um_read_from(*, distance_um: int) -> int:
    """Return the letter size whose capitals are read from a distance.

    >>> letter_um_read_from(distance_um=700_000)
    5000
    """
    return round(distance_um / DISTANCE_PER_HEIGHT / CAPITAL_HEIGHT)
