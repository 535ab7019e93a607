"""Which labels are to be printed, and on what."""

from typing import Annotated, Self

from pydantic import BeforeValidator, Field, model_validator

from server.core.label_sheets import FORMATS, find_format
from server.core.units import volume_ul
from server.web.submitted import Form, RowId

# More than anybody sticks on at once.
MOST_LABELS = 40


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


class OnSheet(Form):
    """Where labels are printed. `first` is the first label of the sheet that is still free."""

    format: Annotated[str, BeforeValidator(_format)] = FORMATS[0].key
    first: int = Field(1, ge=1)

    @model_validator(mode="after")
    def _begins_on_it(self) -> Self:
        found = find_format(self.format)
        if found is not None and self.first > found.labels:
            message = f"A sheet of this format has {found.labels} labels."
            raise ValueError(message)
        return self


def refuse_number_of(labels: int) -> None:
    """Raise ValueError with a sentence where so many labels can't be printed at once."""
    if not labels:
        message = "Choose at least one thing that gets a label."
        raise ValueError(message)
    if labels > MOST_LABELS:
        message = f"Choose at most {MOST_LABELS} labels at once."
        raise ValueError(message)


class Sheet(OnSheet):
    """`vessel_ul` is what the bottles hold where that is more than was made."""

    vessel_ul: Annotated[int, BeforeValidator(_vessel)] = 0
    batch_ids: list[RowId] = Field(default=[])
    charge_ids: list[RowId] = Field(default=[])
    bottle_ids: list[RowId] = Field(default=[])

    @model_validator(mode="after")
    def _has_labels(self) -> Self:
        refuse_number_of(len(self.batch_ids) + len(self.charge_ids) + len(self.bottle_ids))
        return self
