"""What the overview of waste shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from server.balances.queries import list_open_questions
from server.containers.models import Source, WasteContainer
from server.containers.pages import Gauge, charge_options, fill_words, gauge_of
from server.containers.queries import list_collected_containers
from server.core.container_life import TAKES_MORE
from server.core.fill_options import requests
from server.core.fill_words import Headline, Way, headline, tell
from server.core.moments import day_words, moment_words
from server.core.units import volume_words
from server.core.waste_forecast import plates_that_fit
from server.data.session import LabSession
from server.forecasts.pages import (
    Coming,
    added_ul,
    addition_at,
    coming_of,
    headline_of,
    telling_of,
    ways_of,
)
from server.forecasts.queries import LabForecast, StreamForecast, get_forecast
from server.pickups.models import Pickup
from server.pickups.pages import Worry, list_worries
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
class StreamCard:
    id: int
    name: str
    takes: str
    hazards: str
    containers: Sequence[ContainerCard]
    lines: Sequence[Coming]
    summary: str
    without_container: str
    outlook: Headline
    what_to_do: Sequence[Way]


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


def _verdict(
    forecast: StreamForecast, container: WasteContainer, pickup: Pickup | None, zone: str
) -> tuple[str, str]:
    """The shape class and the words for one container, until the next pickup."""
    if container.state not in TAKES_MORE:
        return "plain", f"{container.state}: takes no more, waits for its pickup"
    if container.held_ul >= container.fill_line_ul:
        above = "above" if container.held_ul > container.fill_line_ul else "at"
        return "watch", f"{above} its fill line: note it as full and request a pickup"
    index = forecast.index_of(container)
    full = forecast.fill.full_during(index)
    if full is None:
        return "well", f"holds {_until(pickup, zone)}"
    at = addition_at(full, full.starts_at, zone)
    later = [one for one in forecast.fill.feed.containers[index + 1 :] if one.is_taking]
    if later:
        return "watch", f"full during {at}; then “{later[0].name}” takes over"
    if not any(step.likely.over_ul for step in forecast.fill.before_pickup):
        return "watch", f"just holds: at its fill line with {at}"
    return "stop", f"will not hold: full during {at}"


def _summary(forecast: StreamForecast, found: LabForecast) -> str:
    """What comes before the next pickup, and how many plates of rinse there is room for."""
    if forecast.source is Source.OTHER:
        return "Rotations add nothing to this stream."
    pickup, fill = found.next_pickup, forecast.fill
    until = "" if pickup is None else f" until the pickup of {day_words(pickup.on_day)}"
    words = f"Coming{until}: {volume_words(added_ul(fill.before_pickup))}; room in the containers that take it: {volume_words(fill.start.room_ul)}"
    if forecast.source is Source.RINSE:
        plates = plates_that_fit(room_ul=fill.start.room_ul, rinse_ul_per_plate=found.coming.rinse.mean_ul)
        words += f", the rinse of {plates} plates"
    return f"{words}."


def _container_card(
    forecast: StreamForecast, container: WasteContainer, left_open: Mapping[int, datetime], found: LabForecast
) -> ContainerCard:
    before = forecast.fill.before_pickup
    coming = before[-1].likely.levels_ul[forecast.index_of(container)] if before else container.held_ul
    state, verdict = _verdict(forecast, container, found.next_pickup, found.zone)
    since = left_open.get(container.id)
    return ContainerCard(
        container.id,
        container.name,
        fill_words(container),
        gauge_of(container, coming),
        state,
        verdict,
        container.state in TAKES_MORE,
        "" if since is None else f"lid off since {moment_words(since, found.zone)}",
    )


def _stream_card(number: int, left_open: Mapping[int, datetime], found: LabForecast) -> StreamCard:
    forecast = found.streams[number]
    takes_more = any(one.is_taking for one in forecast.fill.feed.containers)
    return StreamCard(
        forecast.stream.id,
        forecast.stream.name,
        forecast.stream.takes,
        forecast.stream.hazards,
        [_container_card(forecast, container, left_open, found) for container in forecast.containers],
        [coming_of(step, forecast, found) for step in forecast.fill.before_pickup if step.addition],
        _summary(forecast, found),
        "" if takes_more else "No container takes this stream.",
        headline(telling_of(forecast, found)),
        ways_of(number, found) if forecast.fill.first_over else _requests_of(number, found),
    )


def _requests_of(number: int, found: LabForecast) -> Sequence[Way]:
    """The requests on which it hangs that a stream holds."""
    told = telling_of(found.streams[number], found)
    return [tell(way, told) for way in requests(found.shelf, number)]


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
    found = get_forecast(session, now=now, zone=zone)
    pickup = found.next_pickup
    left_open = {container.id: since for container, since in list_left_open(session)}
    return WastePage(
        headline=headline_of(found),
        pickup_words=_pickup_words(pickup, zone),
        pickup_id=None if pickup is None else pickup.id,
        worries=list_worries(session, now=now, zone=zone),
        weighings=[
            (container.id, container.name, check.sentence)
            for container, check in list_open_questions(session)
        ],
        streams=[_stream_card(number, left_open, found) for number in range(len(found.streams))],
        charges=charge_options(session),
        collected=[(container.id, container.name) for container in list_collected_containers(session)],
    )
