"""What is filed from a tablet, and the verdict."""

import re
from datetime import datetime, timedelta
from typing import Annotated

from pydantic import AfterValidator, Field

from server.core.diagnosis import Darkening, Defect
from server.runs.models import NOBODY, Incident, ObjectKind, ObjectTone, ReplayColour
from server.web.submitted import Form, RowId

_UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_LETTER = re.compile(r"[a-z]{1,2}")
# A tablet may lie in a drawer over the holidays with a note on it. One that waited longer is taken for this long.
LONGEST_KEPT_S = 60 * 86_400


def _tablet_id(text: str) -> str:
    if _UUID.fullmatch(text.lower()) is None:
        message = "This note has lost its number. Please file it once more."
        raise ValueError(message)
    return text.lower()


def _letter(text: str) -> str:
    if _LETTER.fullmatch(text) is None:
        message = "Please choose one of the letters of your group."
        raise ValueError(message)
    return text


def _letter_or_nobody(text: str) -> str:
    return text if text == NOBODY else _letter(text)


Letter = Annotated[str, AfterValidator(_letter)]


class FromTablet(Form):
    """`group_id` had joined when it was written; `kept_s` is how long the tablet kept it before it could be sent, in seconds."""

    group_id: RowId | None = None
    kept_s: Annotated[int, Field(ge=0, le=LONGEST_KEPT_S)] = 0

    def written_at(self, now: datetime) -> datetime:
        """When it was written on the tablet, where it arrives `now`."""
        return now - timedelta(seconds=self.kept_s)


class NewRun(FromTablet):
    """The planned times are those of the station `planned_of` when the page was drawn."""

    tablet_id: Annotated[str, AfterValidator(_tablet_id)]
    plate_box_id: RowId
    place_id: RowId
    charge_id: RowId | None = None
    settle_s: Annotated[int, Field(ge=0, le=3600)] | None = None
    exposure_s: Annotated[int, Field(ge=1, le=3600)] | None = None
    develop_s: Annotated[int, Field(ge=1, le=7200)] | None = None
    plate_no: Annotated[int, Field(ge=1, le=99)] | None = None
    planned_of: RowId | None = None
    planned_settle_s: Annotated[int, Field(ge=0, le=3600)] | None = None
    planned_exposure_s: Annotated[int, Field(ge=1, le=3600)] | None = None
    emulsion_by: Annotated[str, AfterValidator(_letter_or_nobody)] | None = None
    object_kind: ObjectKind | None = None
    object_tone: ObjectTone | None = None
    bleach_clear_s: Annotated[int, Field(ge=1, le=7200)] | None = None
    incident: Incident = Incident.NONE
    filed_by: Letter | None = None
    comment: Annotated[str, Field(max_length=1000)] = ""


class NewPhoto(FromTablet):
    tablet_id: Annotated[str, AfterValidator(_tablet_id)]


class NewVerdict(Form):
    verdict: Annotated[int, Field(ge=0, le=4)]
    defects: tuple[Defect, ...] = ()
    darkening: Darkening | None = None
    replay_colour: ReplayColour | None = None
    comment: Annotated[str, Field(max_length=1000)] = ""


_SLOT = re.compile(r"([1-9][0-9]{0,8})-([1-9][0-9]?)")


def _slot(text: str) -> str:
    if _SLOT.fullmatch(text) is None:
        message = "Please choose one of the free slots."
        raise ValueError(message)
    return text


class Slot(Form):
    """A slot of a rack: the rack's id, a hyphen and the slot's number."""

    slot_id: Annotated[str, AfterValidator(_slot)]

    @property
    def place_id(self) -> int:
        return int(self.slot_id.partition("-")[0])

    @property
    def number(self) -> int:
        return int(self.slot_id.partition("-")[2])


class OwnSlot(Slot, FromTablet):
    pass


class OwnVerdict(NewVerdict, FromTablet):
    pass
