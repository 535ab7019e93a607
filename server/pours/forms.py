"""What is typed about pours."""

from typing import Annotated, Literal

from pydantic import Field, computed_field

from server.containers.forms import Sentence, TypedVolume
from server.containers.models import Source
from server.core.measuring import Method
from server.core.units import volume_ul
from server.web.submitted import Form, RowId

# The ways a person measures; a pickup's sum is not one of them.
MeasuredBy = Literal[Method.GRADUATE, Method.SCALE, Method.ESTIMATE]


class NewPour(Form):
    tablet_id: Annotated[str, Field(min_length=8, max_length=64)]
    container_id: RowId
    source: Source
    of_stream_id: RowId | None = None
    volume: Annotated[TypedVolume, Field(exclude=True)]
    method: MeasuredBy
    charge_id: RowId | None = None
    is_closed_again: bool = False
    over_line_reason: Sentence = ""
    note: Sentence = ""

    @computed_field
    def typed(self) -> str:
        return self.volume

    @computed_field
    def volume_ul(self) -> int:
        return volume_ul(self.volume)
