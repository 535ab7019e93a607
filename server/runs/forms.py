"""What is filed from a tablet, and the verdict."""

import re
from typing import Annotated

from pydantic import AfterValidator, Field

from server.runs.models import Incident
from server.web.submitted import Form, RowId

_UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
# A note may wait on a tablet over a week without a network.
LONGEST_KEPT_S = 7 * 86_400


def _tablet_id(text: str) -> str:
    if _UUID.fullmatch(text.lower()) is None:
        message = "This note has lost its number. Please file it once more."
        raise ValueError(message)
    return text.lower()


class FromTablet(Form):
    """`group_id` had joined when it was written; `kept_s` is how long the tablet kept it before it could be sent, in seconds."""

    group_id: RowId | None = None
    kept_s: Annotated[int, Field(ge=0, le=LONGEST_KEPT_S)] = 0


class NewRun(FromTablet):
    tablet_id: Annotated[str, AfterValidator(_tablet_id)]
    plate_box_id: RowId
    place_id: RowId
    charge_id: RowId | None = None
    settle_s: Annotated[int, Field(ge=0, le=3600)] | None = None
    exposure_s: Annotated[int, Field(ge=1, le=3600)] | None = None
    develop_s: Annotated[int, Field(ge=1, le=7200)] | None = None
    incident: Incident = Incident.NONE
    comment: Annotated[str, Field(max_length=1000)] = ""


class NewPhoto(FromTablet):
    tablet_id: Annotated[str, AfterValidator(_tablet_id)]


class NewVerdict(Form):
    verdict: Annotated[int, Field(ge=0, le=4)]
    comment: Annotated[str, Field(max_length=1000)] = ""


class OwnVerdict(NewVerdict, FromTablet):
    pass
