"""What the waste pages show."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from server.charges.queries import list_charges
from server.chemistry.models import UsualQuantities
from server.chemistry.queries import get_usual_quantities
from server.core.moments import day_at, day_words, moment_words
from server.core.units import volume_words
from server.core.waste_forecast import Addition, plates_that_fit
from server.data.session import LabSession
from server.waste.forms import HandOver, MovedLine, NewContainer, NewPickup, NewPour, NewStream, Reversal
from server.waste.models import (
    ContainerState,
    Method,
    Pickup,
    Source,
    Stream,
    WasteContainer,
    WasteEntry,
    WasteEntryKind,
)
from server.waste.queries import (
    StreamForecast,
    find_charge_in_tray,
    find_next_pickup,
    forecast_streams,
    get_container,
    get_pickup,
    get_stream,
    list_collected_containers,
    list_collections,
    list_containers,
    list_entries,
    list_pickups,
    list_standing_pours,
    list_streams,
    source_of,
)
from server.web.submitted import Submitted

Options = Sequence[tuple[object, str]]
TAKES = [(source.value, source.value) for source in Source]
METHODS = [
    (Method.GRADUATE.value, "read off a graduate"),
    (Method.SCALE.value, "weighed on a scale"),
    (Method.ESTIMATE.value, "estimated"),
]
METHOD_WORDS = {
    Method.GRADUATE: "graduate",
    Method.SCALE: "scale",
    Method.ESTIMATE: "estimate",
    Method.SUM: "sum of entries",
}

# The drawn container, in the drawing's own units: its brim, its bottom and its sides.
BRIM_Y, BOTTOM_Y, LEFT_X, RIGHT_X = 22, 118, 6, 74


@dataclass(frozen=True)
class Gauge:
    """A container from the side: how high it stands now, how high it will, and where its fill line is. Heights fall from the top."""

    id: int
    held_y: float
    coming_y: float
    line_y: float
    words: str
    brim_y: int = BRIM_Y
    bottom_y: int = BOTTOM_Y
    left_x: int = LEFT_X
    right_x: int = RIGHT_X

    @property
    def held_height(self) -> float:
        return round(self.bottom_y - self.held_y, 2)

    @property
    def coming_height(self) -> float:
        return round(self.held_y - self.coming_y, 2)


@dataclass(frozen=True)
class ContainerCard:
    id: int
    name: str
    fill: str
    gauge: Gauge
    state: str
    verdict: str
    is_open: bool


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
    lost_pickups: Sequence[str]
    streams: Sequence[StreamCard]
    charges: Sequence[tuple[int, str]]
    collected: Sequence[tuple[int, str]]
    stream_options: Options
    takes: Options
    stream_form: Submitted[NewStream]
    container_form: Submitted[NewContainer]


@dataclass(frozen=True)
class PourPage:
    containers: Options
    charges: Options
    sources: Options
    methods: Options
    prefilled: Mapping[str, object]
    form: Submitted[NewPour]


@dataclass(frozen=True)
class LedgerLine:
    id: int
    when: str
    who: str
    kind: str
    typed: str
    method: str
    change: str
    total: str
    note: str


@dataclass(frozen=True)
class ContainerPage:
    id: int
    name: str
    state: str
    stream: str
    hazards: str
    fill: str
    line_why: str
    held_before: str
    started: str
    opened: str
    gauge: Gauge
    ledger: Sequence[LedgerLine]
    reversible: Options
    line: str
    line_form: Submitted[MovedLine]
    reversal_form: Submitted[Reversal]


@dataclass(frozen=True)
class LabelPage:
    id: int
    lab: str
    name: str
    stream: str
    contents: str
    hazards: str
    size: str
    fill_line: str
    started: str


@dataclass(frozen=True)
class PickupLine:
    id: int
    day: str
    request_by: str
    state: str
    words: str


@dataclass(frozen=True)
class PickupsPage:
    pickups: Sequence[PickupLine]
    form: Submitted[NewPickup]


@dataclass(frozen=True)
class SheetLine:
    id: int
    container: str
    stream: str
    hazards: str
    quantity: str
    estimated: str
    started: str


@dataclass(frozen=True)
class PickupPage:
    id: int
    lab: str
    line: PickupLine
    is_done: bool
    is_requested: bool
    lines: Sequence[SheetLine]
    total: str
    chosen: frozenset[str]
    form: Submitted[HandOver]


def _height(volume_ul: int, size_ul: int) -> float:
    """Where a volume stands in the drawing, never above the brim."""
    return round(BOTTOM_Y - (BOTTOM_Y - BRIM_Y) * min(volume_ul, size_ul) / size_ul, 2)


def _fill_words(container: WasteContainer) -> str:
    held, line = volume_words(container.held_ul), volume_words(container.fill_line_ul)
    over = container.held_ul - container.fill_line_ul
    if over > 0:
        return f"{held} of {line}, over the fill line by {volume_words(over)}"
    return (
        f"{held} of {line}, room for {volume_words(-over)}" if over else f"{held} of {line}, at the fill line"
    )


def _gauge(container: WasteContainer, coming_ul: int | None = None) -> Gauge:
    level = container.held_ul if coming_ul is None else coming_ul
    words = f"{container.name}: {_fill_words(container)}"
    if level > container.held_ul:
        words += f"; {volume_words(level)} with what is coming"
    return Gauge(
        container.id,
        _height(container.held_ul, container.size_ul),
        _height(level, container.size_ul),
        _height(container.fill_line_ul, container.size_ul),
        words,
    )


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
    if container.state == ContainerState.CLOSED:
        return "plain", "closed: takes no more, waits for its pickup"
    index = forecast.open_containers.index(container)
    full = forecast.fill.full_during(index)
    later = forecast.open_containers[index + 1 :]
    if container.held_ul >= container.fill_line_ul:
        above = "above" if container.held_ul > container.fill_line_ul else "at"
        return "watch", f"{above} its fill line: close it and request a pickup"
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
        return "This is left of a batch that nobody may use any more; all of it becomes waste. Discard it under Chemistry and log its pour."
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
        f"Open {another} container for {forecast.stream.name} {before}, with room for {room} or more below its fill line."
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
    words = f"Coming{until}: {volume_words(forecast.fill.added_ul)}; room in open containers: {volume_words(room)}"
    if Source(forecast.stream.takes) is Source.RINSE:
        plates = plates_that_fit(room_ul=room, rinse_ul_per_plate=usual.rinse_ul_per_plate)
        words += f", the rinse of {plates} plates"
    return f"{words}."


def _stream_card(forecast: StreamForecast, usual: UsualQuantities, zone: str) -> StreamCard:
    cards = []
    for container in forecast.containers:
        is_open = container.state == ContainerState.OPEN
        coming = forecast.fill.levels_ul[forecast.open_containers.index(container)] if is_open else None
        state, verdict = _verdict(forecast, container, zone)
        cards.append(
            ContainerCard(
                container.id,
                container.name,
                _fill_words(container),
                _gauge(container, coming),
                state,
                verdict,
                is_open,
            )
        )
    missing = "" if forecast.open_containers else "No container is open for this stream."
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
        return Headline("watch", "No container", "is open: open one for each stream, with its label on it")
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


def _lost(pickups: Sequence[Pickup], *, now: datetime, zone: str) -> list[str]:
    """Pickups that can't be counted on, each with what to do."""
    words = []
    for pickup in pickups:
        if pickup.done_at is not None:
            continue
        if pickup.on_day < day_at(now, zone):
            words.append(
                f"The pickup of {day_words(pickup.on_day)} has passed and nothing was handed over. Hand over what it took, or call it off."
            )
        elif pickup.requested_at is None and now > pickup.request_by:
            words.append(
                f"The pickup of {day_words(pickup.on_day)} was not requested by its cut-off, {moment_words(pickup.request_by, zone)}, "
                "so it isn't counted on. Call your waste office, then call it off or book another."
            )
    return words


def _charge_options(session: LabSession) -> list[tuple[int, str]]:
    return [
        (
            found.charge.id,
            f"{source_of(found.charge).value} in {found.tray.name}: {volume_words(found.charge.volume_ul)} of {found.batches}",
        )
        for found in list_charges(session)
    ]


def waste_page(
    session: LabSession,
    *,
    now: datetime,
    zone: str,
    stream_form: Submitted[NewStream] | None = None,
    container_form: Submitted[NewContainer] | None = None,
) -> WastePage:
    forecasts = forecast_streams(session, now=now, zone=zone)
    usual = get_usual_quantities(session)
    pickup = find_next_pickup(session, now=now, zone=zone)
    return WastePage(
        headline=_headline(forecasts, zone),
        pickup_words=_pickup_words(pickup, zone),
        pickup_id=None if pickup is None else pickup.id,
        lost_pickups=_lost(list_pickups(session), now=now, zone=zone),
        streams=[_stream_card(forecast, usual, zone) for forecast in forecasts],
        charges=_charge_options(session),
        collected=[(container.id, container.name) for container in list_collected_containers(session)],
        stream_options=[
            (forecast.stream.id, f"{forecast.stream.name} (takes {forecast.stream.takes})")
            for forecast in forecasts
        ],
        takes=TAKES,
        stream_form=stream_form or Submitted(),
        container_form=container_form or Submitted(),
    )


def _prefilled(session: LabSession, container_id: int | None, charge_id: int | None) -> dict[str, object]:
    """What a link to the form already says: the container's source, or the charge's source, volume and first open container."""
    if container_id is not None:
        container = get_container(session, container_id)
        return {"container_id": container_id, "source": get_stream(session, container.stream_id).takes}
    found = None if charge_id is None else find_charge_in_tray(session, charge_id)
    if found is None:
        return {}
    source = source_of(found.charge)
    takes = {stream.id: stream.takes for stream in list_streams(session)}
    suited = [
        container.id
        for container in list_containers(session)
        if container.state == ContainerState.OPEN and takes[container.stream_id] == source
    ]
    first = {"container_id": suited[0]} if suited else {}
    volume = volume_words(found.charge.volume_ul)
    return {"charge_id": charge_id, "source": source.value, "volume": volume, **first}


def pour_page(
    session: LabSession,
    *,
    container_id: int | None = None,
    charge_id: int | None = None,
    form: Submitted[NewPour] | None = None,
) -> PourPage:
    streams = {stream.id: stream.name for stream in list_streams(session)}
    return PourPage(
        containers=[
            (container.id, f"{container.name} ({streams[container.stream_id]}): {_fill_words(container)}")
            for container in list_containers(session)
            if container.state == ContainerState.OPEN
        ],
        charges=_charge_options(session),
        sources=TAKES,
        methods=METHODS,
        prefilled={"tablet_id": str(uuid.uuid4()), **_prefilled(session, container_id, charge_id)},
        form=form or Submitted(),
    )


def _ledger(entries: Sequence[WasteEntry], zone: str) -> list[LedgerLine]:
    reversed_ids = {entry.reverses_id for entry in entries}
    lines, total = [], 0
    for entry in entries:
        total += entry.change_ul
        kind = entry.kind
        if entry.kind == WasteEntryKind.CORRECTION:
            kind = f"reverses no. {entry.reverses_id}"
        elif entry.id in reversed_ids:
            kind = f"{entry.kind}, reversed"
        sign = "+" if entry.change_ul > 0 else ""
        lines.append(
            LedgerLine(
                entry.id,
                moment_words(entry.entered_at, zone),
                entry.entered_by,
                kind,
                entry.typed,
                METHOD_WORDS[Method(entry.method)],
                f"{sign}{volume_words(entry.change_ul)}",
                volume_words(total),
                entry.note,
            )
        )
    return lines


def _started(container: WasteContainer, zone: str) -> str:
    return (
        "not begun" if container.first_pour_at is None else day_words(day_at(container.first_pour_at, zone))
    )


def _line_why(container: WasteContainer) -> str:
    tenths = round(100 * container.fill_line_ul / container.size_ul)
    words = f"The fill line, {volume_words(container.fill_line_ul)}, is {tenths} % of the size to the brim, {volume_words(container.size_ul)}."
    if container.fill_line_ul == container.size_ul * 9 // 10:
        words += " 90 % is assumed."
    return f"{words} Rules seen on campuses run from 75 to 90 %; the rest is headspace for expansion. Your waste office decides."


def _held_before(container: WasteContainer) -> str:
    if not container.previous_contents:
        return "nothing, it was new"
    return f"{container.previous_contents}, washed since" if container.washed else container.previous_contents


def container_page(
    session: LabSession,
    container_id: int,
    *,
    zone: str,
    line_form: Submitted[MovedLine] | None = None,
    reversal_form: Submitted[Reversal] | None = None,
) -> ContainerPage:
    container = get_container(session, container_id)
    stream = get_stream(session, container.stream_id)
    standing = (
        [] if container.state == ContainerState.COLLECTED else list_standing_pours(session, container_id)
    )
    return ContainerPage(
        id=container.id,
        name=container.name,
        state=container.state,
        stream=stream.name,
        hazards=stream.hazards,
        fill="collected" if container.state == ContainerState.COLLECTED else _fill_words(container),
        line_why=_line_why(container),
        held_before=_held_before(container),
        started=_started(container, zone),
        opened=day_words(day_at(container.opened_at, zone)),
        gauge=_gauge(container),
        ledger=_ledger(list_entries(session, container_id), zone),
        reversible=[
            (
                entry.id,
                f"no. {entry.id}: {entry.typed} of {entry.source}, {moment_words(entry.entered_at, zone)}",
            )
            for entry in reversed(standing)
        ],
        line=volume_words(container.fill_line_ul),
        line_form=line_form or Submitted(),
        reversal_form=reversal_form or Submitted(),
    )


def label_page(session: LabSession, container_id: int, *, zone: str, lab: str) -> LabelPage:
    container = get_container(session, container_id)
    stream = get_stream(session, container.stream_id)
    return LabelPage(
        id=container.id,
        lab=lab,
        name=container.name,
        stream=stream.name,
        contents=_contents(stream),
        hazards=stream.hazards,
        size=volume_words(container.size_ul),
        fill_line=volume_words(container.fill_line_ul),
        started=_started(container, zone),
    )


def _contents(stream: Stream) -> str:
    """The contents in words, for somebody who knows nothing of the lab."""
    return {
        Source.DEVELOPER: "Spent photographic developer in water",
        Source.BLEACH: "Spent photographic bleach in water",
        Source.RINSE: "Rinse water from photographic plates",
        Source.OTHER: f"{stream.name}, from processing photographic plates",
    }[Source(stream.takes)]


def _pickup_line(pickup: Pickup, *, now: datetime, zone: str) -> PickupLine:
    day, request_by = day_words(pickup.on_day), moment_words(pickup.request_by, zone)
    if pickup.done_at is not None:
        by = f" to {pickup.collected_by}" if pickup.collected_by else ""
        return PickupLine(
            pickup.id, day, request_by, "well", f"handed over{by}, {moment_words(pickup.done_at, zone)}"
        )
    if pickup.on_day < day_at(now, zone):
        return PickupLine(pickup.id, day, request_by, "stop", "day passed, nothing handed over")
    if pickup.requested_at is not None:
        return PickupLine(
            pickup.id, day, request_by, "well", f"requested, {moment_words(pickup.requested_at, zone)}"
        )
    if now > pickup.request_by:
        return PickupLine(pickup.id, day, request_by, "stop", "cut-off passed, not requested: not counted on")
    return PickupLine(pickup.id, day, request_by, "watch", "not requested yet")


def pickups_page(
    session: LabSession, *, now: datetime, zone: str, form: Submitted[NewPickup] | None = None
) -> PickupsPage:
    return PickupsPage(
        pickups=[_pickup_line(pickup, now=now, zone=zone) for pickup in reversed(list_pickups(session))],
        form=form or Submitted(),
    )


def _sheet_line(
    session: LabSession, container: WasteContainer, stream: Stream, quantity_ul: int, zone: str
) -> SheetLine:
    estimated = sum(
        entry.change_ul
        for entry in list_standing_pours(session, container.id)
        if entry.method == Method.ESTIMATE
    )
    return SheetLine(
        container.id,
        container.name,
        stream.name,
        stream.hazards,
        volume_words(quantity_ul),
        volume_words(estimated) if estimated else "none",
        _started(container, zone),
    )


def pickup_page(
    session: LabSession,
    pickup_id: int,
    *,
    now: datetime,
    zone: str,
    lab: str,
    form: Submitted[HandOver] | None = None,
) -> PickupPage:
    """The request sheet: before handing over what stands in the lab with something in it, afterwards what was taken."""
    pickup = get_pickup(session, pickup_id)
    if pickup.done_at is not None:
        held = [
            (container, stream, -entry.change_ul)
            for entry, container, stream in list_collections(session, pickup_id)
        ]
    else:
        held = [
            (container, get_stream(session, container.stream_id), container.held_ul)
            for container in list_containers(session)
            if container.held_ul > 0
        ]
    form = form or Submitted()
    return PickupPage(
        id=pickup.id,
        lab=lab,
        line=_pickup_line(pickup, now=now, zone=zone),
        is_done=pickup.done_at is not None,
        is_requested=pickup.requested_at is not None,
        lines=[
            _sheet_line(session, container, stream, quantity, zone) for container, stream, quantity in held
        ],
        total=volume_words(sum(quantity for _container, _stream, quantity in held)),
        chosen=frozenset(form.value("container_ids", [])),
        form=form,
    )
