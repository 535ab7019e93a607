"""What went wrong, as it is tapped or typed."""

from typing import Annotated

from pydantic import Field, field_validator

from server.replans.models import MishapKind
from server.web.submitted import Form, RowId, Submitted
from server.web.typed import WallClock

# Longer than any section: what is later than that is another class.
MOST_MINUTES = 600

Minutes = Annotated[int, Field(ge=1, le=MOST_MINUTES)]


class WhatHappened(Form):
    """`what` is the button: the kind, and for some a number of minutes or of a place behind a blank.

    `at` is the wall clock from which to plan anew, none = now.
    """

    what: Annotated[str, Field(pattern=r"^(late|station|plate|absent|spill|bell)( -?[0-9]{1,9})?$")]
    at: WallClock | None = None
    late_minutes: Minutes | None = None
    back_at: WallClock | None = None
    plate: Annotated[str, Field(pattern=r"^[0-9]{1,9}-[0-9]{1,4}$")] | None = None
    absent_group_id: RowId | None = None
    joins_group_id: RowId | None = None
    refill_minutes: Minutes = 10
    bell_minutes: Annotated[int, Field(ge=-MOST_MINUTES, le=MOST_MINUTES)] | None = None

    @field_validator("what")
    @classmethod
    def _says_enough(cls, what: str) -> str:
        if what in {MishapKind.STATION, MishapKind.SPILL}:
            message = "Please choose where it happened."
            raise ValueError(message)
        return what

    @property
    def kind(self) -> MishapKind:
        return MishapKind(self.what.split(" ")[0])

    @property
    def number(self) -> int | None:
        """The minutes or the place that the button named."""
        parts = self.what.split(" ")
        return int(parts[1]) if len(parts) > 1 else None


_NEEDED = {
    MishapKind.LATE: ("late_minutes", "Please write by how many minutes, such as 12."),
    MishapKind.PLATE: ("plate", "Please choose the plate."),
    MishapKind.ABSENT: ("absent_group_id", "Please choose the group."),
    MishapKind.BELL: ("bell_minutes", "Please write by how many minutes: 5 for later, -5 for earlier."),
}


def said(form: Submitted[WhatHappened]) -> Submitted[WhatHappened]:
    """The form with a sentence beside what its button needs and nobody typed."""
    clean = form.clean
    if clean is None or clean.number is not None or clean.kind not in _NEEDED:
        return form
    field, sentence = _NEEDED[clean.kind]
    return form if getattr(clean, field) else form.refused(field, sentence)
