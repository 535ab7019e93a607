"""What is typed about setting out containers, their life, and what else stands on the shelf."""

from typing import Annotated

from pydantic import AfterValidator, Field, computed_field

from server.containers.forms import Name, Sentence, ShortText, TypedSize, TypedVolume
from server.core.container_life import AreaKind, ContainerState
from server.core.units import mass_mg, volume_ul
from server.web.submitted import Form, RowId
from server.web.typed import Day


def _mass(text: str) -> str:
    """The text as typed, once it is known to be a mass above nothing with its unit: grams and kilograms are both usual."""
    if not any(letter.isalpha() for letter in text):
        message = f"Please write the unit too: {text} g or {text} kg."
        raise ValueError(message)
    if mass_mg(text) == 0:
        message = "Please write more than nothing, such as 1.2 kg."
        raise ValueError(message)
    return text


TypedMass = Annotated[str, Field(max_length=40), AfterValidator(_mass)]


class NewContainer(Form):
    """Sizes are kept as typed; the action takes the microlitres computed from them. So with the other volumes and masses here."""

    stream_id: RowId
    name: Name
    size: Annotated[TypedSize, Field(exclude=True)]
    fill_line: Annotated[TypedSize | None, Field(exclude=True)] = None
    tare: Annotated[TypedMass | None, Field(exclude=True)] = None
    area_id: RowId | None = None
    previous_stream_id: RowId | None = None
    previous_other: ShortText = ""
    washed: bool = False
    is_ordered: bool = False

    @computed_field
    def size_ul(self) -> int:
        return volume_ul(self.size)

    @computed_field
    def fill_line_ul(self) -> int | None:
        """The fill line in microlitres; none where none was typed."""
        return None if self.fill_line is None else volume_ul(self.fill_line)

    @computed_field
    def tare_mg(self) -> int | None:
        """What it weighs empty in milligrams; none where nobody has weighed it."""
        return None if self.tare is None else mass_mg(self.tare)


class NewState(Form):
    """What became of a container."""

    to: ContainerState
    note: Annotated[Sentence, Field(validation_alias="state_note")] = ""


class MovedLine(Form):
    fill_line: Annotated[TypedSize, Field(exclude=True)]

    @computed_field
    def fill_line_ul(self) -> int:
        return volume_ul(self.fill_line)


class Tare(Form):
    tare: Annotated[TypedMass, Field(exclude=True)]

    @computed_field
    def tare_mg(self) -> int:
        return mass_mg(self.tare)


class CarriedTo(Form):
    area_id: RowId
    note: Annotated[Sentence, Field(validation_alias="area_note")] = ""


class NextFilling(Form):
    name: Name
    stream_id: RowId


class NewArea(Form):
    name: Name
    kind: AreaKind


class NewOtherWaste(Form):
    """Without a day it stands there since today, which only the route knows."""

    course: Name
    contents: Annotated[Sentence, Field(min_length=1)]
    volume: Annotated[TypedVolume, Field(exclude=True)]
    mass: Annotated[TypedMass | None, Field(exclude=True)] = None
    since: Day
    area_id: RowId | None = None

    @computed_field
    def volume_ul(self) -> int:
        return volume_ul(self.volume)

    @computed_field
    def mass_mg(self) -> int | None:
        return None if self.mass is None else mass_mg(self.mass)


class GoneOn(Form):
    gone_on: Day
