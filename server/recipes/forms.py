"""What is typed about a recipe."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import zip_longest
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field

from server.core.molar_mass import molar_mass, plain_formula
from server.core.recipe import PURE_PPM, Basis, Measure, amount_of, asked_back
from server.core.units import life_s, mass_mg, volume_ul
from server.recipes.models import Solution, Water
from server.web.submitted import Form, RowId, Submitted, read, read_lines
from server.web.typed import Line

MOST_LINES = 20

Name = Annotated[Line, Field(min_length=1, max_length=60)]
Note = Annotated[Line, Field(max_length=200)]
StandMinutes = Annotated[int, Field(ge=0, le=1440)]
Celsius = Annotated[Decimal, Field(ge=0, le=100, max_digits=4, decimal_places=1)]


def _not_a_ratio(typed: object) -> str:
    asked = asked_back(str(typed))
    if asked:
        raise ValueError(asked)
    return str(typed)


def _volume(typed: object) -> int:
    return volume_ul(_not_a_ratio(typed))


def _something(amount: int) -> int:
    if not amount:
        message = "Please write more than nothing."
        raise ValueError(message)
    return amount


def _mass(typed: object) -> int:
    return mass_mg(_not_a_ratio(typed))


def _amount(typed: str) -> str:
    amount_of(typed)
    return typed


def _mass_or_volume(typed: str) -> tuple[int, Measure]:
    amount, measure = amount_of(typed)
    if measure == Measure.PART:
        message = "Please write a mass or a volume, such as 66 g or 500 mL."
        raise ValueError(message)
    return amount, measure


def _formula(typed: str) -> str:
    molar_mass(typed)
    return plain_formula(typed)


def _life(typed: object) -> int:
    return life_s(str(typed))


Volume = Annotated[int, BeforeValidator(_volume)]
SomeVolume = Annotated[int, BeforeValidator(_volume), AfterValidator(_something)]
Amount = Annotated[tuple[int, Measure], BeforeValidator(_mass_or_volume)]
Formula = Annotated[Line, AfterValidator(_formula), Field(min_length=1)]
# Four decimals of a percent are one part in a million.
Purity = Annotated[Decimal, Field(gt=0, le=100, decimal_places=4)]
Density = Annotated[Decimal, Field(gt=0, le=5, decimal_places=3)]
Life = Annotated[int, BeforeValidator(_life)]
SomeMass = Annotated[int, BeforeValidator(_mass), AfterValidator(_something)]


class NewRecipe(Form):
    name: Name
    solution: Solution = Solution.OTHER


class MadeSolution(Form):
    """What a recipe makes."""

    solution: Solution


class Compared(Form):
    """The edition that another one is compared with."""

    since: RowId


class ComponentRow(Form):
    """One line of a recipe. Without a name and an amount the line is left out; `position` is its place in the order."""

    name: Annotated[Line, Field(max_length=60)] | None = None
    position: Annotated[int, Field(ge=0, le=10_000)] = 0
    amount: Annotated[Line, AfterValidator(_amount)] = ""
    formula: Annotated[Line, AfterValidator(_formula)] = ""
    purity: Purity = Decimal(100)
    density: Density | None = None
    hazards: Annotated[Line, Field(max_length=200)] = ""


class ComponentTable(Form):
    """One entry a line."""

    name: tuple[str, ...] = ()
    position: tuple[str, ...] = ()
    amount: tuple[str, ...] = ()
    formula: tuple[str, ...] = ()
    purity: tuple[str, ...] = ()
    density: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()


class NewEdition(Form):
    """The head of an edition; its lines come in the same form."""

    volume: SomeVolume = 1_000_000
    start: Volume = 0
    basis: Basis = Basis.MADE_UP_TO
    water: Water = Water.TAP
    temperature: Celsius | None = None
    stand_minutes: StandMinutes = 0
    life: Life | None = None
    note: Note = ""

    def kept(self) -> dict[str, Any]:
        """The head as it is kept: tenths of a degree and seconds."""
        tenths = None if self.temperature is None else int(self.temperature * 10)
        return {
            "volume_ul": self.volume,
            "start_ul": self.start,
            "basis": self.basis,
            "water": self.water,
            "temperature_decicelsius": tenths,
            "stand_s": self.stand_minutes * 60,
            "life_s": self.life,
            "note": self.note,
        }


class Wanted(Form):
    """How much is to be made, and how finely it is measured. Without a volume, as much as what is there makes."""

    volume: SomeVolume | None = None
    balance: SomeMass = 10
    graduate: SomeVolume = 1_000


class ShelfRow(Form):
    """What stands on the shelf for one component: a bottle of the lab's, or what is written beside it.

    What is left empty is as the recipe calls for; of an empty `there` is enough.
    """

    bottle_id: RowId | None = None
    formula: Annotated[Line, AfterValidator(_formula)] = ""
    purity: Purity | None = None
    density: Density | None = None
    there: Amount | None = None


@dataclass(frozen=True)
class NewComponent:
    """A line as asked for: milligrams, microlitres or parts in the edition's volume; a purity of a million is pure."""

    name: str
    amount: int
    measure: Measure
    formula: str = ""
    hazards: str = ""
    purity_ppm: int = PURE_PPM
    density_ug_per_ul: int | None = None


@dataclass(frozen=True)
class LineFault:
    """What is wrong with one line: its index, the field and a sentence."""

    index: int
    field: str
    sentence: str


def line_faults(components: Sequence[NewComponent]) -> list[LineFault]:
    """What lines may not be beside one another."""
    faults = []
    in_parts = {line.measure == Measure.PART for line in components}
    for index, line in enumerate(components):
        if line.name.lower() in [other.name.lower() for other in components[:index]]:
            faults.append(LineFault(index, "name", f"{line.name} stands here twice. Put it on one line."))
        if len(in_parts) > 1 and line.measure == Measure.PART:
            faults.append(
                LineFault(
                    index,
                    "amount",
                    "Parts stand only beside parts. Write a mass or a volume, or all in parts.",
                )
            )
        if line.measure == Measure.PART and (line.purity_ppm != PURE_PPM or line.density_ug_per_ul):
            faults.append(
                LineFault(index, "purity", "A part is taken as it stands. Leave out purity and density.")
            )
        elif line.measure == Measure.VOLUME and line.purity_ppm != PURE_PPM and not line.density_ug_per_ul:
            faults.append(
                LineFault(
                    index,
                    "density",
                    "Write its density too: a percent by weight means nothing for a volume without it.",
                )
            )
        if line.formula:
            try:
                molar_mass(line.formula)
            except ValueError as fault:
                faults.append(LineFault(index, "formula", str(fault)))
    return faults


def read_components(
    table: ComponentTable,
) -> tuple[list[Submitted[ComponentRow]], list[NewComponent]]:
    """The lines with a sentence beside each fault, and the components in their order: none where there is a fault."""
    lines = [
        line
        for line in read_lines(ComponentRow, table)
        if (line.value("name") + line.value("amount")).strip()
    ]
    for index, line in enumerate(lines):
        if index >= MOST_LINES:
            lines[index] = line.refused(
                "name", f"A recipe has at most {MOST_LINES} lines. Take this one out."
            )
        elif not line.value("name").strip():
            lines[index] = line.refused(
                "name", "Please write what it is, or clear its amount too to take the line out."
            )
        elif not line.value("amount").strip():
            lines[index] = line.refused("amount", "Please write how much, such as 4 g.")
    clean = [(line.clean, index) for index, line in enumerate(lines) if line.clean is not None]
    ordered = sorted(clean, key=lambda found: found[0].position)
    if len(clean) < len(lines):
        return lines, []  # beside a line that can't be read, the others can't be judged
    components = [_component(row) for row, _index in ordered]
    faults = line_faults(components)
    for fault in faults:
        index = ordered[fault.index][1]
        lines[index] = lines[index].refused(fault.field, fault.sentence)
    return lines, [] if faults else components


def read_shelf(columns: Mapping[str, Sequence[str]]) -> list[Submitted[ShelfRow]]:
    """What was typed of the shelf, a line for each component; a column may end early."""
    lines = zip_longest(*columns.values(), fillvalue="")
    return [read(ShelfRow, dict(zip(columns, cells, strict=True))) for cells in lines]


def _component(row: ComponentRow) -> NewComponent:
    amount, measure = amount_of(row.amount)
    return NewComponent(
        name=row.name or "",
        amount=amount,
        measure=measure,
        formula=row.formula,
        hazards=row.hazards,
        purity_ppm=int(row.purity * PURE_PPM / 100),
        density_ug_per_ul=None if row.density is None else int(row.density * 1000),
    )
