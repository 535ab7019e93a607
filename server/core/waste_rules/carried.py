"""What may come into a rinse or a bath from what its plates bring along: estimates on the high side, to know what to have measured.

They say when a limit may be reached. They never say that one is not: only a measurement does.
"""

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from server.core.molar_mass import ATOMIC_WEIGHTS, molar_mass

_DICHROMATE = "K2Cr2O7"
_CHROMIUM_ATOMS = 2
_PERCENT = 100
_MG_PER_G = 1000
_MM2_PER_M2 = 1_000_000
_UL_PER_L = 1_000_000


@dataclass(frozen=True)
class Carried:
    """What each plate adds to a rinse in mg/L, and with which plate the limit may be reached; None where none brings anything."""

    per_plate_mg_per_l: Decimal
    first_plate: int | None


def chromium_mg_per_l(*, dichromate_g_per_l: Decimal) -> Decimal:
    """Return the chromium in a solution of potassium dichromate: two atoms of it in each formula.

    >>> round(chromium_mg_per_l(dichromate_g_per_l=Decimal(2)))
    707
    """
    share = _CHROMIUM_ATOMS * ATOMIC_WEIGHTS["Cr"] / molar_mass(_DICHROMATE)
    return dichromate_g_per_l * share * _MG_PER_G


def carried_into_rinse(
    *, bath_mg_per_l: Decimal, carried_ul_per_plate: int, rinse_ul: int, limit_mg_per_l: Decimal
) -> Carried:
    """Return what plates bring from a bath into a still rinse that is not changed, as if none of it left with them again.

    strength after n plates = n × carried volume × bath ÷ rinse. `rinse_ul` is more than nothing.
    """
    each = bath_mg_per_l * carried_ul_per_plate / rinse_ul
    if each <= 0:
        return Carried(Decimal(0), None)
    plates = (limit_mg_per_l * rinse_ul / (bath_mg_per_l * carried_ul_per_plate)).to_integral_value(
        rounding=ROUND_CEILING
    )
    return Carried(each, max(1, int(plates)))


def silver_mg_per_l(
    *,
    coverage_mg_per_m2: Decimal,
    plate_mm2: Decimal,
    plates: int,
    dissolved_percent: Decimal,
    volume_ul: int,
) -> Decimal:
    """Return the silver in a bath that took so much of it out of so many plates: coverage × area × share ÷ volume.

    >>> round(silver_mg_per_l(coverage_mg_per_m2=Decimal(3000), plate_mm2=Decimal("4032.25"), plates=30, dissolved_percent=Decimal(50), volume_ul=1_000_000))
    181
    """
    silver_mg = coverage_mg_per_m2 * plate_mm2 / _MM2_PER_M2 * plates * dissolved_percent / _PERCENT
    return silver_mg * _UL_PER_L / volume_ul
