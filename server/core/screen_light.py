"""What a screen near open plates emits: the values of its one channel, what of it is lit, what that may fog, and its own test.

Colours are of 8 bits a channel. Luminance is relative to that of the screen's white; a screen's own setting is its white in cd/m².
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import cache
from types import MappingProxyType
from typing import Literal

from server.core.board_state import Colour

Channel = Literal["green", "red"]
Rgb = tuple[int, int, int]

# WCAG 2.2, definition of relative luminance.
_WEIGHTS: Mapping[Channel, float] = MappingProxyType({"red": 0.2126, "green": 0.7152})
_BLUE = 0.0722
# How a screen's channel is seen by a plate: the light that it stands for, as the photopic efficiency V of one wavelength
# (CIE 1924: 0.862 at 530 nm, 0.381 at 620 nm).
_EFFICIENCY: Mapping[Channel, float] = MappingProxyType({"red": 0.381, "green": 0.862})
_LUMENS_PER_WATT = 683.0

Level = Literal[1, 2, 3, 4]
LEVELS: tuple[Level, ...] = (1, 2, 3, 4)
# Assumed: a screen starts at the level that reads well in a lit room too, and goes down from there.
USUAL_LEVEL: Level = 3
# The contrast with black that each level is to reach, and the dimmest value of the channel that does; the brightest red reaches 5.25.
_CONTRASTS: Mapping[Channel, tuple[float, ...]] = MappingProxyType(
    {"green": (3.0, 4.5, 7.0, 9.2), "red": (2.0, 3.0, 4.5, 5.25)}
)
TEXT_CONTRAST, SHAPE_CONTRAST = 4.5, 3.0
_BRIGHTEST_PANEL = 60

# Assumed, the house's own limits for every page near plates: what share of the screen may be lit at all, and how bright the whole
# of it may be beside its own white.
LIT_SHARE_AT_MOST = 0.15
MEAN_LUMINANCE_AT_MOST = 0.05

# Assumed: a screen is trusted where half of the longest clear time of its test is at least this.
SAFE_FROM_S = 180

# Assumed: nobody brings a plate nearer to a screen than this without holding it there. A test at more than this is a condition.
NEAREST_MM = 500


def _linear(value: int) -> float:
    channel = value / 255
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4  # noqa: PLR2004 - the formula's own


def relative_luminance(colour: Rgb) -> float:
    """Of an sRGB colour, 0 for black and 1 for white.

    >>> round(relative_luminance((0, 255, 0)), 4)
    0.7152
    """
    red, green, blue = colour
    return _WEIGHTS["red"] * _linear(red) + _WEIGHTS["green"] * _linear(green) + _BLUE * _linear(blue)


def contrast(one: Rgb, other: Rgb) -> float:
    """WCAG's contrast of two colours, from 1 to 21. Its 0.05 is the glare of a lit room: in the dark the true one is higher.

    >>> round(contrast((0, 255, 0), (0, 0, 0)), 2)
    15.3
    """
    brighter, darker = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (brighter + 0.05) / (darker + 0.05)


def of_channel(channel: Channel, value: int) -> Rgb:
    return (0, value, 0) if channel == "green" else (value, 0, 0)


def dimmest(channel: Channel, *, reaching: float, on: int = 0) -> int | None:
    """The smallest value of the channel that stands out from the value `on` of the same channel so far; None where none does."""
    ground = of_channel(channel, on)
    return next(
        (value for value in range(on, 256) if contrast(of_channel(channel, value), ground) >= reaching), None
    )


@dataclass(frozen=True)
class Palette:
    """The values of the channel at one level: letters, quieter letters, edges, and the ground of what is chosen."""

    ink: int
    quiet: int
    edge: int
    chosen: int


@cache
def palette(channel: Channel, level: Level) -> Palette:
    """Nothing is brighter than the ink. What is chosen has a ground of its own only where its letters stay readable on it."""
    ink = dimmest(channel, reaching=_CONTRASTS[channel][level - 1])
    ink = 255 if ink is None else ink
    readable = dimmest(channel, reaching=TEXT_CONTRAST) or 255
    seen = dimmest(channel, reaching=SHAPE_CONTRAST) or 255
    grounds = (
        ground
        for ground in range(_BRIGHTEST_PANEL, -1, -1)
        if contrast(of_channel(channel, ink), of_channel(channel, ground)) >= TEXT_CONTRAST
    )
    return Palette(ink, min(ink, readable), min(ink, seen), next(grounds, 0))


def contrast_of_level(channel: Channel, level: Level) -> float:
    """Of letters on black."""
    return contrast(of_channel(channel, palette(channel, level).ink), (0, 0, 0))


@dataclass(frozen=True)
class Sight:
    """What a screen shows: the share of it that is not black, its mean luminance, and the most of red, green and blue anywhere."""

    lit_share: float
    mean_luminance: float
    most: Rgb

    @property
    def faults(self) -> tuple[str, ...]:
        found = []
        if self.lit_share > LIT_SHARE_AT_MOST:
            found.append(f"{self.lit_share:.1%} of the screen is lit")
        if self.mean_luminance > MEAN_LUMINANCE_AT_MOST:
            found.append(f"its mean luminance is {self.mean_luminance:.2%} of white")
        return tuple(found)


def look(pixels: Mapping[Rgb, int]) -> Sight:
    """What a picture of a screen shows, from how many pixels it has of each colour; there is at least one."""
    total = sum(pixels.values())
    lit = sum(count for colour, count in pixels.items() if any(colour))
    light = sum(relative_luminance(colour) * count for colour, count in pixels.items())
    red, green, blue = (max(colour[channel] for colour in pixels) for channel in range(3))
    return Sight(lit / total, light / total, (red, green, blue))


@dataclass(frozen=True)
class FogDose:
    """At the plate: illuminance, irradiance, the energy that arrives, and what of it counts as light of the laser."""

    lux: float
    uw_per_cm2: float
    uj_per_cm2: float
    counted_uj_per_cm2: float


def fog_dose(
    *,
    channel: Channel,
    mean_luminance: float,
    white_cd_per_m2: float,
    screen_mm2: float,
    distance_mm: float,
    seconds: float,
    sensitivity: float,
) -> FogDose:
    """An estimate for a plate that faces the screen: a matt emitter that is small beside its distance, on its axis.

    Illuminance is luminance times area over distance squared; irradiance is that over 683 times V of the channel's light.
    `sensitivity` is the plate's share for that light beside its laser's.
    """
    lux = mean_luminance * white_cd_per_m2 * screen_mm2 / distance_mm**2
    uw_per_cm2 = lux / (_LUMENS_PER_WATT * _EFFICIENCY[channel]) * 100
    energy = uw_per_cm2 * seconds
    return FogDose(lux, uw_per_cm2, energy, energy * sensitivity)


class Stage(StrEnum):
    """When the plate of a fog test was lit. One that was exposed, or pre-flashed to a grey just visible, is the more sensitive."""

    BEFORE = "before exposure"
    AFTER = "after exposure"


@dataclass(frozen=True)
class FogTest:
    """A coin test of one screen: `last_clear_s` is the longest time that left no mark, 0 where the first step left one.

    `distance_mm` is between the screen and the plate.
    """

    box_id: int
    colour: Colour
    level: int
    stage: Stage
    last_clear_s: int
    distance_mm: int
    made_on: date


def safe_s(last_clear_s: int) -> int:
    """Half of the longest time that left no mark, in whole seconds: the house's own rule.

    >>> safe_s(420)
    210
    """
    return last_clear_s // 2


class Trust(StrEnum):
    PASSED = "passed"
    FAILED = "failed"
    UNTESTED = "untested"


@dataclass(frozen=True)
class Screening:
    """What the tests of one screen say of it beside one box; `safe_s` is 0 where they say nothing.

    They hold from `distance_mm` on, the farther of the two stages', 0 where they say nothing.
    """

    trust: Trust
    safe_s: int
    distance_mm: int
    made_on: date | None


def screening(tests: Iterable[FogTest], *, box_id: int, colour: Colour, level: int) -> Screening:
    """By the newest test of each stage in this colour, at this level or a brighter one, and the worse of the two.

    Without a test after exposure nothing is known, because that is where plates are the more sensitive.
    """
    newest: dict[Stage, FogTest] = {}
    for test in tests:
        if test.box_id == box_id and test.colour == colour and test.level >= level:
            before = newest.get(test.stage)
            newest[test.stage] = test if before is None or test.made_on >= before.made_on else before
    from_mm = max((test.distance_mm for test in newest.values()), default=0)
    if any(safe_s(test.last_clear_s) < SAFE_FROM_S for test in newest.values()):
        worst = min(newest.values(), key=lambda test: test.last_clear_s)
        return Screening(Trust.FAILED, safe_s(worst.last_clear_s), from_mm, worst.made_on)
    if Stage.AFTER not in newest:
        return Screening(Trust.UNTESTED, 0, 0, None)
    worst = min(newest.values(), key=lambda test: test.last_clear_s)
    return Screening(Trust.PASSED, safe_s(worst.last_clear_s), from_mm, worst.made_on)
