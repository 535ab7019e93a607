"""How far a container may be filled, so that what is in it has room to expand: the lab's own line beside what carriage by road asks.

How much a watery waste expands is taken to be what water does; nobody measures a waste's own expansion. Shares are of what the container
holds to the brim. Which rule applies to a container is for the waste office to say, so the lowest is what counts here.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from server.core.units import digits
from server.core.water_density import water_ug_per_ul

# Of a watery waste.
BOILS_FROM_CELSIUS = 100
# Assumed: a class pours at the room's temperature.
FILLED_AT_CELSIUS = 20

# ADR 4.1.1.4 (a): the boiling point below which so many hundredths may be filled.
_BY_BOILING = ((60, 90), (100, 92), (200, 94), (300, 96))
_BOILS_HIGHER = 98
_FULL_WHEN_WARM = 98
_FILLED_CELSIUS, _WARM_CELSIUS, _HOT_CELSIUS = 15, 50, 55

# Assumed where a lab's rules say no other: how far a container is filled. Rules seen on campuses run from 75 to 90 %.
USUAL_FILL_PERCENT = Decimal(90)

# 49 CFR 173.24a(b)(1): what a packaging without a mark for relative density is good for.
HEAVIEST_UNMARKED_UG_PER_UL = 1200


@dataclass(frozen=True)
class FillLimit:
    """One rule for one container: the share and the volume, rounded down, that it may be filled to, with the rule's working and source."""

    name: str
    share: Fraction
    volume_ul: int
    working: str
    source: str


@dataclass(frozen=True)
class Headspace:
    """Every limit of a container, the lab's own first."""

    limits: tuple[FillLimit, ...]

    @property
    def lowest(self) -> FillLimit:
        """The one that counts; of two alike the lab's own, then the order in which they are told."""
        return min(self.limits, key=lambda limit: limit.volume_ul)

    @property
    def is_line_too_high(self) -> bool:
        """Whether the lab's own fill line lies above a limit of carriage."""
        return self.lowest.volume_ul < self.limits[0].volume_ul


def fill_line_at_ul(size_ul: int, *, percent: Decimal) -> int:
    """Return so many hundredths of the size in whole microlitres, rounded down."""
    return int(size_ul * percent / 100)


def expansion_per_kelvin(*, at_15: Fraction, at_50: Fraction) -> Fraction:
    """Return the mean cubic expansion between 15 and 50 °C from the densities there, in any unit: (d15 − d50) / (35 · d50).

    ADR 4.1.1.4.

    >>> f"{float(expansion_per_kelvin(at_15=Fraction('999.10'), at_50=Fraction('988.04'))):.2e}"
    '3.20e-04'
    """
    return (at_15 - at_50) / ((_WARM_CELSIUS - _FILLED_CELSIUS) * at_50)


def share_by_boiling(celsius: Decimal | int) -> Fraction:
    """Return the share that may be filled at 15 °C by the point at which boiling begins. ADR 4.1.1.4 (a).

    >>> share_by_boiling(100)
    Fraction(47, 50)
    """
    return Fraction(next((percent for below, percent in _BY_BOILING if celsius < below), _BOILS_HIGHER), 100)


def share_by_expansion(*, per_kelvin: Fraction, filled_at_celsius: Decimal | int) -> Fraction:
    """Return the share that may be filled so that 98 % are full at 50 °C: 98 / (1 + α · (50 − t)) hundredths. ADR 4.1.1.4 (b)."""
    return Fraction(_FULL_WHEN_WARM, 100) / (1 + per_kelvin * (_WARM_CELSIUS - Fraction(filled_at_celsius)))


def share_of_water_full_when_hot(*, filled_at_celsius: Decimal | int) -> Fraction:
    """Return the share of water that fills a container completely at 55 °C: density there ÷ density when filled. 49 CFR 173.24a(d)."""
    hot = water_ug_per_ul(celsius=_HOT_CELSIUS) / water_ug_per_ul(celsius=filled_at_celsius)
    return min(Fraction(1), hot)


def headspace(
    *,
    size_ul: int,
    fill_line_ul: int,
    boils_from_celsius: Decimal | int = BOILS_FROM_CELSIUS,
    filled_at_celsius: Decimal | int = FILLED_AT_CELSIUS,
) -> Headspace:
    """Work out every limit of a container of watery waste. Raises ValueError where water is no liquid when filled in."""
    per_kelvin = expansion_per_kelvin(
        at_15=water_ug_per_ul(celsius=_FILLED_CELSIUS), at_50=water_ug_per_ul(celsius=_WARM_CELSIUS)
    )
    alpha = digits(per_kelvin * 100_000, most=3)

    def limit(name: str, share: Fraction, working: str, source: str) -> FillLimit:
        return FillLimit(name, share, int(share * size_ul), working, source)

    by_boiling = share_by_boiling(boils_from_celsius)
    by_expansion = share_by_expansion(per_kelvin=per_kelvin, filled_at_celsius=filled_at_celsius)
    when_hot = share_of_water_full_when_hot(filled_at_celsius=filled_at_celsius)
    return Headspace(
        (
            limit(
                "fill line of the lab",
                Fraction(fill_line_ul, size_ul),
                "fill line ÷ size to the brim",
                "set with the container; 90 % is assumed where nothing else is said, campus rules read run from 75 to 90 %",
            ),
            limit(
                "by its boiling point",
                by_boiling,
                f"boils from {boils_from_celsius} °C (assumed of a watery waste): {digits(by_boiling * 100)} % at 15 °C",
                "ADR 4.1.1.4 (a), carriage by road in Europe",
            ),
            limit(
                "by its expansion",
                by_expansion,
                f"98 % ÷ (1 + {alpha} × 10⁻⁵ × (50 − {filled_at_celsius})), the expansion of water between 15 and 50 °C",
                "ADR 4.1.1.4 (b), carriage by road in Europe",
            ),
            limit(
                "not full at 55 °C",
                when_hot,
                f"density of water at 55 °C ÷ at {filled_at_celsius} °C",
                "49 CFR 173.24a(d), carriage in the United States",
            ),
        )
    )


def needs_a_marked_packaging(density_ug_per_ul: int) -> bool:
    """Tell whether a liquid is too heavy for a packaging whose mark names no relative density. 49 CFR 173.24a(b)(1).

    >>> needs_a_marked_packaging(1200), needs_a_marked_packaging(1201)
    (False, True)
    """
    return density_ug_per_ul > HEAVIEST_UNMARKED_UG_PER_UL
