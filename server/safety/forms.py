"""What is typed about safety rounds."""

from collections.abc import Mapping, Sequence
from typing import Annotated, Literal, Self

from pydantic import Field, computed_field, model_validator

from server.safety.models import SafetyCheck, ShelfPoint, WaterFelt
from server.web.submitted import Form, RowId, Submitted, read_lines
from server.web.typed import Line

LONGEST_RUN_MIN = 120

TabletId = Annotated[str, Field(min_length=8, max_length=64)]
Words = Annotated[Line, Field(max_length=300)]

# The checks that are told in one sentence; the eyewash and the waste shelf have forms of their own.
PlainCheck = Literal[SafetyCheck.SAFELIGHTS, SafetyCheck.LASERS, SafetyCheck.DARK_ROOM]


class NewRound(Form):
    check_kind: PlainCheck
    in_order: bool
    found: Annotated[str, Field(max_length=1000)] = ""


class EyewashRound(Form):
    """Minutes are kept as typed; the action takes the seconds computed from them."""

    tablet_id: TabletId
    minutes: Annotated[int, Field(ge=1, le=LONGEST_RUN_MIN, exclude=True)]
    water_felt: WaterFelt
    in_order: bool
    found: Annotated[str, Field(max_length=1000)] = ""

    @computed_field
    def ran_s(self) -> int:
        return self.minutes * 60


class PutRight(Form):
    finding_id: RowId
    how: Annotated[Words, Field(min_length=1)]


class ContainerLook(Form):
    """One container of a round: all in order, or what was found at which point."""

    container_id: RowId
    all_well: bool = False
    closed: Words = ""
    label: Words = ""
    leak: Words = ""
    upright: Words = ""
    fill_line: Words = ""
    apart: Words = ""

    @property
    def found(self) -> Mapping[ShelfPoint, str]:
        """What was found, by point; nothing where all is in order."""
        typed = {
            ShelfPoint.CLOSED: self.closed,
            ShelfPoint.LABEL: self.label,
            ShelfPoint.LEAK: self.leak,
            ShelfPoint.UPRIGHT: self.upright,
            ShelfPoint.LINE: self.fill_line,
            ShelfPoint.APART: self.apart,
        }
        return {point: words for point, words in typed.items() if words}

    @model_validator(mode="after")
    def _one_or_the_other(self) -> Self:
        if self.all_well and self.found:
            message = "Either all is in order, or something was found: take the tick or the words away."
            raise ValueError(message)
        if not self.all_well and not self.found:
            message = "Tick that all is in order, or write what was found."
            raise ValueError(message)
        return self


class ShelfRound(Form):
    """The columns of a round's containers, one item for each; `well` are those that were ticked."""

    tablet_id: TabletId
    note: Annotated[str, Field(max_length=1000)] = ""
    well: list[str] = Field(default=[])
    container_id: list[str] = Field(default=[])
    closed: list[str] = Field(default=[])
    label: list[str] = Field(default=[])
    leak: list[str] = Field(default=[])
    upright: list[str] = Field(default=[])
    fill_line: list[str] = Field(default=[])
    apart: list[str] = Field(default=[])


class _Columns(Form):
    container_id: list[str]
    all_well: list[str]
    closed: list[str]
    label: list[str]
    leak: list[str]
    upright: list[str]
    fill_line: list[str]
    apart: list[str]


def read_looks(form: Submitted[ShelfRound]) -> Sequence[Submitted[ContainerLook]]:
    """Each container's line as it was typed, checked by itself, whatever is wrong with the rest of the form."""
    ids, ticked = form.value("container_id", []), form.value("well", [])
    columns = {name: form.value(name, []) for name in _Columns.model_fields}
    well = ["true" if one in ticked else "" for one in ids]
    return read_lines(ContainerLook, _Columns(**{**columns, "all_well": well}))
