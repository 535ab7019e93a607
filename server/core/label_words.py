"""What a label says of the hazards of what is in a vessel: of each ingredient with its strength, never of the mixture as a whole."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.core.hazard_statements import (
    Pictogram,
    by_gravity,
    pictograms_of,
    read_hazards,
    signal_of,
    statement_words,
)
from server.core.label_drawing import Line
from server.core.label_sizes import Part, counts_as_corrosive
from server.core.units import celsius_words, ph_words

CLASSIFICATION = "Classification of the mixture: ask your safety office."
# What a measured pH at either end is treated as.
CORROSIVE = "H314"


@dataclass(frozen=True)
class Ingredient:
    """`strength` is in words, empty where nobody knows it; `hazards` as somebody wrote them."""

    name: str
    strength: str
    hazards: str


@dataclass(frozen=True)
class Acidity:
    """A measured pH in hundredths, with the temperature it was measured at in tenths of a degree Celsius."""

    ph_hundredths: int
    temperature_decicelsius: int


def hazard_lines(
    ingredients: Sequence[Ingredient], measured: Sequence[Acidity]
) -> tuple[list[Line], tuple[Pictogram, ...]]:
    """Return the label's lines on hazards, and its pictograms.

    The signal word and the pictograms are those of the ingredients by themselves; a measured pH at either end adds those of a
    corrosive. Where no hazard of an ingredient is written down, the label refers to its safety data sheet.
    """
    written = [read_hazards(one.hazards) for one in ingredients]
    codes = by_gravity(code for hazards in written for code in hazards.codes)
    corrosive = any(counts_as_corrosive(acidity.ph_hundredths) for acidity in measured)
    judged = [*codes, CORROSIVE] if corrosive else codes
    lines = []
    if signal := signal_of(judged):
        lines.append(Line(Part.SIGNAL, signal, bold=True, grows=1.3))
    lines += [_acidity_line(acidity) for acidity in measured]
    lines += [Line(Part.STATEMENT, statement_words(code)) for code in codes]
    for one, hazards in zip(ingredients, written, strict=True):
        noted = [*hazards.codes, *([hazards.words] if hazards.words else [])]
        found = ", ".join(noted) or "hazards not noted, see its SDS"
        lines.append(Line(Part.CONTENTS, f"{' '.join(filter(None, (one.name, one.strength)))}: {found}."))
    lines.append(Line(Part.CLASSIFICATION, CLASSIFICATION))
    return lines, pictograms_of(judged)


def _acidity_line(acidity: Acidity) -> Line:
    """Such as pH 12.5 at 21 °C: treat as corrosive."""
    said = f"{ph_words(acidity.ph_hundredths)} at {celsius_words(acidity.temperature_decicelsius)}"
    if counts_as_corrosive(acidity.ph_hundredths):
        return Line(Part.CAUTION, f"{said}: treat as corrosive.", bold=True)
    return Line(Part.CAUTION, f"{said}.")
