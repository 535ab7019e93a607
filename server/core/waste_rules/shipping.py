"""The quantity that goes on a manifest: measured or well estimated, in whole units, never a container's capacity."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

from server.core.waste_rules.quantity import UNITS, Dimension


class Basis(StrEnum):
    """How a quantity is known."""

    MEASURED = "measured"
    ESTIMATED = "a reasonably accurate estimate"
    CAPACITY = "what the container holds when full"


class ManifestUnit(StrEnum):
    """Units of a manifest that a lab's quantities come in, by their letters."""

    LITRES = "L"
    GALLONS = "G"
    KILOGRAMS = "K"
    POUNDS = "P"


# Each unit in µL or mg. An international pound is 0.45359237 kg.
_SIZES = {
    ManifestUnit.LITRES: UNITS[Dimension.VOLUME]["L"],
    ManifestUnit.GALLONS: UNITS[Dimension.VOLUME]["gal"],
    ManifestUnit.KILOGRAMS: UNITS[Dimension.MASS]["kg"],
    ManifestUnit.POUNDS: Decimal("453592.37"),
}
EDITION = "EPA Form 8700-22, instructions for item 11"
SOURCE = "the form's instructions as filed for approval and in a public copy, read"


@dataclass(frozen=True)
class ManifestQuantity:
    """What stands on a manifest: a whole number and the unit's letter."""

    number: int
    unit: ManifestUnit

    @property
    def words(self) -> str:
        return f"{self.number} {self.unit}"


@dataclass(frozen=True)
class NotForAManifest:
    """Why a quantity can't go on a manifest, and what to do."""

    reason: str


def manifest_quantity(*, amount: int, unit: ManifestUnit, basis: Basis) -> ManifestQuantity | NotForAManifest:
    """Return an amount (µL for litres and gallons, mg for kilograms and pounds) to the nearest whole unit, half up.

    >>> manifest_quantity(amount=20_600_000, unit=ManifestUnit.LITRES, basis=Basis.MEASURED).words
    '21 L'
    """
    if basis == Basis.CAPACITY:
        return NotForAManifest(
            "What a container holds when full is no estimate of what is in it. Measure it, weigh it or add up what was poured."
        )
    if amount <= 0:
        return NotForAManifest("Nothing is in it, so there is nothing to ship.")
    number = int((Decimal(amount) / _SIZES[unit]).quantize(Decimal(1), rounding=ROUND_HALF_UP))
    if number == 0:
        return NotForAManifest(
            f"That is less than half of 1 {unit}, and a manifest takes whole units only. Ask the waste office how to write it."
        )
    return ManifestQuantity(number, unit)
