"""What a device sends when somebody calls."""

from typing import Annotated

from pydantic import Field

from server.core.calling import EventKind
from server.web.submitted import Form
from server.web.typed import Line

# What a device kept longer was said to another class.
LONGEST_KEPT_MS = 12 * 3600 * 1000


Plate = Annotated[str, Field(pattern=r"^[0-9]{1,4} [0-9]{1,3} [^\n]{1,60}$")]


class Said(Form):
    """`tablet_id` was made on the device, `ago_ms` is how long before sending it was said.

    `answers` is the cue that is called or the event that is taken back; `repeats` are plates, a line each: pass, repeats before,
    group; `into` is the round kept for repeats that one of them takes.
    """

    tablet_id: Annotated[str, Field(pattern=r"^[0-9a-f-]{32,36}$")]
    kind: EventKind
    answers: Annotated[Line, Field(max_length=300)] = ""
    repeats: Annotated[tuple[Plate, ...], Field(max_length=20)] = ()
    into: Annotated[Line, Field(max_length=60)] = ""
    ago_ms: Annotated[int, Field(ge=0, le=LONGEST_KEPT_MS)] = 0
