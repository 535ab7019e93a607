"""What is typed about what leaves a container."""

from typing import Annotated, Literal

from pydantic import Field

from server.containers.forms import Sentence
from server.containers.models import WasteEntryKind
from server.pours.forms import NewEntry
from server.web.submitted import RowId


class NewTransfer(NewEntry):
    to_container_id: RowId
    over_line_reason: Sentence = ""


class NewLoss(NewEntry):
    """What was taken, spilled or dried up; where it went is always told."""

    kind: Literal[WasteEntryKind.SAMPLE, WasteEntryKind.SPILL, WasteEntryKind.EVAPORATION]
    note: Annotated[Sentence, Field(min_length=1)]
