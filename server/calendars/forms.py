"""What is typed about calendar addresses."""

from typing import Annotated

from pydantic import Field

from server.web.submitted import Form, RowId
from server.web.typed import Line

LONGEST_LABEL = 60


class NewAddress(Form):
    """`section_id` is none for all sections of the lab."""

    label: Annotated[Line, Field(min_length=1, max_length=LONGEST_LABEL)]
    section_id: RowId | None = None
