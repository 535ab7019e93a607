"""What is typed about entries of the waste ledger."""

from datetime import datetime
from typing import Annotated, Any, Literal, TypeVar

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from server.containers.forms import Sentence
from server.containers.models import Source
from server.core.measuring import NOT_WEIGHED, Method, read_give_or_take, read_quantity
from server.core.moments import NoSuchTime, ShownTwice, day_at, passed_instant
from server.web.submitted import Form, RowId, Submitted
from server.web.typed import Day, Line, WallClock

# The ways a person measures; a pickup's sum is not one of them.
MeasuredBy = Literal[Method.GRADUATE, Method.SCALE, Method.ESTIMATE]


def _amount(typed: str) -> str:
    """The text as typed, once it is known to be a volume or a mass above nothing."""
    quantity = read_quantity(typed)
    if not (quantity.volume_ul or quantity.mass_mg):
        message = "Please write more than nothing, such as 250 mL."
        raise ValueError(message)
    return typed


def _give_or_take(typed: str) -> str:
    if typed:
        read_give_or_take(typed)
    return typed


Amount = Annotated[Line, Field(max_length=40), AfterValidator(_amount)]
TypedGiveOrTake = Annotated[Line, Field(max_length=20), AfterValidator(_give_or_take)]


class NewEntry(Form):
    """What every entry tells: how much, how it was measured, and when it happened where that was not now."""

    tablet_id: Annotated[str, Field(min_length=8, max_length=64)]
    amount: Amount
    method: MeasuredBy
    give_or_take: TypedGiveOrTake = ""
    happened_day: Day | None = None
    happened_clock: WallClock | None = None
    clock_turn: Literal["before", "after"] | None = None
    is_closed_again: bool = False
    note: Sentence = ""

    @field_validator("method")
    @classmethod
    def _a_mass_was_weighed(cls, method: Method, others: ValidationInfo) -> Method:
        amount = others.data.get("amount")
        if amount is not None and read_quantity(amount).mass_mg is not None and method != Method.SCALE:
            raise ValueError(NOT_WEIGHED)
        return method

    def kept(self) -> dict[str, Any]:
        """The entry as it is kept: its quantity as a volume or as a mass, beside the words that were typed."""
        quantity = read_quantity(self.amount)
        typed = {"amount", "give_or_take", "happened_day", "happened_clock", "clock_turn"}
        return {
            **self.model_dump(exclude=typed),
            "typed": quantity.typed,
            "volume_ul": quantity.volume_ul,
            "weighed_mg": quantity.mass_mg,
            "give_or_take": read_give_or_take(self.give_or_take) if self.give_or_take else None,
        }


Entry = TypeVar("Entry", bound=NewEntry)


def with_moment(form: Submitted[Entry], now: datetime, zone: str) -> tuple[Submitted[Entry], datetime | None]:
    """The form and when it happened, None for now; or the form refused where the clocks skip that time, show it twice, or only a day is told."""
    if form.clean is None or (form.clean.happened_day, form.clean.happened_clock) == (None, None):
        return form, None
    clock = form.clean.happened_clock
    if clock is None:
        return form.refused("happened_clock", "Please write the time too, such as 09:40."), None
    day = form.clean.happened_day or day_at(now, zone)
    meant = passed_instant(day=day, clock=clock, zone=zone, now=now, turn=form.clean.clock_turn)
    if isinstance(meant, NoSuchTime):
        return form.refused("happened_clock", meant.sentence), None
    if isinstance(meant, ShownTwice):
        return form.refused("clock_turn", meant.sentence), None
    return form, meant


class NewPour(NewEntry):
    container_id: RowId
    source: Source
    of_stream_id: RowId | None = None
    charge_id: RowId | None = None
    batch_id: RowId | None = None
    bottle_id: RowId | None = None
    keeps_rest: bool = False
    rotation_id: RowId | None = None
    over_line_reason: Sentence = ""


class NewReversal(Form):
    reason: Annotated[Sentence, Field(min_length=1)]
    over_line_reason: Sentence = ""
