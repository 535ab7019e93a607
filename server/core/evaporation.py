"""How much water leaves an open tray. The formulas agree to half, so this is a line of a balance and never what closes it.

`saturated` and `humidity` are kilograms of water per kilogram of dry air, at the surface and in the room.
"""

from decimal import Decimal
from fractions import Fraction

Number = int | Decimal | Fraction

SECONDS_PER_HOUR = 3600
# Of what is worked out, either way.
UNCERTAINTY = Fraction(50, 100)

# Pressure of water vapour in torr; OpenStax, Chemistry 2e, appendix E.
VAPOUR_TORR = {15: Fraction("12.8"), 20: Fraction("17.5"), 25: Fraction("23.8"), 30: Fraction("31.8")}

_ATMOSPHERE_TORR = 760
_WATER_TO_AIR = Fraction("0.622")
_TORR_PER_INCH = Fraction("25.4")
# Heat that evaporates a pound of water at a room's temperature, in Btu: steam tables, from memory.
_BTU_PER_POUND = 1054
# A pound on a square foot in kilograms on a square metre.
_PER_SQUARE_FOOT = Fraction("0.45359237") / Fraction("0.09290304")
# What was measured over an undisturbed surface, as a share of what the older formula says.
_UNDISTURBED = Fraction(74, 100)


def humidity_ratio(*, vapour_torr: Number) -> Fraction:
    """Return the kilograms of water per kilogram of dry air at sea level: 0.622 p / (760 − p)."""
    return _WATER_TO_AIR * Fraction(vapour_torr) / (_ATMOSPHERE_TORR - Fraction(vapour_torr))


def evaporated_kg_per_h(
    *, area_m2: Number, air_m_per_s: Number, saturated: Number, humidity: Number
) -> Fraction:
    """Return g = (25 + 19 v) · A · (x_s − x), in kilograms an hour; damper air than saturated takes nothing.

    Common engineering rule for open surfaces.

    >>> evaporated_kg_per_h(area_m2=5, air_m_per_s=2, saturated=Fraction("0.02"), humidity=Fraction("0.01"))
    Fraction(63, 20)
    """
    drier = max(Fraction(0), Fraction(saturated) - Fraction(humidity))
    return (25 + 19 * Fraction(air_m_per_s)) * Fraction(area_m2) * drier


def evaporated_undisturbed_kg_per_h(*, area_m2: Number, water_torr: Number, air_torr: Number) -> Fraction:
    """Return 74 % of W = 95 (p_w − p_a) / Y, in kilograms an hour, over a surface that nothing disturbs in still air.

    W is in pounds per hour and square foot, pressures in inches of mercury, Y in Btu per pound. Smith and others, ASHRAE Transactions
    104 (1998), measured the 74 %.
    """
    drier = max(Fraction(0), Fraction(water_torr) - Fraction(air_torr)) / _TORR_PER_INCH
    return _UNDISTURBED * 95 * drier / _BTU_PER_POUND * _PER_SQUARE_FOOT * Fraction(area_m2)


def still_room_rates_ul_per_m2_h(*, celsius: int, humidity_percent: int) -> tuple[int, int]:
    """Return what both formulas say of a square metre of water in an hour, the lower first, in still air as warm as the water.

    A litre is taken to be a kilogram. Raises KeyError for a temperature that `VAPOUR_TORR` does not name.
    """
    water = VAPOUR_TORR[celsius]
    air = water * humidity_percent / 100
    older = evaporated_kg_per_h(
        area_m2=1,
        air_m_per_s=0,
        saturated=humidity_ratio(vapour_torr=water),
        humidity=humidity_ratio(vapour_torr=air),
    )
    measured = evaporated_undisturbed_kg_per_h(area_m2=1, water_torr=water, air_torr=air)
    lower, upper = sorted((round(older * 1_000_000), round(measured * 1_000_000)))
    return lower, upper


def evaporated_ul(*, rate_ul_per_m2_h: int, area_mm2: int, seconds: int) -> int:
    """Return the microlitres that an open surface loses in so many seconds at a rate, rounded to the nearest."""
    return round(Fraction(rate_ul_per_m2_h * area_mm2 * seconds, 1_000_000 * SECONDS_PER_HOUR))
