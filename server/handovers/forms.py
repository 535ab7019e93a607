"""What is typed where containers are handed over."""

from collections.abc import Sequence
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field

from server.containers.forms import Sentence, ShortText
from server.web.submitted import Form, RowId
from server.web.typed import Day


class HandedLine(Form):
    """What became of one container; an empty outcome is none."""

    container_id: RowId
    outcome: Literal["taken", "left", ""] = ""
    line_receipt: ShortText = ""
    left_reason: Sentence = ""


class HandOverTable(Form):
    """One entry a container."""

    container_id: tuple[str, ...] = ()
    outcome: tuple[str, ...] = ()
    line_receipt: tuple[str, ...] = ()
    left_reason: tuple[str, ...] = ()


class HandOver(HandOverTable):
    collected_by: ShortText = ""
    receipt: ShortText = ""

    def said_of(self, lines: Sequence[HandedLine]) -> dict[str, Any]:
        """What a hand-over takes, with what was said of each container."""
        return {
            "container_ids": [one.container_id for one in lines if one.outcome == "taken"],
            "left": {one.container_id: one.left_reason for one in lines if one.outcome == "left"},
            "receipts": {one.container_id: one.line_receipt for one in lines},
            "collected_by": self.collected_by,
            "receipt": self.receipt,
        }


class Missed(Form):
    said: Annotated[Sentence, Field(min_length=1)]


class TakenBack(Form):
    take_back_reason: Annotated[Sentence, Field(min_length=1)]


class Span(Form):
    """Days whose pickups are looked at."""

    first: Day
    last: Day

    @property
    def days(self) -> tuple[date, date]:
        return min(self.first, self.last), max(self.first, self.last)
