"""Which labels of waste containers are to be printed, and on what."""

from typing import Self

from pydantic import Field, model_validator

from server.labels.forms import OnSheet, refuse_number_of
from server.web.submitted import RowId


class ContainerSheet(OnSheet):
    """`earlier_off` says that no label of an earlier filling is left on any of the containers."""

    container_ids: list[RowId] = Field(default=[])
    earlier_off: bool = False

    @model_validator(mode="after")
    def _has_labels(self) -> Self:
        refuse_number_of(len(self.container_ids))
        return self
