"""What the forecast of waste shows, and the words in which other pages tell of it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from server.containers.models import Source
from server.core.fill_drawing import FillDrawing, draw_fill
from server.core.fill_forecast import SURENESS, Band, FillDay, PickupAhead, State, Step
from server.core.fill_options import requests
from server.core.fill_words import Headline, Telling, Way, band_words, chance_words, headline, tell
from server.core.moments import clock_at, day_words, moment_words
from server.core.rinse_history import rinse_words
from server.core.units import near_volume_words, volume_words
from server.core.waste_forecast import ASSUMED_CHARGE_SPREAD_PERCENT, Addition
from server.data.session import LabSession
from server.forecasts.queries import ComingIn, LabForecast, StreamForecast, get_forecast


@dataclass(frozen=True)
class Coming:
    """One addition: what it is, how much and why, where the stream then stands, and whether it fits."""

    when: str
    name: str
    adds: str
    band: str
    why: Sequence[str]
    then: str
    fits: bool
    over: str


@dataclass(frozen=True)
class DayRow:
    """One day of the table: `adds` is all that comes, `names` what it is. `after` is what stands there after its pickup, empty on a day without one that comes."""

    day: str
    adds: str
    names: str
    comings: Sequence[Coming]
    low: str
    likely: str
    high: str
    room: str
    state: str
    verdict: str
    events: Sequence[str]
    after: str


@dataclass(frozen=True)
class StreamPart:
    id: int
    name: str
    headline: Headline
    why: Sequence[str]
    drawing: FillDrawing
    rows: Sequence[DayRow]
    ways: Sequence[Way]
    quiet_days: str


@dataclass(frozen=True)
class ClassLine:
    """A class behind the rinse per plate."""

    rotation_id: int
    name: str
    day: str
    plates: str
    plates_why: str
    rinse: str
    per_plate: str


@dataclass(frozen=True)
class RinsePart:
    """What a plate leaves of rinse: the figures, where they are from, and the classes behind them, newest first."""

    mean: str
    spread: str
    classes: str
    said: Sequence[str]
    lines: Sequence[ClassLine]


@dataclass(frozen=True)
class ForecastPage:
    headline: Headline | None
    until: str
    streams: Sequence[StreamPart]
    rinse: RinsePart
    others: str
    sureness: str
    charge_spread: str


def addition_at(addition: Addition, at: datetime, zone: str) -> str:
    """What it is, and when, unless that is now."""
    return addition.name if not addition.plates else f"{addition.name}, {moment_words(at, zone)}"


def added_ul(steps: Sequence[Step]) -> int:
    """What comes with so many steps as expected."""
    return sum(step.moved.likely for step in steps if step.addition is not None)


def _addition_why(addition: Addition, source: Source, coming: ComingIn) -> Iterator[str]:
    """The inputs and the formula behind an addition."""
    said = "assumed until the lab sets its own" if coming.usual.assumed else "set by the lab"
    if addition.is_spare:
        yield "This is left of a batch when nobody may use it any more, after the classes before that have taken their charges."
        yield "All of it becomes waste. Discard it into waste from its own page, under Chemistry: one entry does both."
        return
    if addition.charges and not addition.plates:
        yield "This charge stands in its tray; its whole volume becomes waste when it is emptied."
        yield "It is taken to be emptied when its life ends or the next class begins, and now where no class is ahead."
        return
    if source is Source.RINSE:
        per_plate = f"{coming.rinse.mean_ul / 1000:.1f} mL"
        yield f"{addition.plates} plates × {per_plate} of rinse a plate = {volume_words(addition.volume_ul)}, to the nearest mL."
        yield (
            f"Rinse a plate: {said}; a still rinse of 1 L changed after six plates is 166.7 mL a plate."
            if (coming.rinse.is_assumed)
            else rinse_words(coming.rinse)[0]
        )
    else:
        charge = volume_words(coming.charge_ul(source))
        yield (
            f"{addition.plates} plates at {coming.usual.plates_per_charge} a charge = {addition.charges} "
            f"{'charge' if addition.charges == 1 else 'charges'} × {charge} = {volume_words(addition.volume_ul)}. "
            f"Plates a charge and volume of a charge: {said}; each rotation is taken to begin with a fresh charge."
        )
    if addition.maybe_ul:
        yield f"{volume_words(addition.maybe_ul)} of it come only if every round kept for repeats is used."
    if addition.spread_ul:
        yield f"It differs from class to class by {volume_words(addition.spread_ul)} (standard deviation)."


def coming_of(step: Step, stream: StreamForecast, found: LabForecast) -> Coming:
    """One step of a forecast in which something comes."""
    assert step.addition is not None
    return Coming(
        when=moment_words(max(step.at, found.shelf.now), found.zone),
        name=step.addition.name,
        adds=volume_words(step.moved.likely),
        band=band_words(step.moved),
        why=tuple(_addition_why(step.addition, stream.source, found.coming)),
        then=volume_words(step.total_ul.likely),
        fits=step.likely.over_ul == 0,
        over=volume_words(step.likely.over_ul),
    )


def _verdict(over_ul: Band) -> tuple[str, str]:
    if over_ul.likely:
        return "stop", f"{volume_words(over_ul.likely)} too much"
    if over_ul.high:
        return "watch", f"at worst {near_volume_words(Fraction(over_ul.high))} too much"
    return "well", "fits"


def _pickup_words(pickup: PickupAhead, found: LabForecast) -> str:
    if pickup.is_requested:
        return "pickup, requested"
    if pickup.comes(found.shelf.now):
        return "pickup, counted on if it is requested"
    return f"pickup not counted on: it was not requested by {moment_words(pickup.request_by, found.zone)}"


def _events(day: FillDay, stream: StreamForecast, found: LabForecast) -> Iterator[str]:
    names = {container.id: container.name for container in stream.containers}
    for pickup in day.cut_offs:
        if not pickup.is_requested:
            late = pickup.request_by < found.shelf.now
            yield (
                f"{clock_at(pickup.request_by, found.zone)}: request for the pickup of {day_words(pickup.day)} "
                f"{'was' if late else 'is'} due"
            )
    if day.asked:
        asked = " and ".join(f"“{names[key]}”" for key in day.asked)
        yield f"on its request from then on, and taking no more: {asked}"
    for pickup in day.pickups:
        yield _pickup_words(pickup, found)


def _row(day: FillDay, stream: StreamForecast, found: LabForecast) -> DayRow:
    taken = any(pickup.comes(found.shelf.now) for pickup in day.pickups)
    state, verdict = _verdict(day.over_ul)
    return DayRow(
        day=f"{day.day:%a} {day.day.day} {day.day:%b}",
        adds=volume_words(added_ul(day.additions)),
        names="; ".join(step.addition.name for step in day.additions if step.addition),
        comings=[coming_of(step, stream, found) for step in day.additions],
        low=near_volume_words(Fraction(day.before_ul.low)),
        likely=volume_words(day.before_ul.likely),
        high=near_volume_words(Fraction(day.before_ul.high)),
        room=volume_words(day.room_ul),
        state=state,
        verdict=verdict,
        events=tuple(_events(day, stream, found)),
        after=_after_words(day.after_ul) if taken else "",
    )


def _after_words(after_ul: Band) -> str:
    band = band_words(after_ul)
    return f"then {volume_words(after_ul.likely)}" + (f" ({band})" if band else "")


def telling_of(stream: StreamForecast, found: LabForecast) -> Telling:
    """One stream's forecast with what its words need."""
    return Telling(
        stream.stream.name,
        bool(stream.containers),
        stream.fill,
        found.shelf.now,
        found.last,
        found.zone,
        found.coming.rinse,
    )


def headline_of(found: LabForecast) -> Headline | None:
    """The stream that is first to have no room; then one that may have none at worst; then that all hold, and on which requests it hangs."""
    if not found.streams:
        return None
    if not any(stream.containers for stream in found.streams):
        return Headline(
            "watch", "No container", "is set out: set out one for each stream, with its label on it"
        )
    for first_over in ("first_over", "first_over_at_worst"):
        over = [one for one in found.streams if getattr(one.fill, first_over) is not None]
        if over:
            first = min(over, key=lambda one: getattr(one.fill, first_over).at)
            return headline(telling_of(first, found))
    holds = headline(telling_of(found.streams[0], found))
    return Headline(holds.state, holds.figure, f"{holds.words}{_if_requested(found)}")


def _if_requested(found: LabForecast) -> str:
    """On which requests it hangs that everything holds."""
    needed = {
        one.pickup.key: one.pickup
        for number in range(len(found.streams))
        for one in requests(found.shelf, number)
    }
    if not needed:
        return ""
    first = min(needed.values(), key=lambda one: one.request_by)
    more = "" if len(needed) == 1 else " and the others in their turn"
    return f", if the pickup of {day_words(first.day)} is requested by {moment_words(first.request_by, found.zone)}{more}"


def ways_of(number: int, found: LabForecast) -> Sequence[Way]:
    """What to do for one stream, each way computed."""
    told = telling_of(found.streams[number], found)
    return [tell(way, told) for way in found.ways_out(number)]


def _held_words(state: State) -> str:
    held = volume_words(state.total_ul)
    return f"{held} held now, room below fill lines for {volume_words(state.room_ul)}"


def _headline_why(stream: StreamForecast) -> Iterator[str]:
    """How the first day without room, or that there is none, comes about."""
    fill = stream.fill
    step = fill.first_over or fill.first_over_at_worst
    yield f"{_held_words(fill.start)}."
    if step is None:
        most = max((one.total_ul.high for one in fill.steps), default=fill.start.total_ul)
        yield f"The most that will stand there at worst is {near_volume_words(Fraction(most))}."
        return
    before = fill.steps[: fill.steps.index(step) + 1]
    added, taken = added_ul(before), step.likely.taken_ul
    total = volume_words(step.total_ul.likely)
    less = f" − {volume_words(taken)} taken by pickups" if taken else ""
    yield (
        f"{volume_words(fill.start.total_ul)} + {volume_words(added)} that come until then{less} = {total}; "
        f"with the band {band_words(step.total_ul) or total}."
    )
    if step.chance_over is not None:
        yield (
            f"Chance that something has found no room by then: {chance_words(step.chance_over)}, "
            "by Student's t distribution of what comes since the pickup before."
        )


def _is_told(day: FillDay) -> bool:
    return bool(day.additions or day.pickups or day.cut_offs)


def _stream_part(number: int, found: LabForecast) -> StreamPart:
    stream, shelf = found.streams[number], found.shelf
    days = found.days(number)
    told = [day for day in days if _is_told(day)]
    quiet = len(days) - len(told)
    return StreamPart(
        id=stream.stream.id,
        name=stream.stream.name,
        headline=headline(telling_of(stream, found)),
        why=tuple(_headline_why(stream)),
        drawing=draw_fill(
            stream.fill, shelf.pickups, now=shelf.now, first=found.first, last=found.last, zone=found.zone
        ),
        rows=[_row(day, stream, found) for day in told],
        ways=ways_of(number, found),
        quiet_days=""
        if not quiet
        else f"On the other {quiet} days until {day_words(found.last)} nothing comes and nothing goes.",
    )


def _rinse_part(found: LabForecast) -> RinsePart:
    rinse = found.coming.rinse
    return RinsePart(
        mean=f"{rinse.mean_ul / 1000:.1f} mL",
        spread=f"{rinse.spread_ul / 1000:.1f} mL",
        classes=str(rinse.classes),
        said=rinse_words(rinse),
        lines=[
            ClassLine(
                one.rinse.key,
                one.rinse.name,
                day_words(one.on_day),
                str(one.rinse.plates),
                f"{one.noted} run notes, {one.through} counted through developer while it lasted; the larger number counts",
                volume_words(one.rinse.rinse_ul),
                f"{one.rinse.per_plate_ul / 1000:.1f} mL"
                if one.rinse.plates
                else "not counted: no plates known",
            )
            for one in found.past
        ],
    )


def _others_words(found: LabForecast) -> str:
    if not found.others:
        return ""
    volume = volume_words(sum(one.volume_ul for one in found.others))
    courses = ", ".join(dict.fromkeys(one.course for one in found.others))
    return (
        f"Waste of other courses on the shelf ({courses}): {volume}. Where a collector takes only so much, it is taken to go first, "
        "and as much of it to stand there at every pickup."
    )


def forecast_page(session: LabSession, *, now: datetime, zone: str) -> ForecastPage:
    found = get_forecast(session, now=now, zone=zone)
    return ForecastPage(
        headline=headline_of(found),
        until=day_words(found.last),
        streams=[_stream_part(number, found) for number in range(len(found.streams))],
        rinse=_rinse_part(found),
        others=_others_words(found),
        sureness=f"{round(SURENESS * 20)} of 20",
        charge_spread=f"{ASSUMED_CHARGE_SPREAD_PERCENT} %",
    )
