"""What is typed where containers are handed over."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Annotated, Any, Literal

from pydantic import Field

from server.containers.forms import Sentence, ShortText
from server.core.moments import day_at, instants_of, no_such_time
from server.web.submitted import Form, RowId, Submitted
from server.web.typed import Day, WallClock


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
    """When, to whom, against what. Without a time it happened as it is sent."""

    handed_on: Day | None = None
    handed_clock: WallClock | None = None
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


def with_handed_at(
    form: Submitted[HandOver], *, zone: str, now: datetime
) -> tuple[Submitted[HandOver], datetime | None]:
    """The form and the instant that it names, none where no clock was typed; or the form refused where that time is none or still to come.

    A clock has no seconds: the end of its minute is meant, so that what was poured within it came before.
    """
    if form.clean is None or form.clean.handed_clock is None:
        return form, None
    day, clock = form.clean.handed_on or day_at(now, zone), form.clean.handed_clock
    instants = instants_of(day=day, clock=clock, zone=zone)
    if not instants:
        return form.refused("handed_clock", no_such_time(day=day, clock=clock).sentence), None
    if instants[0] > now:
        return form.refused("handed_clock", "That is still to come. Write when it was handed over."), None
    return form, min(now, max(one for one in instants if one <= now) + timedelta(seconds=59))


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
