"""What is typed about pickups."""

from typing import Annotated

from pydantic import AfterValidator, Field

from server.containers.forms import ShortText
from server.web.submitted import Form, RowId
from server.web.typed import Day, WallClock


def _chosen(container_ids: list[int]) -> list[int]:
    if not container_ids:
        message = "Please tick at least one container."
        raise ValueError(message)
    return container_ids


class NewPickup(Form):
    on_day: Day
    request_day: Day
    request_clock: WallClock


class HandOver(Form):
    container_ids: Annotated[list[RowId], AfterValidator(_chosen)] = Field(default=[], validate_default=True)
    collected_by: ShortText = ""
