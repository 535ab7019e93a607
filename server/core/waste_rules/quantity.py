"""Numbers in a rule's own unit, and exactly what they are in the program's own whole units."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

_TYPED = re.compile(r"([0-9]{1,9}(?:[.,][0-9]{1,6})?)\s*(.*)")
_TWO_MEANINGS = re.compile(r"[0-9]{1,3},[0-9]{3}")


class Dimension(StrEnum):
    """What is measured. In brackets the program's own unit."""

    VOLUME = "volume"  # µL
    MASS = "mass"  # mg
    DAYS = "days"
    MONTHS = "months"
    YEARS = "years"
    PERCENT = "percentage"
    STRENGTH = "concentration"  # µg/L
    ACIDITY = "pH"  # hundredths
    TEMPERATURE = "temperature"  # tenths of a degree Celsius
    DISTANCE = "distance"  # miles


# Units as rules write them, each in the program's own. A US gallon is 231 cubic inches of 25.4 mm, a quart is a quarter of it.
UNITS: Mapping[Dimension, Mapping[str, Decimal]] = {
    Dimension.VOLUME: {
        "gal": Decimal("3785411.784"),
        "qt": Decimal("946352.946"),
        "L": Decimal(1_000_000),
        "mL": Decimal(1_000),
    },
    Dimension.MASS: {"kg": Decimal(1_000_000), "g": Decimal(1_000)},
    Dimension.DAYS: {"days": Decimal(1), "day": Decimal(1)},
    Dimension.MONTHS: {"months": Decimal(1), "month": Decimal(1)},
    Dimension.YEARS: {"years": Decimal(1), "year": Decimal(1)},
    Dimension.PERCENT: {"%": Decimal(1)},
    Dimension.STRENGTH: {"mg/L": Decimal(1_000)},
    Dimension.ACIDITY: {"": Decimal(100), "pH": Decimal(100)},
    Dimension.TEMPERATURE: {"°C": Decimal(10)},
    Dimension.DISTANCE: {"miles": Decimal(1)},
}
_WHOLE = frozenset({Dimension.DAYS, Dimension.MONTHS, Dimension.YEARS})
# Ten years of days, a hundred years, a thousand tonnes: no rule asks for more, and every date stays inside the calendar.
_MOST: Mapping[Dimension, Decimal] = {
    Dimension.VOLUME: Decimal(10) ** 12,
    Dimension.MASS: Decimal(10) ** 12,
    Dimension.DAYS: Decimal(3660),
    Dimension.MONTHS: Decimal(120),
    Dimension.YEARS: Decimal(100),
    Dimension.PERCENT: Decimal(100),
    Dimension.STRENGTH: Decimal(10) ** 9,
    Dimension.ACIDITY: Decimal(1400),
    Dimension.TEMPERATURE: Decimal(1000),
    Dimension.DISTANCE: Decimal(10_000),
}


@dataclass(frozen=True)
class Quantity:
    """A number with the unit it was written in. Raises KeyError for a unit that is not one of its dimension."""

    number: Decimal
    dimension: Dimension
    unit: str

    @property
    def exact(self) -> Decimal:
        """The same in the program's own unit (µL, mg, days, hundredths of pH …), without rounding.

        >>> Quantity(Decimal(55), Dimension.VOLUME, "gal").exact
        Decimal('208197648.120')
        """
        return self.number * UNITS[self.dimension][self.unit]

    @property
    def words(self) -> str:
        """As it was written: `55 gal`, `12.5`, `1 day`.

        >>> Quantity(Decimal("5.0"), Dimension.STRENGTH, "mg/L").words
        '5.0 mg/L'
        """
        number = f"{self.number:f}"
        unit = self.unit
        if self.dimension in _WHOLE:
            unit = unit.rstrip("s") if self.number == 1 else f"{unit.rstrip('s')}s"
        return f"{number} {unit}".rstrip() if self.dimension != Dimension.ACIDITY else number


def read_quantity(text: str, *, dimension: Dimension, unit: str) -> Quantity:
    """Return what somebody typed, such as `200 L` or `90` (then in `unit`). Raises ValueError with a sentence for a person.

    >>> read_quantity("200 l", dimension=Dimension.VOLUME, unit="gal").words
    '200 L'
    """
    typed = text.strip()
    match = _TYPED.fullmatch(typed)
    offered = [name for name in UNITS[dimension] if name]
    if match is None:
        message = f"“{typed}” is not a number. Please write one such as 3 or 2.5."
        raise ValueError(message)
    digits, named = match.groups()
    if _TWO_MEANINGS.fullmatch(digits):
        message = f"“{digits}” could mean two things. Please write it without a comma."
        raise ValueError(message)
    known = {name.lower(): name for name in UNITS[dimension]}
    if named and named.lower() not in known:
        message = f"“{named}” is not a unit of {dimension} here. Please use {' or '.join(offered)}."
        raise ValueError(message)
    found = Quantity(Decimal(digits.replace(",", ".")), dimension, known[named.lower()] if named else unit)
    if dimension in _WHOLE and found.number != found.number.to_integral_value():
        message = f"Only whole {dimension} count. Please write a whole number."
        raise ValueError(message)
    if found.exact > _MOST[dimension]:
        message = f"“{typed}” is more than any rule says. Please check the number and its unit."
        raise ValueError(message)
    return found
