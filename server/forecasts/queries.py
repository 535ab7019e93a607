"""How waste containers fill until the next pickup."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from server.charges.queries import list_charges
from server.chemistry.models import UsualQuantities
from server.chemistry.queries import get_usual_quantities, list_rests
from server.containers.models import Source, Stream, WasteContainer
from server.containers.queries import list_containers, list_streams, source_of
from server.core.container_life import TAKES_MORE
from server.core.moments import day_at, day_begins
from server.core.waste_forecast import (
    Addition,
    Fill,
    PlatesAhead,
    Vessel,
    charge_additions,
    fill,
    rinse_additions,
    with_tests,
)
from server.data.session import LabSession
from server.pickups.models import Pickup
from server.pickups.queries import find_next_pickup
from server.rotations.queries import Published, list_published


@dataclass(frozen=True)
class StreamForecast:
    """One stream: its containers that are not collected, and how the open ones fill until `pickup` (none: nothing to count on)."""

    stream: Stream
    containers: Sequence[WasteContainer]
    open_containers: Sequence[WasteContainer]
    fill: Fill
    pickup: Pickup | None


def _plates_ahead(published: Sequence[Published], zone: str) -> list[PlatesAhead]:
    return [
        PlatesAhead(
            f"{one.section_name}, {one.name}",
            day_at(one.starts_at, zone),
            one.starts_at,
            one.ends_at,
            one.plates_planned,
            one.stations,
        )
        for one in published
    ]


def _in_trays(session: LabSession, source: Source, now: datetime) -> list[Addition]:
    return [
        Addition(f"charge now in {found.tray.name}", now, found.charge.volume_ul, charges=1)
        for found in list_charges(session)
        if source_of(found.charge) is source
    ]


def _rests(session: LabSession, source: Source, now: datetime) -> list[Addition]:
    return [
        Addition(f"rest of batch {batch.number}, past its life", now, batch.left_ul)
        for batch in list_rests(session, now)
        if source_of(batch) is source
    ]


def _additions(
    session: LabSession, source: Source, ahead: Sequence[PlatesAhead], usual: UsualQuantities, now: datetime
) -> Sequence[Addition]:
    if source is Source.RINSE:
        return rinse_additions(ahead, rinse_ul_per_plate=usual.rinse_ul_per_plate, now=now)
    if source is Source.OTHER:
        return ()
    charge_ul = usual.developer_charge_ul if source is Source.DEVELOPER else usual.bleach_charge_ul
    to_come = charge_additions(ahead, charge_ul=charge_ul, plates_per_charge=usual.plates_per_charge, now=now)
    return [*_in_trays(session, source, now), *_rests(session, source, now), *to_come]


def forecast_streams(session: LabSession, *, now: datetime, zone: str) -> Sequence[StreamForecast]:
    """Every stream with what the published rotations add until the next pickup that can be counted on, or at all where there is none.

    The pickup's day counts in full, because nobody knows the hour at which it comes.
    """
    pickup = find_next_pickup(session, now=now, zone=zone)
    before = None if pickup is None else day_begins(pickup.on_day + timedelta(days=1), zone)
    published = list_published(session, after=day_begins(day_at(now, zone), zone), before=before)
    usual = get_usual_quantities(session)
    ahead = with_tests(_plates_ahead(published, zone), test_plates_per_station=usual.test_plates_per_station)
    containers = list_containers(session)
    forecasts = []
    for stream in list_streams(session):
        own = [container for container in containers if container.stream_id == stream.id]
        taking = [container for container in own if container.state in TAKES_MORE]
        outcome = fill(
            [Vessel(container.held_ul, container.fill_line_ul) for container in taking],
            _additions(session, Source(stream.takes), ahead, usual, now),
        )
        forecasts.append(StreamForecast(stream, own, taking, outcome, pickup))
    return forecasts
