"""What is typed about mixing and checking. A field is named as it is typed, its clean value carries the kept unit."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, ValidationInfo

from server.chemistry.queries import LAST_ROW
from server.core.mixing import Steps
from server.core.moments import NoSuchTime, ShownTwice, day_at, instant_of, passed_instant
from server.core.recipe import Measure, amount_of
from server.core.units import MICROLITRES
from server.plates.forms import Side
from server.recipes.forms import Celsius, SomeMass
from server.web.submitted import Form, Submitted, read_lines
from server.web.typed import Day, Line, Note, Reason, SomeVolume, Volume, WallClock


def _a_millilitre(volume: int) -> int:
    if volume < MICROLITRES["ml"]:
        message = "Please write 1 mL or more."
        raise ValueError(message)
    return volume


def _source(key: str) -> str:
    found = re.fullmatch(r"(?:bottle|batch)-([1-9][0-9]{0,9})", key)
    if found is None or int(found[1]) > LAST_ROW:
        message = "Please choose one of the list."
        raise ValueError(message)
    return key


def _with_unit(text: str) -> str:
    """What is weighed is no volume: a bare number is asked back."""
    if re.fullmatch(r"[0-9.,]+", text):
        message = f"Please write it with its unit, such as {text} g or {text} mL."
        raise ValueError(message)
    if amount_of(text)[1] == Measure.PART:
        message = "Please write what was measured, such as 4.02 g or 300 mL."
        raise ValueError(message)
    return text


def tenths(celsius: Decimal | None) -> int | None:
    """A temperature as it is kept."""
    return None if celsius is None else int(celsius * 10)


def hundredths(ph: Decimal | None) -> int | None:
    """A pH as it is kept."""
    return None if ph is None else int(ph * 100)


UsualVolume = Annotated[Volume, AfterValidator(_a_millilitre)]
SourceKey = Annotated[str, AfterValidator(_source)]
Measured = Annotated[Line, AfterValidator(_with_unit)]


class Asked(Form):
    """What is to be mixed, as an address names it. Without a volume nothing is worked out yet."""

    recipe: Annotated[str, Field(max_length=20)] = ""
    volume: SomeVolume | None = None


class NewMix(Form):
    """The head of a mixing; what it is mixed from comes in the same form. `edition` is the one that the form showed."""

    recipe: Annotated[str, Field(max_length=20)] = ""
    edition: Annotated[int, Field(ge=0)] = 0
    volume: SomeVolume
    mixed_at: WallClock
    mixed_on: Literal["today", "yesterday"] = "today"
    clock_turn: Literal["before", "after"] | None = None
    temperature: Celsius | None = None
    balance: SomeMass = 10
    graduate: SomeVolume = 1_000
    as_measured: bool = False

    def kept(self) -> dict[str, Any]:
        """What was mixed as it is kept, beside its recipe and its time."""
        return {
            "edition": self.edition,
            "volume_ul": self.volume,
            "steps": Steps(self.balance, self.graduate),
            "temperature_decicelsius": tenths(self.temperature),
            "as_measured": self.as_measured,
        }


class SourceRow(Form):
    """One component: the bottle or batch it was taken from and what was measured of it; and a second, where one was short."""

    component: Annotated[Line, Field(min_length=1, max_length=60)]
    source: SourceKey
    measured: Measured | None = None
    also_source: SourceKey | None = None
    also_measured: Measured | None = None


class SourceTable(Form):
    """One entry a component."""

    component: tuple[str, ...] = ()
    source: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()
    also_source: tuple[str, ...] = ()
    also_measured: tuple[str, ...] = ()


@dataclass(frozen=True)
class Chosen:
    """A bottle or batch that a component is taken from, and what was really measured of it, where somebody wrote it down."""

    component: str
    source: str
    measured: tuple[int, Measure] | None = None


def read_sources(table: SourceTable) -> tuple[list[Submitted[SourceRow]], list[Chosen]]:
    """The lines with a sentence beside each fault, and what was chosen: none where there is a fault."""
    lines = read_lines(SourceRow, table)
    rows = [line.clean for line in lines if line.clean is not None]
    if len(rows) < len(lines):
        return lines, []
    return lines, [chosen for row in rows for chosen in _chosen(row)]


def _chosen(row: SourceRow) -> Sequence[Chosen]:
    pairs = [(row.source, row.measured), (row.also_source, row.also_measured)]
    return [
        Chosen(row.component, source, None if measured is None else amount_of(measured))
        for source, measured in pairs
        if source is not None
    ]


def with_mixing_time(
    form: Submitted[NewMix], now: datetime, zone: str
) -> tuple[Submitted[NewMix], datetime | None]:
    """The form and the instant that its clock time means, or the form refused where the clocks skip that time or show it twice."""
    if form.clean is None:
        return form, None
    clock, day = form.clean.mixed_at, day_at(now, zone)
    if form.clean.mixed_on == "yesterday":
        day -= timedelta(days=1)
    meant = passed_instant(day=day, clock=clock, zone=zone, now=now, turn=form.clean.clock_turn)
    if isinstance(meant, NoSuchTime):
        return form.refused("mixed_at", meant.sentence), None
    if isinstance(meant, ShownTwice):
        return form.refused("clock_turn", meant.sentence), None
    return form, meant


def _beside_the_ph(celsius: Decimal | None, read: ValidationInfo) -> Decimal | None:
    if celsius is None and read.data.get("ph") is not None:
        message = "A pH depends on the temperature. Please write it beside."
        raise ValueError(message)
    return celsius


# A measured pH, and its temperature in a field after one that is called `ph`.
Ph = Annotated[Decimal, Field(ge=0, le=14, max_digits=4, decimal_places=2)]
TemperatureOfPh = Annotated[Celsius | None, AfterValidator(_beside_the_ph), Field(validate_default=True)]


class NewCheck(Form):
    ph: Ph | None = None
    ph_temperature: TemperatureOfPh = None
    look: Annotated[Line, Field(max_length=120)] = ""
    verdict: Literal["passed", "failed"]
    check_note: Note = ""

    def kept(self) -> dict[str, Any]:
        """The check as it is kept: hundredths of pH and tenths of a degree."""
        return {
            "ph_hundredths": hundredths(self.ph),
            "temperature_decicelsius": tenths(self.ph_temperature),
            "look": self.look,
            "passed": self.verdict == "passed",
            "note": self.check_note,
        }


class NewEnd(Form):
    """Until when a batch may be used by an instructor's decision."""

    until_day: Day
    until_clock: WallClock
    override_reason: Reason


def with_end(form: Submitted[NewEnd], zone: str) -> tuple[Submitted[NewEnd], datetime | None]:
    """The form and the instant it names, the earlier one of two; or the form refused where the clocks skip it."""
    if form.clean is None:
        return form, None
    day, clock = form.clean.until_day, form.clean.until_clock
    instant = instant_of(day=day, clock=clock, zone=zone)
    if isinstance(instant, NoSuchTime):
        return form.refused("until_clock", instant.sentence), None
    return form, instant


class DiscardedRest(Form):
    """A discard without a pour, which has a reason: what is poured into a container is discarded with its pour."""

    note: Reason


class MeasuredRest(Form):
    measured_ul: Annotated[Volume, Field(validation_alias="measured")]
    reason: Reason


class Quantities(Form):
    """Durations are typed in hours and days, because nobody counts a life in seconds."""

    developer_life_h: Annotated[Decimal, Field(gt=0, le=72)]
    bleach_life_days: Annotated[Decimal, Field(gt=0, le=1000)]
    stock_life_days: Annotated[Decimal, Field(gt=0, le=1000)]
    other_life_h: Annotated[Decimal, Field(gt=0, le=8760)]
    developer_charge_ul: Annotated[UsualVolume, Field(validation_alias="developer_charge")]
    bleach_charge_ul: Annotated[UsualVolume, Field(validation_alias="bleach_charge")]
    plates_per_charge: Annotated[int, Field(ge=1, le=1000)]
    plate_width_mm: Side
    plate_height_mm: Side
    rinse_ul_per_plate: Annotated[UsualVolume, Field(validation_alias="rinse_per_plate")]
    test_plates_per_station: Annotated[int, Field(ge=0, le=50)]

    def in_kept_units(self) -> dict[str, Any]:
        """The same with lives in whole seconds and sides in whole micrometres."""
        in_hours, in_days = {"developer_life_h", "other_life_h"}, {"bleach_life_days", "stock_life_days"}
        sides = {"plate_width_mm", "plate_height_mm"}
        lives = {name: getattr(self, name) * 3600 for name in in_hours}
        lives |= {name: getattr(self, name) * 86_400 for name in in_days}
        kept = {f"{name.rsplit('_', 1)[0]}_s": max(1, round(seconds)) for name, seconds in lives.items()}
        kept |= {name.replace("_mm", "_um"): int(getattr(self, name) * 1000) for name in sides}
        return {**self.model_dump(exclude=in_hours | in_days | sides), **kept}
