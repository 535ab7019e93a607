"""Taking in plate boxes, drawing and counting plates, opening and sealing boxes, and light that reached them.

Every change is an entry or an event, and what follows from it is written with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from sqlmodel import col, select

from server.core.expiry import MonthCounts
from server.core.good_until import still_to_come
from server.core.ledger import sent_twice
from server.core.moments import NoSuchTime, clock_at, instant_of, instants_of, moment_words
from server.core.plate_box import BoxEventKind, Keeping, minute_of, was_open
from server.core.reconciling import count_question
from server.core.units import plates_words
from server.data.session import LabSession
from server.people.queries import day_in_lab, get_lab
from server.plates.models import (
    BoxStands,
    EmulsionFaces,
    LightIncident,
    PlateBox,
    PlateBoxEvent,
    PlateEntry,
    PlateEntryKind,
    PlateLoss,
    PlateTest,
)
from server.plates.queries import (
    USUAL_LEAD_DAYS,
    box_state,
    find_latest_plate_entry,
    list_light_incidents,
    list_plate_box_events,
    spans_of,
)
from server.refusal import NotFound, Refusal
from server.stations.queries import get_light_zone

# What somebody does with a box; these follow each other in time. Light and tests may be entered for an earlier instant.
_HANDLING = (BoxEventKind.TAKEN_OUT, BoxEventKind.PUT_BACK, BoxEventKind.OPENED, BoxEventKind.SEALED)


@dataclass(frozen=True)
class Count:
    """What was counted in a box; the reason is needed where it differs from the ledger."""

    plate_box_id: int
    plates: int
    reason: str = ""


def _hold_plate_box(session: LabSession, plate_box_id: int) -> PlateBox:
    """The box as it is now, kept from others until the transaction ends."""
    box = session.hold(PlateBox, plate_box_id)
    if box is None:
        raise NotFound("There is no such plate box in this lab. Choose one from Stock.")
    return box


def take_in_plate_box(
    session: LabSession,
    *,
    name: str,
    plates: int,
    width_um: int,
    height_um: int,
    dose_uj_per_cm2: int,
    sees_red: bool,
    sees_green: bool,
    sees_blue: bool,
    arrived_on: date,
    expires_on: date | None,
    warm_up_s: int,
    by: str,
    now: datetime,
    month_counts: MonthCounts | None = None,
    lot: str = "",
    kept: Keeping = Keeping.FRIDGE,
    storage: str = "",
    store_at_most_celsius: int | None = None,
    emulsion_faces: EmulsionFaces = EmulsionFaces.NOT_SAID,
    box_stands: BoxStands = BoxStands.NOT_SAID,
    lead_days: int = USUAL_LEAD_DAYS,
) -> PlateBox:
    """A sealed box of plates. `dose_uj_per_cm2` is the exposure its own sheet recommends; `lead_days` what its order took."""
    if session.exec(select(PlateBox.id).where(PlateBox.name == name)).first() is not None:
        raise Refusal(f"There is already a plate box “{name}”. Give this one another name.")
    early = still_to_come(arrived_on, day_in_lab(session, now))
    if early is not None:
        raise Refusal(early)
    if not (sees_red or sees_green or sees_blue):
        raise Refusal("Plates see at least one colour of light. Tick what the pack's own sheet says.")
    box = PlateBox(
        name=name,
        plates_left=0,
        width_um=width_um,
        height_um=height_um,
        dose_uj_per_cm2=dose_uj_per_cm2,
        sees_red=sees_red,
        sees_green=sees_green,
        sees_blue=sees_blue,
        arrived_on=arrived_on,
        expires_on=expires_on,
        month_counts=month_counts,
        lot=lot,
        kept=kept,
        storage=storage,
        store_at_most_celsius=store_at_most_celsius,
        warm_up_s=warm_up_s,
        emulsion_faces=emulsion_faces,
        box_stands=box_stands,
        lead_days=lead_days,
    )
    session.add(box)
    session.flush()  # its entry names its id
    _enter_plates(session, box, PlateEntryKind.ARRIVED, plates, by=by, now=now)
    return box


def _enter_plates(
    session: LabSession,
    box: PlateBox,
    kind: PlateEntryKind,
    change: int,
    *,
    by: str,
    now: datetime,
    run_id: int | None = None,
    test: PlateTest | None = None,
    loss: PlateLoss | None = None,
    note: str = "",
) -> None:
    box.plates_left += change
    session.add(
        PlateEntry(
            plate_box_id=box.id,
            kind=kind,
            change=change,
            run_id=run_id,
            test=test,
            loss=loss,
            note=note,
            entered_at=now,
            entered_by=by,
        )
    )
    session.flush()  # the database refuses a balance below nothing here, not at the end


def _record(
    session: LabSession,
    box: PlateBox,
    kind: BoxEventKind,
    happened_at: datetime,
    *,
    by: str,
    now: datetime,
    light_zone_id: int | None = None,
    light_incident_id: int | None = None,
    plates: int | None = None,
    note: str = "",
) -> None:
    """Add an event, and write what follows from all events of the box."""
    session.add(
        PlateBoxEvent(
            plate_box_id=box.id,
            kind=kind,
            happened_at=happened_at,
            light_zone_id=light_zone_id,
            light_incident_id=light_incident_id,
            plates=plates,
            note=note,
            entered_at=now,
            entered_by=by,
        )
    )
    session.flush()  # the state below is read from the events
    state = box_state(box, list_plate_box_events(session, box.id))
    box.opened_at, box.light_at, box.fogged_at = state.opened_at, state.light_at, state.fogged_at


def _today_at(session: LabSession, clock: time | None, now: datetime) -> datetime:
    """The latest instant at which the clock has shown a time typed today; without one, now. What is still to come is refused."""
    if clock is None:
        return now
    day, zone = day_in_lab(session, now), get_lab(session).time_zone
    instant = instant_of(day=day, clock=clock, zone=zone)
    if isinstance(instant, NoSuchTime):
        raise Refusal(instant.sentence)
    if instant > now:
        raise Refusal(f"{clock:%H:%M} is still to come today. Write the time at which it happened.")
    return max(one for one in instants_of(day=day, clock=clock, zone=zone) if one <= now)


def _handled_at(session: LabSession, box: PlateBox, clock: time | None, now: datetime) -> datetime:
    """When a box was handled: not before it was handled last. In the same minute it was after that."""
    at = _today_at(session, clock, now)
    latest = max(
        (one.happened_at for one in list_plate_box_events(session, box.id) if one.kind in _HANDLING),
        default=at,
    )
    if minute_of(at) < minute_of(latest):
        raise Refusal(
            f"Plate box “{box.name}” was last handled on {moment_words(latest, get_lab(session).time_zone)}. "
            "Write a time after that."
        )
    return max(at, latest)


def _refuse_again(
    session: LabSession, plate_box_id: int, use: str, change: int, note: str, now: datetime
) -> None:
    """`use` is which test takes the plates, or why they are lost: a dropped plate and a broken one are two."""
    entry = find_latest_plate_entry(session, plate_box_id)
    latest = (
        (entry.test or entry.loss or entry.kind, entry.change, entry.note, entry.entered_at)
        if entry
        else None
    )
    again = sent_twice(latest=latest, kind=use, change=change, note=note, now=now)
    if again is not None:
        raise Refusal(again)


def _catch(session: LabSession, box: PlateBox, incident: LightIncident, *, by: str, now: datetime) -> bool:
    """Flag the box where it stood open in the minute of the incident and is not flagged for it yet."""
    events = list_plate_box_events(session, box.id)
    if any(event.light_incident_id == incident.id for event in events):
        return False
    caught = was_open(spans_of(events), minute=incident.lit_at, light_zone_id=incident.light_zone_id)
    if caught:
        _record(
            session, box, BoxEventKind.LIGHT, incident.lit_at, by=by, now=now, light_incident_id=incident.id
        )
    return caught


def _open(
    session: LabSession, box: PlateBox, at: datetime, *, light_zone_id: int | None, by: str, now: datetime
) -> None:
    """Record the opening; light incidents that were entered before it and lie after it reach the box too."""
    _record(session, box, BoxEventKind.OPENED, at, by=by, now=now, light_zone_id=light_zone_id)
    for incident in list_light_incidents(session):
        if incident.lit_at >= minute_of(at):
            _catch(session, box, incident, by=by, now=now)


def open_plate_box(
    session: LabSession,
    plate_box_id: int,
    *,
    by: str,
    now: datetime,
    clock: time | None = None,
    light_zone_id: int | None = None,
    is_said_warm: bool = True,
) -> None:
    """Record that the box was opened, now or at `clock` today, and in which light zone.

    A box that is not warm by the record is opened only by who says that it was.
    """
    box = _hold_plate_box(session, plate_box_id)
    if box.opened_at is not None:
        raise Refusal(f"Plate box “{box.name}” is open already. There is nothing to record.")
    if light_zone_id is not None:
        get_light_zone(session, light_zone_id)
    at = _handled_at(session, box, clock, now)
    state = box_state(box, list_plate_box_events(session, box.id))
    if not (is_said_warm or state.is_warm(at)):
        raise Refusal(f"{_why_cold(session, box, state.warm_at)} A cold plate gathers dew.")
    _open(session, box, at, light_zone_id=light_zone_id, by=by, now=now)


def _why_cold(session: LabSession, box: PlateBox, warm_at: datetime | None) -> str:
    if warm_at is None:
        return (
            f"Plate box “{box.name}” comes out of the cold. Let it stand closed until it is warm, then tick "
            "that it did."
        )
    warm = clock_at(warm_at, get_lab(session).time_zone)
    return f"Plate box “{box.name}” is warm from {warm} on. Wait, or tick that it stood out longer."


def seal_plate_box(
    session: LabSession, plate_box_id: int, *, by: str, now: datetime, clock: time | None = None
) -> None:
    """Record that the box was closed again, now or at `clock` today."""
    box = _hold_plate_box(session, plate_box_id)
    if box.opened_at is None:
        raise Refusal(f"Plate box “{box.name}” is closed already. There is nothing to record.")
    at = _handled_at(session, box, clock, now)
    caught = [one for one in list_plate_box_events(session, box.id) if one.kind == BoxEventKind.LIGHT]
    if any(minute_of(at) < one.happened_at for one in caught):
        raise Refusal(
            f"Plate box “{box.name}” is flagged as open at a light incident after that. "
            "Write the time at which it was closed; if it was closed before the light, a fog test lifts the flag."
        )
    _record(session, box, BoxEventKind.SEALED, at, by=by, now=now)


def take_out_of_cold(
    session: LabSession, plate_box_id: int, *, by: str, now: datetime, clock: time | None = None
) -> None:
    """Record that the closed box stands outside the cold from now, or from `clock` today, on: it warms."""
    box = _hold_cold_box(session, plate_box_id)
    at = _handled_at(session, box, clock, now)
    if not box_state(box, list_plate_box_events(session, box.id)).is_cold:
        raise Refusal(f"Plate box “{box.name}” is out of the cold already. There is nothing to record.")
    _record(session, box, BoxEventKind.TAKEN_OUT, at, by=by, now=now)


def put_back_into_cold(
    session: LabSession, plate_box_id: int, *, by: str, now: datetime, clock: time | None = None
) -> None:
    """Record that the closed box stands in the cold again; opening it asks for warming again."""
    box = _hold_cold_box(session, plate_box_id)
    at = _handled_at(session, box, clock, now)
    if box.opened_at is not None:
        raise Refusal(f"Plate box “{box.name}” is open. Seal it first: cold air is wet air.")
    if box_state(box, list_plate_box_events(session, box.id)).is_cold:
        raise Refusal(f"Plate box “{box.name}” stands in the cold already. There is nothing to record.")
    _record(session, box, BoxEventKind.PUT_BACK, at, by=by, now=now)


def _hold_cold_box(session: LabSession, plate_box_id: int) -> PlateBox:
    box = _hold_plate_box(session, plate_box_id)
    if box.kept == Keeping.ROOM:
        raise Refusal(f"Plate box “{box.name}” is kept at room temperature. It needs no warming.")
    return box


def log_light(
    session: LabSession, *, clock: time, light_zone_id: int | None, note: str, by: str, now: datetime
) -> LightIncident:
    """Somebody put on white light at `clock` today, in a light zone or in the whole lab: flag every box that was open there."""
    lit_at = minute_of(_today_at(session, clock, now))
    if light_zone_id is not None:
        get_light_zone(session, light_zone_id)
    # Every box is held first, so that one opened at this moment either sees the incident or is seen by it.
    ids = session.exec(select(PlateBox.id).order_by(col(PlateBox.id))).all()
    boxes = [_hold_plate_box(session, box_id) for box_id in ids]
    if any(
        (one.lit_at, one.light_zone_id) == (lit_at, light_zone_id) for one in list_light_incidents(session)
    ):
        raise Refusal(f"The light at {clock:%H:%M} is logged already. Its boxes are flagged.")
    incident = LightIncident(
        lit_at=lit_at, light_zone_id=light_zone_id, note=note, entered_at=now, entered_by=by
    )
    session.add(incident)
    session.flush()  # the boxes' events name its id
    for box in boxes:
        _catch(session, box, incident, by=by, now=now)
    return incident


def _take(
    session: LabSession,
    box: PlateBox,
    kind: PlateEntryKind,
    plates: int,
    *,
    by: str,
    now: datetime,
    run_id: int | None = None,
    test: PlateTest | None = None,
    loss: PlateLoss | None = None,
    note: str = "",
) -> None:
    if plates < 1:
        raise Refusal("No plate would be taken. Write how many, such as 1.")
    if plates > box.plates_left:
        raise Refusal(
            f"Plate box “{box.name}” holds {plates_words(box.plates_left)}, not {plates}. "
            "Choose another box, or count this one and correct its number."
        )
    if kind is not PlateEntryKind.RUN:
        _refuse_again(session, box.id, test or loss or kind, -plates, note, now)
    _enter_plates(session, box, kind, -plates, by=by, now=now, run_id=run_id, test=test, loss=loss, note=note)


def _open_for(
    session: LabSession, box: PlateBox, at: datetime, *, light_zone_id: int | None, by: str, now: datetime
) -> None:
    """A plate that was out at `at` came out of an open box, whether or not anybody recorded the opening."""
    spans = spans_of(list_plate_box_events(session, box.id))
    if not was_open(spans, minute=minute_of(at), light_zone_id=None):
        _open(session, box, at, light_zone_id=light_zone_id, by=by, now=now)


def draw_plates(
    session: LabSession,
    plate_box_id: int,
    *,
    plates: int,
    kind: PlateEntryKind,
    by: str,
    now: datetime,
    run_id: int | None = None,
    test: PlateTest = PlateTest.OTHER,
    loss: PlateLoss = PlateLoss.OTHER,
    note: str = "",
    out_at: datetime | None = None,
    light_zone_id: int | None = None,
) -> None:
    """Take plates out of a box for a run or a test, or write them off. A box that holds fewer is refused.

    A run's or a test's plate opens a closed box, at `out_at` and in `light_zone_id` where they are known. An expired, flagged or
    fogged box is not refused: what was exposed was exposed, and its page says what is wrong with it.
    """
    box = _hold_plate_box(session, plate_box_id)
    is_test, is_loss = kind is PlateEntryKind.TEST, kind is PlateEntryKind.LOST
    if is_test and test is PlateTest.FOG:
        raise Refusal(
            "A fog test is recorded with its result. Use “Record a fog test” on the page of the box."
        )
    _take(
        session,
        box,
        kind,
        plates,
        by=by,
        now=now,
        run_id=run_id,
        test=test if is_test else None,
        loss=loss if is_loss else None,
        note=note,
    )
    if not is_loss:
        _open_for(session, box, out_at or now, light_zone_id=light_zone_id, by=by, now=now)


def record_fog_test(
    session: LabSession, plate_box_id: int, *, plates: int, is_fogged: bool, note: str, by: str, now: datetime
) -> None:
    """Take the plates of a fog test and keep its result: clear lifts the box's flag, fogged leaves the rest for tests only.

    A box that was fogged before is clear only with a word about which plates were tested now.
    """
    box = _hold_plate_box(session, plate_box_id)
    if box.is_fogged and not is_fogged and not note:
        raise Refusal(
            f"An earlier test of plate box “{box.name}” came out fogged. Write which plates were tested now, "
            "for example: from the middle of the box."
        )
    _take(session, box, PlateEntryKind.TEST, plates, by=by, now=now, test=PlateTest.FOG, note=note)
    _open_for(session, box, now, light_zone_id=None, by=by, now=now)
    kind = BoxEventKind.FOGGED if is_fogged else BoxEventKind.CLEAR
    _record(session, box, kind, now, by=by, now=now, plates=plates, note=note)


def count_plate_boxes(session: LabSession, counts: Sequence[Count], *, by: str, now: datetime) -> None:
    """Keep what was counted in each box. A difference becomes a correction with its reason, and without a reason nothing is kept."""
    if not counts:
        raise Refusal("Nothing was counted. Write the number of plates beside a box that you counted.")
    for count in sorted(counts, key=lambda count: count.plate_box_id):
        box = _hold_plate_box(session, count.plate_box_id)
        if count.plates != box.plates_left:
            if not count.reason:
                raise Refusal(f"Plate box “{box.name}”: {count_question(box.plates_left, count.plates)}")
            correct_plates(session, box.id, counted=count.plates, reason=count.reason, by=by, now=now)
        else:
            _record(session, box, BoxEventKind.COUNTED, now, by=by, now=now, plates=count.plates)


def correct_plates(
    session: LabSession, plate_box_id: int, *, counted: int, reason: str, by: str, now: datetime
) -> None:
    """Set the balance to what was counted, by an entry of the difference that carries its reason."""
    box = _hold_plate_box(session, plate_box_id)
    if counted == box.plates_left:
        raise Refusal(f"The ledger already says {plates_words(counted)}. There is nothing to correct.")
    _enter_plates(
        session, box, PlateEntryKind.CORRECTION, counted - box.plates_left, by=by, now=now, note=reason
    )
    _record(session, box, BoxEventKind.COUNTED, now, by=by, now=now, plates=counted, note=reason)
