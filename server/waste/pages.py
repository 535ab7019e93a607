"""What the overview of waste shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from server.balances.queries import list_open_questions
from server.chemistry.models import UsualQuantities
from server.chemistry.queries import get_usual_quantities
from server.containers.models import Source, WasteContainer
from server.containers.pages import Gauge, charge_options, fill_words, gauge_of
from server.containers.queries import list_collected_containers
from server.core.container_life import TAKES_MORE
from server.core.moments import day_words, moment_words
from server.core.units import volume_words
from server.core.waste_forecast import Addition, plates_that_fit
from server.data.session import LabSession
from server.forecasts.queries import StreamForecast, forecast_streams
from server.pickups.models import Pickup
from server.pickups.pages import Worry, list_worries
from server.pickups.queries import find_next_pickup
from server.shelves.queries import list_left_open


@dataclass(frozen=True)
class ContainerCard:
    id: int
    name: str
    fill: str
    gauge: Gauge
    state: str
    verdict: str
    takes_more: bool
    left_open: str


@dataclass(frozen=True)
class ForecastLine:
    """One addition: what it is, how much and why, where the stream then stands, and whether it fits."""

    when: str
    name: str
    adds: str
    why: str
    then: str
    fits: bool
    over: str


@dataclass(frozen=True)
class StreamCard:
    id: int
    name: str
    takes: str
    hazards: str
    containers: Sequence[ContainerCard]
    lines: Sequence[ForecastLine]
    summary: str
    without_container: str
    what_to_do: Sequence[str]


@dataclass(frozen=True)
class Headline:
    """The one thing the screen is about: what has no room, or that everything holds."""

    state: str
    figure: str
    words: str


@dataclass(frozen=True)
class WastePage:
    headline: Headline | None
    pickup_words: str
    pickup_id: int | None
    worries: Sequence[Worry]
    weighings: Sequence[tuple[int, str, str]]
    streams: Sequence[StreamCard]
    charges: Sequence[tuple[int, str]]
    collected: Sequence[tuple[int, str]]


def _until(pickup: Pickup | None, zone: str) -> str:
    """How far the forecast looks, in words that follow “holds”."""
    if pickup is None:
        return "for everything that is published; no pickup to count on"
    if pickup.requested_at is None:
        return f"until {day_words(pickup.on_day)}, if that pickup is requested by {moment_words(pickup.request_by, zone)}"
    return f"until {day_words(pickup.on_day)}"


def _at(addition: Addition, zone: str) -> str:
    if not addition.plates:
        return addition.name
    return f"{addition.name}, {moment_words(addition.starts_at, zone)}"


def _verdict(forecast: StreamForecast, container: WasteContainer, zone: str) -> tuple[str, str]:
    """The shape class and the words for one container."""
    if container.state not in TAKES_MORE:
        return "plain", f"{container.state}: takes no more, waits for its pickup"
    index = forecast.open_containers.index(container)
    full = forecast.fill.full_during(index)
    later = forecast.open_containers[index + 1 :]
    if container.held_ul >= container.fill_line_ul:
        above = "above" if container.held_ul > container.fill_line_ul else "at"
        return "watch", f"{above} its fill line: note it as full and request a pickup"
    if full is None:
        return "well", f"holds {_until(forecast.pickup, zone)}"
    if later:
        return "watch", f"full during {_at(full, zone)}; then “{later[0].name}” takes over"
    if forecast.fill.first_over is None:
        return "watch", f"just holds: at its fill line with {_at(full, zone)}"
    return "stop", f"will not hold: full during {_at(full, zone)}"


def _why(addition: Addition, source: Source, usual: UsualQuantities) -> str:
    """The inputs and the formula behind an addition."""
    said = "assumed until the lab sets its own" if usual.assumed else "set by the lab"
    if addition.charges and not addition.plates:
        return "This charge stands in its tray; its whole volume becomes waste when it is emptied."
    if not addition.plates:
        return "This is left of a batch that nobody may use any more; all of it becomes waste. Discard it into waste from its own page, under Chemistry: one entry does both."
    if source is Source.RINSE:
        per_plate = f"{usual.rinse_ul_per_plate / 1000:.1f} mL"
        return (
            f"{addition.plates} plates × {per_plate} of rinse a plate = {volume_words(addition.volume_ul)}, to the nearest mL. "
            f"Rinse a plate: {said}; a still rinse of 1 L changed after six plates is 166.7 mL a plate."
        )
    charge_ul = usual.developer_charge_ul if source is Source.DEVELOPER else usual.bleach_charge_ul
    return (
        f"{addition.plates} plates at {usual.plates_per_charge} a charge = {addition.charges} "
        f"{'charge' if addition.charges == 1 else 'charges'} × {volume_words(charge_ul)} = {volume_words(addition.volume_ul)}. "
        f"Plates a charge and volume of a charge: {said}; each rotation is taken to begin with a fresh charge."
    )


def _lines(forecast: StreamForecast, usual: UsualQuantities, zone: str) -> list[ForecastLine]:
    source = Source(forecast.stream.takes)
    return [
        ForecastLine(
            moment_words(moment.addition.starts_at, zone),
            moment.addition.name,
            volume_words(moment.addition.volume_ul),
            _why(moment.addition, source, usual),
            volume_words(sum(moment.levels_ul) + moment.over_ul),
            moment.over_ul == 0,
            volume_words(moment.over_ul),
        )
        for moment in forecast.fill.moments
    ]


def _what_to_do(forecast: StreamForecast, zone: str) -> list[str]:
    """Ways out when a stream does not hold."""
    over = forecast.fill.first_over
    if over is None:
        return []
    before = "now" if not over.plates else f"before {moment_words(over.starts_at, zone)}"
    another = "another labelled" if forecast.containers else "a labelled"
    room = volume_words(forecast.fill.over_ul)
    ways = [
        f"Set out {another} container for {forecast.stream.name} {before}, with room for {room} or more below its fill line."
    ]
    if forecast.containers and forecast.pickup is None:
        ways.append(f"Or have what is here collected {before}: book a pickup and request it by its cut-off.")
    elif forecast.containers and forecast.pickup is not None:
        ways.append(
            f"Or have what is here collected {before}: the pickup of {day_words(forecast.pickup.on_day)} comes too late; "
            "ask your waste office for an earlier one and its cut-off."
        )
    return ways


def _summary(forecast: StreamForecast, usual: UsualQuantities) -> str:
    """What comes, and how many plates of rinse there is room for."""
    if Source(forecast.stream.takes) is Source.OTHER:
        return "Rotations add nothing to this stream."
    until = "" if forecast.pickup is None else f" until the pickup of {day_words(forecast.pickup.on_day)}"
    room = sum(vessel.room_ul for vessel in forecast.fill.vessels)
    words = f"Coming{until}: {volume_words(forecast.fill.added_ul)}; room in the containers that take it: {volume_words(room)}"
    if Source(forecast.stream.takes) is Source.RINSE:
        plates = plates_that_fit(room_ul=room, rinse_ul_per_plate=usual.rinse_ul_per_plate)
        words += f", the rinse of {plates} plates"
    return f"{words}."


def _stream_card(
    forecast: StreamForecast, usual: UsualQuantities, left_open: Mapping[int, datetime], zone: str
) -> StreamCard:
    cards = []
    for container in forecast.containers:
        takes_more = container.state in TAKES_MORE
        coming = forecast.fill.levels_ul[forecast.open_containers.index(container)] if takes_more else None
        state, verdict = _verdict(forecast, container, zone)
        cards.append(
            ContainerCard(
                container.id,
                container.name,
                fill_words(container),
                gauge_of(container, coming),
                state,
                verdict,
                takes_more,
                f"lid off since {moment_words(left_open[container.id], zone)}"
                if container.id in left_open
                else "",
            )
        )
    missing = "" if forecast.open_containers else "No container takes this stream."
    return StreamCard(
        forecast.stream.id,
        forecast.stream.name,
        forecast.stream.takes,
        forecast.stream.hazards,
        cards,
        _lines(forecast, usual, zone),
        _summary(forecast, usual),
        missing,
        _what_to_do(forecast, zone),
    )


def _headline(forecasts: Sequence[StreamForecast], zone: str) -> Headline | None:
    if not forecasts:
        return None
    if not any(forecast.containers for forecast in forecasts):
        return Headline(
            "watch", "No container", "is set out: set out one for each stream, with its label on it"
        )
    over = [
        (forecast.fill.first_over.starts_at, forecast)
        for forecast in forecasts
        if forecast.fill.first_over is not None
    ]
    if not over:
        return Headline("well", "Holds", _until(forecasts[0].pickup, zone))
    first = min(over, key=lambda pair: pair[0])[1]
    assert first.fill.first_over is not None
    return Headline(
        "stop",
        volume_words(first.fill.over_ul),
        f"too much for {first.stream.name}: no room from {_at(first.fill.first_over, zone)}",
    )


def _pickup_words(pickup: Pickup | None, zone: str) -> str:
    if pickup is None:
        return "No pickup is booked that can be counted on, so this looks over everything that is published."
    if pickup.requested_at is None:
        return f"Next pickup: {day_words(pickup.on_day)}, not requested yet. Request it by {moment_words(pickup.request_by, zone)}."
    return f"Next pickup: {day_words(pickup.on_day)}, requested."


def waste_page(
    session: LabSession,
    *,
    now: datetime,
    zone: str,
) -> WastePage:
    forecasts = forecast_streams(session, now=now, zone=zone)
    usual = get_usual_quantities(session)
    pickup = find_next_pickup(session, now=now, zone=zone)
    left_open = {container.id: since for container, since in list_left_open(session)}
    return WastePage(
        headline=_headline(forecasts, zone),
        pickup_words=_pickup_words(pickup, zone),
        pickup_id=None if pickup is None else pickup.id,
        worries=list_worries(session, now=now, zone=zone),
        weighings=[
            (container.id, container.name, check.sentence)
            for container, check in list_open_questions(session)
        ],
        streams=[_stream_card(forecast, usual, left_open, zone) for forecast in forecasts],
        charges=charge_options(session),
        collected=[(container.id, container.name) for container in list_collected_containers(session)],
    )
