"""What is typed about kits. A field is named as it is typed, its clean value carries the kept unit."""

from typing import Annotated

from pydantic import Field

from server.web.submitted import Form, RowId
from server.web.typed import Day, Name, Note, Reason, SomeVolume, Volume


class NewKit(Form):
    name: Annotated[Name, Field(validation_alias="kit_name")]
    stock_a_ul: Annotated[Volume, Field(validation_alias="stock_a")] = 0
    stock_b_ul: Annotated[Volume, Field(validation_alias="stock_b")] = 0
    bleach_ul: Annotated[Volume, Field(validation_alias="bleach")] = 0
    storage: Note = ""
    arrived_on: Annotated[Day, Field(validation_alias="kit_arrived_on")]
    expires_on: Annotated[Day | None, Field(validation_alias="kit_expires_on")] = None


class DiscardedVolume(Form):
    bottle_id: Annotated[RowId, Field(validation_alias="discard_bottle_id")]
    amount: Annotated[SomeVolume, Field(validation_alias="discard_volume")]
    note: Annotated[Note, Field(validation_alias="discard_note")] = ""


class MeasuredVolume(Form):
    bottle_id: RowId
    measured: Annotated[Volume, Field(validation_alias="measured")]
    reason: Reason
