"""What is typed about streams and containers."""

from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, Field, computed_field

from server.containers.models import Source
from server.core.reactivity_chart import Group
from server.core.units import volume_ul
from server.web.submitted import Form
from server.web.typed import Line


def _volume(text: str) -> str:
    """The text as typed, once it is known to be a volume above nothing."""
    if volume_ul(text) == 0:
        message = "Please write more than nothing, such as 250 mL."
        raise ValueError(message)
    return text


def _with_unit(text: str) -> str:
    """A container's size or line: millilitres and litres are both usual, so a bare number is asked back."""
    if not any(letter.isalpha() for letter in text):
        message = f"Please write the unit too: {text} mL or {text} L."
        raise ValueError(message)
    return text


ShortText = Annotated[Line, Field(max_length=40)]


Name = Annotated[ShortText, Field(min_length=1)]


Sentence = Annotated[Line, Field(max_length=300)]


TypedVolume = Annotated[str, Field(max_length=40), AfterValidator(_volume)]


TypedSize = Annotated[TypedVolume, AfterValidator(_with_unit)]


Density = Annotated[Decimal, Field(gt=0, le=5, decimal_places=3)]


class NewStream(Form):
    name: Name
    takes: Source
    hazards: Sentence = ""


class UsualStreams(Form):
    """What nobody can know of a lab's developer but the lab."""

    with_sulfite: bool = False


class StreamDescription(Form):
    """The density is typed in grams per millilitre."""

    name: Name
    hazards: Sentence = ""
    density: Annotated[Density, Field(exclude=True)]
    density_measured: Annotated[bool, Field(exclude=True)] = False
    groups: list[Group] = Field(default=[])

    @computed_field
    def density_ug_per_ul(self) -> int:
        return int(self.density * 1000)

    @computed_field
    def density_assumed(self) -> bool:
        return not self.density_measured
