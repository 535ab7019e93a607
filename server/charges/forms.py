"""What is typed about the trays. A field is named as it is typed, its clean value carries the kept unit."""

from typing import Annotated

from pydantic import Field

from server.web.submitted import Form, RowId
from server.web.typed import Reason, SomeVolume


class NewCharge(Form):
    batch_id: RowId
    place_id: RowId
    volume_ul: Annotated[SomeVolume, Field(validation_alias="charge_volume")]


class ToppingUp(Form):
    """`after_parts` says what the page showed: how many parts the charge had."""

    batch_id: RowId
    volume_ul: Annotated[SomeVolume, Field(validation_alias="more_volume")]
    after_parts: Annotated[int, Field(ge=1, le=10_000)]


class PlatesAllowed(Form):
    plates: Annotated[int, Field(ge=1, le=1000, validation_alias="more_plates")]
    reason: Reason


class PouredEarly(Form):
    batch_id: Annotated[RowId, Field(validation_alias="early_batch_id")]
    reason: Annotated[Reason, Field(validation_alias="early_reason")]
