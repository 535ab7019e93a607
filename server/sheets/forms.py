"""What is typed for papers: the lab's particulars, and what is told of a container."""

from typing import Annotated, Any

from pydantic import AfterValidator, Field

from server.chemistry.forms import Ph, TemperatureOfPh, hundredths, tenths
from server.containers.forms import Sentence, TypedSize
from server.core.units import mass_mg, volume_ul
from server.core.waste_composition import composition_text, read_composition
from server.pickups.models import PhysicalState, Vessel
from server.web.submitted import Form
from server.web.typed import Line, Lines


def _some_mass(text: str) -> str:
    """The text as typed, once it is known to be a mass above nothing with its unit: grams and kilograms are both usual."""
    if not any(letter.isalpha() for letter in text):
        message = f"Please write the unit too: {text} kg or {text} g."
        raise ValueError(message)
    if mass_mg(text) == 0:
        message = "Please write more than nothing, such as 14.2 kg."
        raise ValueError(message)
    return text


def _composition(text: str) -> str:
    """The parts as they stand on the sheet, one a line, once they add up."""
    return composition_text(read_composition(text))


_Line = Annotated[Line, Field(max_length=120)]


class LabParticulars(Form):
    generator: _Line = ""
    address: Annotated[Line, Field(max_length=200)] = ""
    room: _Line = ""
    phone: _Line = ""
    emergency_phone: _Line = ""
    site_number: _Line = ""
    contact: _Line = ""
    waste_office: _Line = ""


_TypedMass = Annotated[str, Field(max_length=40), AfterValidator(_some_mass)]


class Told(Form):
    """What a sheet says of a container. Quantities are kept as typed; the action takes what `kept` makes of them."""

    vessel: Vessel | None = None
    contents: _Line = ""
    composition: Annotated[Lines, Field(max_length=2_000), AfterValidator(_composition)] = ""
    physical_state: PhysicalState = PhysicalState.LIQUID
    ph: Ph | None = None
    ph_temperature: TemperatureOfPh = None
    read: TypedSize | None = None
    gross: _TypedMass | None = None
    tare: _TypedMass | None = None
    handling: Sentence = ""

    def kept(self) -> dict[str, Any]:
        """The same in microlitres, milligrams, hundredths of pH and tenths of a degree."""
        return {
            "vessel": self.vessel or "",
            "contents": self.contents,
            "composition": self.composition,
            "physical_state": self.physical_state,
            "ph_hundredths": hundredths(self.ph),
            "temperature_decicelsius": tenths(self.ph_temperature),
            "read_ul": None if self.read is None else volume_ul(self.read),
            "gross_mg": None if self.gross is None else mass_mg(self.gross),
            "tare_mg": None if self.tare is None else mass_mg(self.tare),
            "handling": self.handling,
        }
