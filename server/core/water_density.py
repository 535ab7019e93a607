"""How heavy water is at a temperature, by Kell's equation (1975), as it is reprinted in handbooks."""

from decimal import Decimal
from fractions import Fraction

# In the order of rising powers of the temperature in °C: from kg/m³ at 0 °C on.
_ABOVE = tuple(
    Fraction(number)
    for number in (
        "999.83952",
        "16.945176",
        "-7.9870401e-3",
        "-46.170461e-6",
        "105.56302e-9",
        "-280.54253e-12",
    )
)
_BELOW = (Fraction(1), Fraction("16.87985e-3"))

COLDEST_CELSIUS, HOTTEST_CELSIUS = 0, 100


def _polynomial(coefficients: tuple[Fraction, ...], at: Fraction) -> Fraction:
    return sum((one * at**power for power, one in enumerate(coefficients)), Fraction(0))


def water_ug_per_ul(*, celsius: Decimal | int) -> Fraction:
    """Return the density of air-free water under one atmosphere in µg/µL, which is g/L and kg/m³ too, exactly as the equation has it.

    Raises ValueError outside 0 to 100 °C, where water is no liquid.

    >>> f"{float(water_ug_per_ul(celsius=18)):.1f}"
    '998.6'
    """
    if not COLDEST_CELSIUS <= celsius <= HOTTEST_CELSIUS:
        message = f"Water is no liquid at {celsius} °C."
        raise ValueError(message)
    at = Fraction(celsius)
    return _polynomial(_ABOVE, at) / _polynomial(_BELOW, at)
