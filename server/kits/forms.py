"""What is typed about kits. A field is named as it is typed, its clean value carries the kept unit."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field

from server.core.molar_mass import molar_mass, plain_formula
from server.core.recipe import PURE_PPM, Measure
from server.core.units import MICROLITRES, MILLIGRAMS, mass_mg, volume_ul
from server.kits.models import LEAD_DAYS, PROPOSED, BottleEntryKind
from server.web.submitted import Form, RowId, Submitted, read_lines
from server.web.typed import Day, Line, Name, Note, Reason, SomeVolume, WebAddress

MOST_BOTTLES = 30
# Every bottle of the kit, in a choice of its bottles.
EVERY_BOTTLE = 0


def _amount(text: str) -> tuple[int, Measure]:
    """Milligrams or microlitres by the unit that was typed: a bare number could be either."""
    found = re.search(r"[a-zA-Zµμ]+$", text)
    unit = found[0].lower() if found else ""
    if unit in MICROLITRES:
        return volume_ul(text), Measure.VOLUME
    if unit in MILLIGRAMS:
        return mass_mg(text), Measure.MASS
    message = f"“{text}” has no unit that is known here. Please write it like 250 mL or 20 g."
    raise ValueError(message)


def _an_amount(typed: str) -> str:
    _amount(typed)
    return typed


def _something(typed: str) -> str:
    if not _amount(typed)[0]:
        message = "Please write more than nothing, such as 250 mL or 20 g."
        raise ValueError(message)
    return typed


def _formula(typed: str) -> str:
    molar_mass(typed)
    return plain_formula(typed)


# Amounts stay as typed here: what the unit says of the bottle is part of them.
Amount = Annotated[Line, AfterValidator(_an_amount)]
SomeAmount = Annotated[Line, AfterValidator(_something)]
Formula = Annotated[Line, AfterValidator(_formula)]
# Four decimals of a percent are one part in a million.
Purity = Annotated[Decimal, Field(gt=0, le=100, decimal_places=4)]
Density = Annotated[Decimal, Field(gt=0, le=5, decimal_places=3)]
Celsius = Annotated[Decimal, Field(ge=-80, le=60, decimal_places=1)]


@dataclass(frozen=True)
class NewBottle:
    """A bottle as it came: milligrams or microlitres of a substance; a purity of a million is pure."""

    substance: str
    amount: int
    measure: Measure = Measure.VOLUME
    formula: str = ""
    purity_ppm: int = PURE_PPM
    density_ug_per_ul: int | None = None
    lot: str = ""
    hazards: str = ""


class NewKit(Form):
    """A delivery; its bottles come in the same form, one a line."""

    name: Annotated[Name, Field(validation_alias="kit_name")]
    storage: Note = ""
    store_from: Celsius | None = None
    store_to: Celsius | None = None
    makes_ul: Annotated[SomeVolume | None, Field(validation_alias="makes")] = None
    lead_days: Annotated[int, Field(ge=0, le=365)] = LEAD_DAYS
    arrived_on: Annotated[Day, Field(validation_alias="kit_arrived_on")]
    expires_on: Annotated[Day | None, Field(validation_alias="kit_expires_on")] = None

    def kept(self) -> dict[str, Any]:
        """The delivery as it is kept: temperatures in tenths of a degree."""
        degrees = {"from": self.store_from, "to": self.store_to}
        return {
            **self.model_dump(exclude={"store_from", "store_to"}),
            **{
                f"store_{end}_decicelsius": None if typed is None else int(typed * 10)
                for end, typed in degrees.items()
            },
        }


class BottleRow(Form):
    """One bottle of a kit. Without a substance, or without anything beside a proposed one, the line is left out."""

    substance: Annotated[Line, Field(max_length=60)] = ""
    amount: SomeAmount = ""
    formula: Formula = ""
    purity: Purity = Decimal(100)
    density: Density | None = None
    lot: Annotated[Line, Field(max_length=60)] = ""
    hazards: Note = ""


class BottleTable(Form):
    """One entry a line."""

    substance: tuple[str, ...] = ()
    amount: tuple[str, ...] = ()
    formula: tuple[str, ...] = ()
    purity: tuple[str, ...] = ()
    density: tuple[str, ...] = ()
    lot: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()


def read_bottles(table: BottleTable) -> tuple[list[Submitted[BottleRow]], list[NewBottle]]:
    """The lines with a sentence beside each fault, and the bottles: none where there is a fault."""
    lines = []
    for line in read_lines(BottleRow, table):
        said = {name for name, typed in line.values.items() if typed.strip()}
        if said <= {"substance"} and line.value("substance").strip() in {"", *PROPOSED}:
            continue
        lines.append(_judged(line, said))
    if len(lines) > MOST_BOTTLES:
        full = f"A kit has at most {MOST_BOTTLES} bottles. Take this one out."
        lines[MOST_BOTTLES:] = [line.refused("substance", full) for line in lines[MOST_BOTTLES:]]
    clean = [line.clean for line in lines if line.clean is not None]
    return lines, [_bottle(row) for row in clean] if len(clean) == len(lines) else []


def _judged(line: Submitted[BottleRow], said: set[str]) -> Submitted[BottleRow]:
    if "substance" not in said:
        return line.refused("substance", "Please write what it holds.")
    if "amount" not in said:
        return line.refused("amount", "Please write how much, such as 500 mL or 250 g.")
    return line


def _bottle(row: BottleRow) -> NewBottle:
    amount, measure = _amount(row.amount)
    return NewBottle(
        substance=row.substance,
        amount=amount,
        measure=measure,
        formula=row.formula,
        purity_ppm=int(row.purity * PURE_PPM / 100),
        density_ug_per_ul=None if row.density is None else int(row.density * 1000),
        lot=row.lot,
        hazards=row.hazards,
    )


class DiscardedAmount(Form):
    """A discard without a pour, which has a reason: what is poured into a container is discarded with its pour."""

    bottle_id: Annotated[RowId, Field(validation_alias="discard_bottle_id")]
    amount: Annotated[SomeAmount, Field(validation_alias="discard_amount")]
    note: Annotated[Reason, Field(validation_alias="discard_note")]

    def kept(self) -> dict[str, Any]:
        """The discard with how the bottle must be measured for it."""
        amount, measure = _amount(self.amount)
        return {**self.model_dump(exclude={"amount"}), "amount": amount, "measure": measure}


class MeasuredAmount(Form):
    bottle_id: RowId
    measured: Amount
    reason: Reason

    def kept(self) -> dict[str, Any]:
        """The finding with how the bottle must be measured for it."""
        measured, measure = _amount(self.measured)
        return {**self.model_dump(exclude={"measured"}), "measured": measured, "measure": measure}


class OpenedBottle(Form):
    bottle_id: Annotated[RowId, Field(validation_alias="opened_bottle_id")]


class UsedUpBottle(Form):
    """What became of the rest of a bottle that is put away empty."""

    bottle_id: Annotated[RowId, Field(validation_alias="used_up_bottle_id")]
    rest: Literal[BottleEntryKind.DISCARDED, BottleEntryKind.CORRECTION]
    note: Annotated[Reason, Field(validation_alias="used_up_note")]


class BottleDescription(Form):
    """What stands on a bottle, as far as it is written here; an empty field leaves what is known."""

    bottle_id: Annotated[RowId, Field(validation_alias="described_bottle_id")]
    lot: Annotated[Line, Field(max_length=60)] = ""
    hazards: Note = ""
    formula: Formula = ""
    purity: Purity | None = None
    density: Density | None = None

    def kept(self) -> dict[str, str | int]:
        """What was written, by the names under which it is kept."""
        purity = None if self.purity is None else int(self.purity * PURE_PPM / 100)
        density = None if self.density is None else int(self.density * 1000)
        given: dict[str, str | int | None] = {
            "lot": self.lot,
            "hazards": self.hazards,
            "formula": self.formula,
            "purity_ppm": purity,
            "density_ug_per_ul": density,
        }
        return {name: value for name, value in given.items() if value}


class NewSheet(Form):
    """Where the SDS of a bottle, or of every bottle of the kit, is: a link, a file beside it, or both."""

    bottle_id: Annotated[int, Field(ge=EVERY_BOTTLE, le=2_147_483_647, validation_alias="sheet_bottle_id")]
    link: Annotated[WebAddress, Field(validation_alias="sheet_link")] = ""
