"""Which part of the register is wanted."""

from datetime import date
from typing import Annotated, Self

from pydantic import Field, model_validator

from server.web.submitted import Form, RowId
from server.web.typed import Day, Line


class Span(Form):
    """The days on which something was written down, and one container by its name; whatever is left empty takes all.

    `shown` is the day from which the page shows it, `after` the entry behind which it goes on.
    """

    first_day: Day | None = None
    last_day: Day | None = None
    container: Annotated[Line, Field(max_length=40)] = ""
    shown: Day | None = None
    after: RowId | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.first_day and self.last_day and self.last_day < self.first_day:
            message = "The last day comes before the first. Please turn them round."
            raise ValueError(message)
        return self

    def from_day(self, otherwise: date) -> date:
        return self.first_day or otherwise
