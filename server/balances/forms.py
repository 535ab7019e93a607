"""What is typed about balances and weighings."""

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AwareDatetime, BeforeValidator, Field, ValidationInfo, field_validator

from server.balances.models import Elsewhere
from server.core.moments import NoSuchTime, instant_of
from server.core.units import LARGEST_VOLUME_UL, mass_mg, volume_words
from server.web.submitted import Form, RowId, Submitted
from server.web.typed import Day, Line, Note, SomeVolume, Volume, WallClock

Answer = Annotated[Line, Field(min_length=1, max_length=500)]


def _mass(text: str) -> int:
    """A weight with its unit: kilograms and grams are both usual, so a bare number is asked back."""
    if not any(letter.isalpha() for letter in text):
        message = f"Please write the unit too: {text} kg or {text} g."
        raise ValueError(message)
    return mass_mg(text)


def _something(mass: int) -> int:
    if mass <= 0:
        message = "Please write more than nothing, such as 1.2 kg."
        raise ValueError(message)
    return mass


Mass = Annotated[int, BeforeValidator(_mass), AfterValidator(_something)]


class Chosen(Form):
    """The days of a balance, as an address names them: one day, or from a first to a last."""

    first: Day | None = None
    last: Day | None = None

    @field_validator("last")
    @classmethod
    def _is_no_earlier(cls, last: date | None, others: ValidationInfo) -> date | None:
        first = others.data.get("first")
        if last is not None and first is not None and last < first:
            message = f"Please write {first} or a later day."
            raise ValueError(message)
        return last


class Where(Form):
    """The balance on whose page a form stands: its days, or its class."""

    first: Day
    last: Day
    class_id: RowId | None = None


def _refuse_too_much(volume: int, others: ValidationInfo) -> int:
    if volume * others.data.get("times", 1) > LARGEST_VOLUME_UL:
        message = "That is more than any lab holds. Please check the unit."
        raise ValueError(message)
    return volume


class NewEntry(Where):
    """Water drawn, or liquid that went elsewhere, at a time of a day; `times` over, as trays are filled one after the other."""

    tablet_id: Annotated[str, Field(min_length=8, max_length=64)]
    what: Literal["water", Elsewhere.SPILLED, Elsewhere.SAMPLED, Elsewhere.DRAINED]
    times: Annotated[int, Field(ge=1, le=100)] = 1
    volume: Annotated[SomeVolume, AfterValidator(_refuse_too_much)]
    on_day: Day
    clock: WallClock
    rotation_id: RowId | None = None
    note: Note = ""

    def kept(self) -> dict[str, Any]:
        """What was logged as it is kept, beside its time and where it went."""
        typed = volume_words(self.volume)
        return {
            "volume_ul": self.volume * self.times,
            "typed": typed if self.times == 1 else f"{self.times} × {typed}",
            "rotation_id": self.rotation_id,
            "note": self.note,
            "tablet_id": self.tablet_id,
        }


def with_time(
    form: Submitted[NewEntry], now: datetime, zone: str
) -> tuple[Submitted[NewEntry], datetime | None]:
    """The form and the instant that its day and clock mean, or the form refused where there is none or it is still to come."""
    if form.clean is None:
        return form, None
    instant = instant_of(day=form.clean.on_day, clock=form.clean.clock, zone=zone)
    if isinstance(instant, NoSuchTime):
        return form.refused("clock", instant.sentence), None
    if instant > now:
        return form.refused("clock", "This is still to come. Please write when it happened."), None
    return form, instant


class TakenBack(Where):
    """`entry_id` names the list and the entry in it."""

    entry_id: Annotated[str, Field(pattern=r"^(?:water|gone)-[1-9][0-9]{0,8}$")]
    reason: Annotated[Note, Field(min_length=1)]

    @property
    def is_water(self) -> bool:
        return self.entry_id.startswith("water")

    @property
    def number(self) -> int:
        return int(self.entry_id.partition("-")[2])


class NewAnswer(Where):
    """An answer to a difference as it was read."""

    seen_ul: int
    seen_at: AwareDatetime
    answer: Answer

    def kept(self) -> dict[str, Any]:
        return {
            "first": self.first,
            "last": self.last,
            "rotation_id": self.class_id,
            "seen_ul": self.seen_ul,
            "seen_at": self.seen_at,
            "answer": self.answer,
        }


class NewFigures(Form):
    carried_ml_per_m2: Annotated[Decimal, Field(ge=0, le=1000, decimal_places=3)]
    evaporated_ml_per_m2_h: Annotated[Decimal, Field(ge=0, le=2000, decimal_places=3)]
    tray_depth_mm: Annotated[Decimal, Field(ge=1, le=200, decimal_places=3)]
    tolerance_percent: Annotated[Decimal, Field(ge=0, le=50, decimal_places=2)]
    tolerance: Volume

    def in_kept_units(self) -> dict[str, int]:
        return {
            "carried_ul_per_m2": int(self.carried_ml_per_m2 * 1000),
            "evaporated_ul_per_m2_h": int(self.evaporated_ml_per_m2_h * 1000),
            "tray_depth_um": int(self.tray_depth_mm * 1000),
            "tolerance_ppm": int(self.tolerance_percent * 10_000),
            "tolerance_ul": self.tolerance,
        }


class NewWeighing(Form):
    """`density`, in g/mL, is typed only where it was measured now."""

    gross: Mass
    tare: Mass
    step: Annotated[int, BeforeValidator(_mass), Field(ge=0)]
    density: Annotated[Decimal | None, Field(ge=Decimal("0.5"), le=3, decimal_places=3)] = None

    @field_validator("tare")
    @classmethod
    def _is_lighter(cls, tare: int, others: ValidationInfo) -> int:
        gross = others.data.get("gross")
        if gross is not None and tare >= gross:
            message = "Empty it weighs less than with what is in it. Please check both weights."
            raise ValueError(message)
        return tare

    def kept(self) -> dict[str, Any]:
        return {
            "gross_mg": self.gross,
            "tare_mg": self.tare,
            "step_mg": self.step,
            "density_ug_per_ul": None if self.density is None else int(self.density * 1000),
        }


class NewWeighingAnswer(Form):
    answer: Answer
