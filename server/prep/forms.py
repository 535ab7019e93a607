"""What is ticked on a prep sheet."""

from datetime import date
from typing import Annotated

from annotated_types import Ge, Le

from server.web.submitted import Form

# A day that a sheet is asked for; years outside this no lab prepares for.
SheetDay = Annotated[date, Ge(date(2000, 1, 1)), Le(date(2199, 12, 31))]


class Tick(Form):
    """`done` is what the line shall be, so that a tick that is sent twice is one tick."""

    done: bool
