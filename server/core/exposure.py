"""Exposure time from the dose a plate wants and the irradiance a meter showed.

The light that counts is what falls on the plate's plane. A meter that lay in that plane (tilt 0°) shows it; a meter
held square to the beam shows more, by one over the cosine of the plate's tilt.
"""

import math
import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

NANOWATTS = {"nw": 1, "uw": 1_000, "µw": 1_000, "μw": 1_000, "mw": 1_000_000}
# 100 mW/cm² is far above what any beam of a teaching lab leaves on a plate; more is a unit mistaken.
STRONGEST_NW_PER_CM2 = 100_000_000

# A person at a shutter can't hold less than a second, and a station keeps its exposure up to an hour.
SHORTEST_S = 1
LONGEST_S = 3600

TOLERANCE = Decimal("0.3")
LADDER_STEPS = 5

_TENTH = Decimal("0.1")
_WHOLE = Decimal(1)
_READING = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*(?:([nuµμm]w)(?:/cm(?:2|²))?)?", re.IGNORECASE)


@dataclass(frozen=True)
class Exposure:
    """`time_s` is the exposure in seconds to a tenth, `station_s` the whole seconds a station keeps.

    `plate_uw_per_cm2` is the irradiance in the plate's plane, to a hundredth; `cosine` to four places. Both are for
    showing: the time is computed from the unrounded values. `from_s` and `to_s` bound what usually looks the same.
    """

    time_s: Decimal
    station_s: int
    plate_uw_per_cm2: Decimal
    cosine: Decimal
    from_s: Decimal
    to_s: Decimal
    ladder_s: tuple[Decimal, ...]


@dataclass(frozen=True)
class NoExposure:
    """There is no time that a station could keep; `sentence` says why and what to change."""

    sentence: str


def cosine_of(tilt_deg: int) -> Decimal:
    """The cosine of a tilt in degrees to twelve places, so that 60° is one half and not nearly so."""
    return Decimal(math.cos(math.radians(tilt_deg))).quantize(Decimal("1e-12"))


def exposure(*, dose_uj_per_cm2: int, irradiance_nw_per_cm2: int, tilt_deg: int) -> Exposure | NoExposure:
    """Dose / (irradiance · cos tilt) in seconds, rounded half up.

    The formula is the definition of dose (radiant exposure) as irradiance times time, with Lambert's cosine law for
    the tilt; µJ/cm² over µW/cm² are seconds.
    """
    if dose_uj_per_cm2 <= 0:
        return NoExposure("This plate box has no dose. Enter the dose its plates want in Stock.")
    if irradiance_nw_per_cm2 <= 0:
        return NoExposure("The meter showed no light. Open the shutter, check the beam and measure again.")
    if not 0 <= tilt_deg < 90:  # noqa: PLR2004 - a right angle
        return NoExposure("At this tilt the beam only grazes the plate. Measure the tilt again: 0° to 89°.")
    cosine = cosine_of(tilt_deg)
    plate_uw = Decimal(irradiance_nw_per_cm2) / 1000 * cosine
    exact = Decimal(dose_uj_per_cm2) / plate_uw
    if exact < SHORTEST_S:
        return NoExposure(
            f"The dose is reached in {_rounded(exact, Decimal('0.01'))} s, shorter than a hand can open a shutter. "
            "Spread the beam wider or weaken it, then measure again."
        )
    if exact > LONGEST_S:
        return NoExposure(
            "The dose would take longer than an hour, and nothing holds still that long. "
            "Bring the laser nearer or check the meter's setting, then measure again."
        )
    return Exposure(
        time_s=_rounded(exact, _TENTH),
        station_s=int(_rounded(exact, _WHOLE)),
        plate_uw_per_cm2=_rounded(plate_uw, Decimal("0.01")),
        cosine=_rounded(cosine, Decimal("0.0001")),
        from_s=_rounded(exact * (1 - TOLERANCE), _TENTH),
        to_s=_rounded(exact * (1 + TOLERANCE), _TENTH),
        ladder_s=ladder(first_s=exact / 2, steps=LADDER_STEPS),
    )


def ladder(*, first_s: Decimal, steps: int) -> tuple[Decimal, ...]:
    """Exposure times for a test strip: from `first_s` on in half stops, each √2 times the one before, to a tenth.

    Every step is computed from the first, so that rounding does not add up.
    """
    root = Decimal(2).sqrt()
    return tuple(_rounded(first_s * root**step, _TENTH) for step in range(steps))


def irradiance_nw_per_cm2(text: str) -> int:
    """A meter's reading as whole nW/cm², from text such as `31.4`, `31.4 µW/cm²` or `0.3 mW/cm²`; bare means µW/cm².

    Raises ValueError with a sentence for a person.
    """
    match = _READING.fullmatch(text.strip())
    if match is None:
        message = f"“{text.strip()}” is not a reading. Please write it like 31.4 or 0.3 mW."
        raise ValueError(message)
    digits, named = match.groups()
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
        message = f"“{digits}” could mean two things. Please write it without a comma."
        raise ValueError(message)
    reading = Decimal(digits.replace(",", ".")) * NANOWATTS[(named or "uw").lower()]
    if reading > STRONGEST_NW_PER_CM2:
        message = "That is more than 100 mW/cm². Please check the unit on the meter."
        raise ValueError(message)
    whole = int(_rounded(reading, _WHOLE))
    if whole < 1:
        message = "The meter showed no light. Open the shutter, check the beam and measure again."
        raise ValueError(message)
    return whole


def irradiance_words(irradiance: int) -> str:
    """A reading of whole nW/cm² in words, in µW/cm²."""
    text = f"{Decimal(irradiance) / 1000:f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} µW/cm²"


def _rounded(value: Decimal, to: Decimal) -> Decimal:
    return value.quantize(to, rounding=ROUND_HALF_UP)
