"""What a plate leaves of rinse, learned from the classes whose rinse was poured out. Volumes are microlitres."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt

from server.core.units import volume_words

# Assumed until so many classes are behind the figure: how much one class's rinse per plate differs from another's.
ASSUMED_SPREAD_PERCENT = 20
FEWEST_CLASSES = 5


@dataclass(frozen=True)
class ClassRinse:
    """One class: the plates that it put through the trays and the rinse that was poured out for it. `key` is its rotation."""

    key: int
    name: str
    plates: int
    rinse_ul: int

    @property
    def per_plate_ul(self) -> int:
        return round(Fraction(self.rinse_ul, self.plates))


@dataclass(frozen=True)
class RinsePerPlate:
    """Rinse per plate: its mean, and by how much a whole class differs from it (standard deviation).

    `classes` is how many of the lab's own were found. While they are too few, mean and spread are assumed and count as much as
    `FEWEST_CLASSES` classes would.
    """

    mean_ul: int
    spread_ul: int
    classes: int
    is_assumed: bool

    @property
    def behind(self) -> int:
        """How many classes the mean counts as, for how far it may be off itself."""
        return max(self.classes, FEWEST_CLASSES)


def rinse_words(found: RinsePerPlate) -> tuple[str, ...]:
    """Where the rinse per plate is from, in sentences for the page that counts with it."""
    mean, spread = volume_words(found.mean_ul), volume_words(found.spread_ul)
    if found.is_assumed:
        classes = f"Classes of this lab whose rinse and plates were logged so far: {found.classes}"
        return (
            f"Rinse per plate: {mean} of the usual quantities, and {spread} more or less from class to class, which is assumed.",
            f"{classes}; from {FEWEST_CLASSES} on they count instead.",
        )
    return (
        (
            f"Rinse per plate: {mean}, all rinse ÷ all plates of the lab's latest {found.classes} classes; "
            f"a class differs from it by {spread} (standard deviation)."
        ),
    )


def assumed_rinse(usual_ul_per_plate: int, *, classes: int = 0) -> RinsePerPlate:
    """The lab's usual figure with the assumed spread."""
    spread_ul = usual_ul_per_plate * ASSUMED_SPREAD_PERCENT // 100
    return RinsePerPlate(usual_ul_per_plate, spread_ul, classes, is_assumed=True)


def rinse_per_plate(classes: Sequence[ClassRinse], *, usual_ul_per_plate: int) -> RinsePerPlate:
    """The lab's own rinse per plate from five classes on, before that the usual figure.

    The mean is all rinse ÷ all plates, so that the classes together come out as they were poured. The spread is the root of the mean
    squared distance of a class from it, each class weighing as many plates as it made, times n ÷ (n − 1) under the root.

    >>> five = [ClassRinse(number, "", 12, litres * 1_000_000) for number, litres in enumerate((2, 2, 2, 3, 3))]
    >>> rinse_per_plate(five, usual_ul_per_plate=166_667)
    RinsePerPlate(mean_ul=200000, spread_ul=45643, classes=5, is_assumed=False)
    """
    counted = [one for one in classes if one.plates > 0]
    if len(counted) < FEWEST_CLASSES:
        return assumed_rinse(usual_ul_per_plate, classes=len(counted))
    plates, rinse_ul = sum(one.plates for one in counted), sum(one.rinse_ul for one in counted)
    mean = Fraction(rinse_ul, plates)
    squares = sum((Fraction(one.rinse_ul) - one.plates * mean) ** 2 / one.plates for one in counted)
    variance = squares / plates * Fraction(len(counted), len(counted) - 1)
    return RinsePerPlate(round(mean), isqrt(int(variance)), len(counted), is_assumed=False)
