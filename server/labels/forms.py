"""Which labels are to be printed, and on what."""

from typing import Annotated, Self

from pydantic import BeforeValidator, Field, model_validator

from server.core.label_sheets import FORMATS, find_format
from server.core.units import volume_ul
from server.web.submitted import Form, RowId

# More than anybody sticks on in a day.
MOST_LABELS = 200


def _format(text: str) -> str:
    if find_format(text) is None:
        message = "Please choose one of the list."
        raise ValueError(message)
    return text


def _vessel(text: str) -> int:
    volume = volume_ul(text)
    if not volume:
        message = "A bottle holds something. Please write its size, or leave the field empty."
        raise ValueError(message)
    return volume


class Use(Form):
    """How a vessel is used; both are no where nothing is ticked."""

    by_others: bool = False
    past_the_shift: bool = False


class Sheet(Form):
    """`first` is the first label of the sheet that is still free. `vessel_ul` is what the bottles hold where that is more than was made."""

    format: Annotated[str, BeforeValidator(_format)] = FORMATS[0].key
    first: int = Field(1, ge=1)
    vessel_ul: Annotated[int, BeforeValidator(_vessel)] = 0
    batch_ids: list[RowId] = Field(default=[], max_length=MOST_LABELS)
    charge_ids: list[RowId] = Field(default=[], max_length=MOST_LABELS)
    bottle_ids: list[RowId] = Field(default=[], max_length=MOST_LABELS)

    @model_validator(mode="after")
    def _has_labels(self) -> Self:
        if not (self.batch_ids or self.charge_ids or self.bottle_ids):
            message = "Choose at least one thing that gets a label."
            raise ValueError(message)
        found = find_format(self.format)
        if found is not None and self.first > found.labels:
            message = f"A sheet of this format has {found.labels} labels."
            raise ValueError(message)
        return self
