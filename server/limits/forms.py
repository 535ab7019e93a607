"""What is typed about measurements, the site's months, trays and streams. Quantities are cleaned to the kept units."""

import re
from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo

from server.core.moments import day_at, instants_of, no_such_time
from server.core.waste_rules.quantity import Dimension, read_quantity
from server.limits.models import CountsAs
from server.web.submitted import Form, RowId, Submitted
from server.web.typed import Day, Note, Reason, SomeVolume, WallClock

_MONTH = re.compile(r"(20[0-9]{2}|21[0-9]{2})-(0[1-9]|1[0-2])")


def _month(text: str) -> date:
    """The first day of a month written as `2027-02`."""
    match = _MONTH.fullmatch(text)
    if match is None:
        message = "Please write a month such as 2027-02."
        raise ValueError(message)
    return date(int(match[1]), int(match[2]), 1)


def _site_mass_mg(text: str) -> int:
    """Milligrams from what a site counts, in kilograms unless another unit is named; a site may have far more than a lab."""
    return round(read_quantity(text, dimension=Dimension.MASS, unit="kg").exact)


def _beside_the_ph(celsius: Decimal | None, read: ValidationInfo) -> Decimal | None:
    if celsius is None and read.data.get("ph") is not None:
        message = "A pH depends on the temperature. Please write it beside."
        raise ValueError(message)
    return celsius


def _something_known(said: str, read: ValidationInfo) -> str:
    measured = ("ph", "silver_mg_per_l", "chromium_mg_per_l")
    # A value that can't be read has a sentence of its own.
    if not said and all(name in read.data and read.data[name] is None for name in measured):
        message = "Please write what was measured above, or here what the waste office said."
        raise ValueError(message)
    return said


Strength = Annotated[Decimal, Field(ge=0, le=1_000_000, decimal_places=3)]
SiteMass = Annotated[int, BeforeValidator(_site_mass_mg)]


class NewDetermination(Form):
    """What was measured, and what the waste office said of it. What was not measured is left empty."""

    ph: Annotated[Decimal, Field(ge=-2, le=16, max_digits=4, decimal_places=2)] | None = None
    ph_temperature: Annotated[
        Annotated[Decimal, Field(ge=0, le=100, max_digits=4, decimal_places=1)] | None,
        AfterValidator(_beside_the_ph),
        Field(validate_default=True),
    ] = None
    silver_mg_per_l: Strength | None = None
    chromium_mg_per_l: Strength | None = None
    said: Annotated[Note, AfterValidator(_something_known), Field(validate_default=True)] = ""
    determined_on: Day | None = None
    sampled_on: Day
    sampled_clock: WallClock
    origin: Reason
    note: Annotated[Note, Field(validation_alias="sample_note")] = ""

    def kept(self) -> dict[str, Any]:
        """The values as they are kept: hundredths of pH, tenths of a degree, micrograms a litre."""
        return {
            "ph_hundredths": None if self.ph is None else int(self.ph * 100),
            "temperature_decicelsius": None if self.ph_temperature is None else int(self.ph_temperature * 10),
            "silver_ug_per_l": None if self.silver_mg_per_l is None else int(self.silver_mg_per_l * 1000),
            "chromium_ug_per_l": None
            if self.chromium_mg_per_l is None
            else int(self.chromium_mg_per_l * 1000),
            "said": self.said,
            "determined_on": self.determined_on,
            "origin": self.origin,
            "note": self.note,
        }


def with_sample(
    form: Submitted[NewDetermination], *, now: datetime, zone: str
) -> tuple[Submitted[NewDetermination], datetime]:
    """The form and the instant of its sample, the earlier one of two; the form refused where it can't have been then."""
    if form.clean is None:
        return form, now
    day, clock = form.clean.sampled_on, form.clean.sampled_clock
    instants = instants_of(day=day, clock=clock, zone=zone)
    if not instants:
        return form.refused("sampled_clock", no_such_time(day=day, clock=clock).sentence), now
    if instants[0] > now:
        return form.refused("sampled_on", "That is still to come. Please check the day and the time."), now
    said_on = form.clean.determined_on
    if said_on is not None and not day <= said_on <= day_at(now, zone):
        sentence = "The waste office said it between the sample's day and today. Please check both days."
        return form.refused("determined_on", sentence), now
    return form, instants[0]


class NewSiteMonth(Form):
    """What the rest of the site counted in a month, without this lab."""

    month: Annotated[date, BeforeValidator(_month)]
    non_acute_mg: Annotated[SiteMass, Field(validation_alias="non_acute")]
    acute_mg: Annotated[SiteMass, Field(validation_alias="acute")] = 0
    spill_mg: Annotated[SiteMass, Field(validation_alias="spill")] = 0
    on_site_mg: Annotated[SiteMass | None, Field(validation_alias="on_site")] = None
    reached_on: Day | None = None
    note: Annotated[Reason, Field(validation_alias="told_by")]


def with_past_days(form: Submitted[NewSiteMonth], *, today: date) -> Submitted[NewSiteMonth]:
    """The form, refused where its month or its day has not begun."""
    if form.clean is None:
        return form
    if form.clean.month > today:
        return form.refused("month", "That month is still to come. Please check it.")
    if form.clean.reached_on is not None and form.clean.reached_on > today:
        return form.refused("reached_on", "That day is still to come. Please check it.")
    return form


class NewTray(Form):
    area_id: RowId
    tray_ul: Annotated[SomeVolume, Field(validation_alias="tray")]


class NewCounting(Form):
    stream_id: RowId
    counts_as: CountsAs
    reason: Reason


class AskedCarried(Form):
    """What plates bring from a bath into a still rinse. The strength is in g/L of dichromate, or in mg/L of the metal itself."""

    bath_of: Literal["dichromate", "chromium", "silver"]
    strength: Strength
    carried_ul: Annotated[SomeVolume, Field(validation_alias="carried")]
    rinse_ul: Annotated[SomeVolume, Field(validation_alias="rinse")]


class AskedDissolved(Form):
    """What plates leave in a bath. Their silver is assumed until the lab knows it."""

    coverage_g_per_m2: Annotated[Decimal, Field(gt=0, le=100)]
    plates: Annotated[int, Field(ge=1, le=100_000)]
    dissolved_percent: Annotated[Decimal, Field(gt=0, le=100)]
    bath_ul: Annotated[SomeVolume, Field(validation_alias="bath")]
