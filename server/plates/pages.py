"""What the pages of plate boxes show."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from server.core.good_until import GoodUntil, good_until
from server.core.ledger import LedgerLine, ledger_lines
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.plate_box import BoxEventKind, BoxState, Keeping, answers, is_kept_too_warm
from server.core.units import celsius_words, duration_words, plates_words, size_words
from server.data.session import LabSession
from server.plates.forms import (
    COLOURS,
    CountedPlates,
    DrawnPlates,
    FogTest,
    Handling,
    LostPlates,
    NewLightIncident,
    NewPlateBox,
    Opening,
)
from server.plates.models import (
    BoxStands,
    EmulsionFaces,
    PlateBox,
    PlateBoxEvent,
    PlateEntry,
    PlateLoss,
    PlateTest,
)
from server.plates.queries import (
    box_state,
    doubts_about,
    find_safelight,
    find_usual_lead_days,
    get_plate_box,
    list_every_plate_box_event,
    list_light_incidents,
    list_plate_box_events,
    list_plate_boxes,
    list_plate_entries,
)
from server.stations.queries import list_light_zones
from server.web.submitted import Submitted

SEES_OPTIONS = (
    ("red blue", "red and blue: green safelight"),
    ("green blue", "green and blue: red safelight"),
    ("blue", "blue only: red safelight"),
    ("red", "red only: green safelight"),
    ("red green blue", "every colour: no safelight at all"),
)
MONTH_OPTIONS = (
    ("first day", "its first day, the careful reading"),
    ("last day", "its last day, how such dates are mostly meant"),
)
LOSS_OPTIONS = [
    (loss.value, "other: write what happened" if loss is PlateLoss.OTHER else loss.value)
    for loss in PlateLoss
]


def _options(words: type[EmulsionFaces | BoxStands | Keeping | PlateTest]) -> Sequence[tuple[str, str]]:
    return [(word.value, word.value) for word in words]


TEST_OPTIONS = [option for option in _options(PlateTest) if option[0] != PlateTest.FOG]


@dataclass(frozen=True)
class BoxLine:
    """`doubts` speak against taking a plate of it."""

    id: int
    name: str
    plates_left: int
    size: str
    sees: str
    safelight: str
    dose: str
    warm_up: str
    opened: str
    is_open: bool
    is_flagged: bool
    is_fogged: bool
    doubts: Sequence[str]
    good_until: GoodUntil


@dataclass(frozen=True)
class PlateShelf:
    """The plate boxes of the lab; `used` are the empty ones."""

    full: Sequence[BoxLine]
    used: Sequence[BoxLine]


@dataclass(frozen=True)
class BoxChoices:
    """What is offered where a box is taken in."""

    sees: Sequence[tuple[str, str]]
    months: Sequence[tuple[str, str]]
    kept: Sequence[tuple[str, str]]
    faces: Sequence[tuple[str, str]]
    stands: Sequence[tuple[str, str]]
    lead_days: int


@dataclass(frozen=True)
class PlateBoxesPage:
    boxes: PlateShelf
    choices: BoxChoices
    today: str
    box_form: Submitted[NewPlateBox]


@dataclass(frozen=True)
class EventLine:
    when: str
    what: str
    note: str
    by: str


@dataclass(frozen=True)
class BoxForms:
    """What was typed in the forms of a box's page."""

    opening: Submitted[Opening] = field(default_factory=Submitted)
    handling: Submitted[Handling] = field(default_factory=Submitted)
    fog: Submitted[FogTest] = field(default_factory=Submitted)
    test: Submitted[DrawnPlates] = field(default_factory=Submitted)
    lost: Submitted[LostPlates] = field(default_factory=Submitted)
    count: Submitted[CountedPlates] = field(default_factory=Submitted)


@dataclass(frozen=True)
class PlateBoxPage:
    """`light` says which light incident asks for a fog test; `keeping` is where it stands, `too_warm` why that is wrong."""

    box: BoxLine
    arrived: str
    expiry: str
    keeping: str
    too_warm: str
    emulsion: str
    lot: str
    lead_days: int
    is_kept_cold: bool
    is_cold: bool
    is_warm: bool
    warmth: str
    light: str
    fogged: str
    zones: Sequence[tuple[int, str]]
    tests: Sequence[tuple[str, str]]
    losses: Sequence[tuple[str, str]]
    events: Sequence[EventLine]
    lines: Sequence[LedgerLine]
    total: int
    now: str
    forms: BoxForms


@dataclass(frozen=True)
class CaughtBox:
    """A box that a light incident reached, and what has become of its flag."""

    id: int
    name: str
    plates_left: int
    kind: str
    state: str


@dataclass(frozen=True)
class IncidentLine:
    when: str
    where: str
    note: str
    by: str
    boxes: Sequence[CaughtBox]


@dataclass(frozen=True)
class LightIncidentsPage:
    incidents: Sequence[IncidentLine]
    open_boxes: Sequence[BoxLine]
    zones: Sequence[tuple[int, str]]
    now: str
    form: Submitted[NewLightIncident]


def _sees(box: PlateBox) -> str:
    seen = [colour for colour in COLOURS if getattr(box, f"sees_{colour}")]
    return " and ".join([", ".join(seen[:-1]), seen[-1]]) if seen[1:] else seen[0]


def _opened_words(box: PlateBox, events: Sequence[PlateBoxEvent], zone: str) -> str:
    if box.opened_at is not None:
        return f"open since {moment_words(box.opened_at, zone)}"
    sealed = [event.happened_at for event in events if event.kind == BoxEventKind.SEALED]
    return f"sealed again {moment_words(sealed[-1], zone)}" if sealed else "sealed"


def _box_line(box: PlateBox, events: Sequence[PlateBoxEvent], now: datetime, zone: str) -> BoxLine:
    return BoxLine(
        id=box.id,
        name=box.name,
        plates_left=box.plates_left,
        size=size_words(box.width_um, box.height_um),
        sees=_sees(box),
        safelight=find_safelight(box) or "none, complete dark",
        dose=f"{box.dose_uj_per_cm2} µJ/cm²",
        warm_up=duration_words(box.warm_up_s) if box.warm_up_s else "none",
        opened=_opened_words(box, events, zone),
        is_open=box.opened_at is not None,
        is_flagged=box.is_flagged,
        is_fogged=box.is_fogged,
        doubts=doubts_about(box, now, zone),
        good_until=good_until(box.expires_on, day_at(now, zone)),
    )


def plate_shelf(session: LabSession, now: datetime, zone: str) -> PlateShelf:
    events = list_every_plate_box_event(session)
    boxes = [_box_line(box, events.get(box.id, ()), now, zone) for box in list_plate_boxes(session)]
    return PlateShelf(
        [box for box in boxes if box.plates_left], [box for box in boxes if not box.plates_left]
    )


def plate_boxes_page(
    session: LabSession, now: datetime, zone: str, box_form: Submitted[NewPlateBox] | None = None
) -> PlateBoxesPage:
    choices = BoxChoices(
        SEES_OPTIONS,
        MONTH_OPTIONS,
        _options(Keeping),
        _options(EmulsionFaces),
        _options(BoxStands),
        find_usual_lead_days(session),
    )
    return PlateBoxesPage(
        plate_shelf(session, now, zone), choices, day_at(now, zone).isoformat(), box_form or Submitted()
    )


def _expiry_words(box: PlateBox) -> str:
    """Says how the day was decided where the pack names a month alone."""
    if box.expires_on is None:
        return "no date on the pack"
    if box.month_counts is None:
        return day_words(box.expires_on)
    return f"{day_words(box.expires_on)}: the pack says {box.expires_on:%b %Y}, its {box.month_counts} counts"


def _keeping_words(box: PlateBox) -> str:
    where = f"{box.kept}, {box.storage}" if box.storage else box.kept
    if box.store_at_most_celsius is None:
        return where
    return f"{where}; the pack asks for at most {celsius_words(box.store_at_most_celsius * 10)}"


def _too_warm(box: PlateBox) -> str:
    asked = box.store_at_most_celsius
    if asked is None or not is_kept_too_warm(Keeping(box.kept), at_most_celsius=asked):
        return ""
    return f"The pack asks for at most {celsius_words(asked * 10)}, but the box is kept {box.kept}. Keep it colder."


def _emulsion_words(box: PlateBox) -> str:
    faces, stands = EmulsionFaces(box.emulsion_faces), BoxStands(box.box_stands)
    words = "not said by the maker" if faces is EmulsionFaces.NOT_SAID else f"faces {faces}"
    return words if stands is BoxStands.NOT_SAID else f"{words}; the box stands {stands}"


_HAPPENED = {
    BoxEventKind.CLEAR: "fog test of {}: clear",
    BoxEventKind.FOGGED: "fog test of {}: fogged",
    BoxEventKind.COUNTED: "counted: {}",
}


def _event_words(event: PlateBoxEvent, zones: Mapping[int, str]) -> str:
    kind = BoxEventKind(event.kind)
    if kind in _HAPPENED:
        return _HAPPENED[kind].format(plates_words(event.plates or 0))
    return f"{kind} in {zones[event.light_zone_id]}" if event.light_zone_id else kind


def _event_lines(
    events: Sequence[PlateBoxEvent], zones: Sequence[tuple[int, str]], zone: str
) -> Sequence[EventLine]:
    return [
        EventLine(
            moment_words(event.happened_at, zone),
            _event_words(event, dict(zones)),
            event.note,
            event.entered_by,
        )
        for event in events
    ]


def _entry_words(entry: PlateEntry) -> str:
    return entry.test or (f"{entry.kind}: {entry.loss}" if entry.loss else entry.kind)


def _zones(session: LabSession) -> Sequence[tuple[int, str]]:
    return [(zone.id, zone.name) for zone in list_light_zones(session)]


def _warmth_words(box: PlateBox, state: BoxState, now: datetime, zone: str) -> str:
    """Goes on where “The box is open …” ends; nothing to say of a box that is never cold."""
    if box.kept == Keeping.ROOM:
        return ""
    if state.is_cold:
        return ", in the cold"
    if state.is_warm(now) or state.warm_at is None:
        return ", out of the cold and warm"
    return f", out of the cold, warm from {clock_at(state.warm_at, zone)} on"


def plate_box_page(
    session: LabSession, plate_box_id: int, now: datetime, zone: str, forms: BoxForms | None = None
) -> PlateBoxPage:
    box, zones = get_plate_box(session, plate_box_id), _zones(session)
    events = list_plate_box_events(session, plate_box_id)
    state = box_state(box, events)
    lines, total = ledger_lines(
        ((entry, entry.change, _entry_words(entry)) for entry in list_plate_entries(session, plate_box_id)),
        zone,
        str,
    )
    return PlateBoxPage(
        box=_box_line(box, events, now, zone),
        arrived=day_words(box.arrived_on),
        expiry=_expiry_words(box),
        keeping=_keeping_words(box),
        too_warm=_too_warm(box),
        emulsion=_emulsion_words(box),
        lot=box.lot or "not written down",
        lead_days=box.lead_days,
        is_kept_cold=Keeping(box.kept) is not Keeping.ROOM,
        is_cold=state.is_cold,
        is_warm=state.is_warm(now),
        warmth=_warmth_words(box, state, now, zone),
        light="" if box.light_at is None else moment_words(box.light_at, zone),
        fogged="" if box.fogged_at is None else moment_words(box.fogged_at, zone),
        zones=zones,
        tests=TEST_OPTIONS,
        losses=LOSS_OPTIONS,
        events=_event_lines(events, zones, zone),
        lines=lines,
        total=total,
        now=clock_at(now, zone),
        forms=forms or BoxForms(),
    )


def _caught_box(box: PlateBox, lit_at: datetime, events: Sequence[PlateBoxEvent]) -> CaughtBox:
    """What the first fog test after the light said, or that there was none yet."""
    results = [
        event.kind
        for event in events
        if event.kind in {BoxEventKind.CLEAR, BoxEventKind.FOGGED}
        and answers(tested_at=event.happened_at, lit_at=lit_at)
    ]
    if results:
        clear = results[0] == BoxEventKind.CLEAR
        return CaughtBox(box.id, box.name, box.plates_left, "well" if clear else "stop", results[0])
    if not box.plates_left:
        return CaughtBox(box.id, box.name, 0, "plain", "empty, nothing left to test")
    return CaughtBox(box.id, box.name, box.plates_left, "watch", "fog test wanted")


def light_incidents_page(
    session: LabSession, now: datetime, zone: str, form: Submitted[NewLightIncident] | None = None
) -> LightIncidentsPage:
    boxes = {box.id: box for box in list_plate_boxes(session)}
    events, zones = list_every_plate_box_event(session), _zones(session)
    incidents = [
        IncidentLine(
            moment_words(incident.lit_at, zone),
            dict(zones)[incident.light_zone_id] if incident.light_zone_id else "the whole lab",
            incident.note,
            incident.entered_by,
            [
                _caught_box(boxes[box_id], incident.lit_at, own)
                for box_id, own in events.items()
                if any(event.light_incident_id == incident.id for event in own)
            ],
        )
        for incident in list_light_incidents(session)
    ]
    lines = [_box_line(box, events.get(box.id, ()), now, zone) for box in boxes.values()]
    return LightIncidentsPage(
        incidents,
        [line for line in lines if line.is_open and line.plates_left],
        zones,
        clock_at(now, zone),
        form or Submitted(),
    )
