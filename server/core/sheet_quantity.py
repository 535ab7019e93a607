"""How much of a container stands on a request sheet: added up from the ledger, weighed, or read off; never what the container holds when full."""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from server.core.measuring import SCALE_STEP_MG, CannotBe
from server.core.units import digits, mass_words, volume_words
from server.core.weigh_check import Found, entries_tolerance_ul, weigh

# A density of a thousand is a gram per millilitre: a microlitre of it weighs a milligram.
_UG_PER_MG = 1_000


class How(StrEnum):
    """Where a quantity comes from."""

    LEDGER = "added up from the entries"
    WEIGHED = "weighed"
    READ_OFF = "read off"


@dataclass(frozen=True)
class SheetQuantity:
    """What is in a container: `volume_ul` and `net_mg`, and what it weighs empty and with what is in it where that is known."""

    volume_ul: int
    net_mg: int
    tare_mg: int | None
    gross_mg: int | None
    how: How
    working: str
    differs: str = ""


@dataclass(frozen=True)
class NoQuantity:
    """Why what was typed is no quantity, in which field, and what to do."""

    field: str
    reason: str


def sheet_quantity(
    *,
    held_ul: int,
    held_mg: int,
    size_ul: int,
    fill_line_ul: int,
    density_ug_per_ul: int,
    is_density_assumed: bool = False,
    read_ul: int | None = None,
    gross_mg: int | None = None,
    tare_mg: int | None = None,
) -> SheetQuantity | NoQuantity:
    """Return the quantity for a sheet: what was weighed before what was read off before what the ledger says.

    `held_ul` and `held_mg` are the ledger's, `size_ul` is the container to its brim. A volume that was read off and a weighing may both be given:
    then each stands for itself. Refused: the container's capacity where the ledger says otherwise (instructions to EPA Form 8700-22, item 11),
    more than the container holds, and a weighing that leaves nothing.
    """
    if read_ul is not None and read_ul > size_ul:
        return NoQuantity(
            "read",
            f"The container holds {volume_words(size_ul)} to the brim, so {volume_words(read_ul)} can't be in it.",
        )
    if read_ul is not None and read_ul == size_ul != held_ul:
        return NoQuantity(
            "read",
            f"{volume_words(size_ul)} is what the container holds when full; its ledger says {volume_words(held_ul)}. A capacity is no "
            "quantity. Measure it, weigh it, or leave this blank for the sum of the entries.",
        )
    if gross_mg is None and read_ul is None:
        working = f"{volume_words(held_ul)} and {mass_words(held_mg)} by its ledger"
        return SheetQuantity(held_ul, held_mg, tare_mg, _gross(held_mg, tare_mg), How.LEDGER, working)
    if gross_mg is None:
        return _read_off(held_ul, density_ug_per_ul, read_ul or 0, tare_mg)
    if tare_mg is None:
        return NoQuantity("tare", "Write what the container weighs empty too: only what is in it counts.")
    check = weigh(
        gross_mg=gross_mg,
        tare_mg=tare_mg,
        density_ug_per_ul=density_ug_per_ul,
        is_density_assumed=is_density_assumed,
        step_mg=SCALE_STEP_MG,
        ledger_ul=held_ul,
        entries_ul=entries_tolerance_ul(stated_ul=0, handled_ul=held_ul),
        size_ul=size_ul,
        fill_line_ul=fill_line_ul,
    )
    if isinstance(check, CannotBe):
        return NoQuantity("gross", check.sentence)
    if read_ul is None and check.volume_ul > size_ul:
        return NoQuantity("gross", check.sentence)
    return SheetQuantity(
        round(check.volume_ul) if read_ul is None else read_ul,
        check.net_mg,
        tare_mg,
        gross_mg,
        How.WEIGHED,
        f"{mass_words(gross_mg)} gross − {mass_words(tare_mg)} tare = {mass_words(check.net_mg)} net",
        "" if check.found is Found.AGREES else check.sentence,
    )


def _read_off(held_ul: int, density_ug_per_ul: int, read_ul: int, tare_mg: int | None) -> SheetQuantity:
    net = round(Fraction(read_ul * density_ug_per_ul, _UG_PER_MG))
    density = digits(Fraction(density_ug_per_ul, _UG_PER_MG))
    working = f"{volume_words(read_ul)} read off × {density} kg/L = {mass_words(net)}"
    apart = read_ul - held_ul
    differs = ""
    if abs(apart) > entries_tolerance_ul(stated_ul=0, handled_ul=held_ul):
        differs = (
            f"Its ledger says {volume_words(held_ul)}, {volume_words(abs(apart))} {'less' if apart > 0 else 'more'} than was read off. "
            "Find out why before it goes: was something poured or taken without an entry?"
        )
    return SheetQuantity(read_ul, net, tare_mg, _gross(net, tare_mg), How.READ_OFF, working, differs)


def _gross(net_mg: int, tare_mg: int | None) -> int | None:
    return None if tare_mg is None else net_mg + tare_mg
