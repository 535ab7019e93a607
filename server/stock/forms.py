"""What is typed where the plate boxes are counted."""

from typing import Annotated

from pydantic import Field

from server.web.submitted import Form, RowId
from server.web.typed import Note


class CountedBox(Form):
    """`left` is what the ledger said when the page was opened; a box without a number was not counted."""

    plate_box_id: RowId
    left: int | None = None
    counted: Annotated[int, Field(ge=0, le=10_000)] | None = None
    reason: Note = ""


class CountTable(Form):
    """One entry a box."""

    plate_box_id: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    counted: tuple[str, ...] = ()
    reason: tuple[str, ...] = ()
