"""Reads of plate boxes, of what happened to them and of the light that reached them."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime

from sqlmodel import col, func, select

from server.core.good_until import is_expired, runs_out_on
from server.core.moments import clock_at, day_at, moment_words
from server.core.plate_box import (
    ON_ITS_WAY,
    BoxEvent,
    BoxEventKind,
    BoxState,
    Keeping,
    OpenSpan,
    open_spans,
    state_of,
    was_open,
)
from server.core.units import plates_words
from server.data.session import LabSession
from server.people.queries import get_lab
from server.plates.models import (
    LightIncident,
    PlateBox,
    PlateBoxEvent,
    PlateEntry,
    PlateEntryKind,
    PlateTest,
)
from server.refusal import NotFound

# Assumed, until the lab has typed its own with a box: plates are made to order, which takes four to eight weeks.
USUAL_LEAD_DAYS = 42


def list_plate_boxes(session: LabSession) -> Sequence[PlateBox]:
    """Every plate box: those with plates first-expiring first, then the empty ones."""
    boxes = session.exec(select(PlateBox)).all()
    return sorted(boxes, key=lambda box: (box.plates_left == 0, runs_out_on(box.expires_on), box.id))


def get_plate_box(session: LabSession, plate_box_id: int) -> PlateBox:
    box = session.get(PlateBox, plate_box_id)
    if box is None:
        raise NotFound("There is no such plate box in this lab. Choose one from Stock.")
    return box


def list_plate_entries(session: LabSession, plate_box_id: int) -> Sequence[PlateEntry]:
    """A box's ledger, oldest first."""
    return session.exec(
        select(PlateEntry).where(PlateEntry.plate_box_id == plate_box_id).order_by(col(PlateEntry.id))
    ).all()


def list_plate_box_events(session: LabSession, plate_box_id: int) -> Sequence[PlateBoxEvent]:
    """What happened to a box, in the order in which it happened; at one instant, in the order of its entry."""
    return session.exec(
        select(PlateBoxEvent)
        .where(PlateBoxEvent.plate_box_id == plate_box_id)
        .order_by(col(PlateBoxEvent.happened_at), col(PlateBoxEvent.id))
    ).all()


def list_every_plate_box_event(session: LabSession) -> Mapping[int, Sequence[PlateBoxEvent]]:
    """What happened to each box that anything happened to, in its order, by the id of the box."""
    found: dict[int, list[PlateBoxEvent]] = {}
    ordered = select(PlateBoxEvent).order_by(col(PlateBoxEvent.happened_at), col(PlateBoxEvent.id))
    for event in session.exec(ordered).all():
        found.setdefault(event.plate_box_id, []).append(event)
    return found


def _as_core(events: Sequence[PlateBoxEvent]) -> Sequence[BoxEvent]:
    return [BoxEvent(BoxEventKind(one.kind), one.happened_at, one.light_zone_id) for one in events]


def spans_of(events: Sequence[PlateBoxEvent]) -> Sequence[OpenSpan]:
    """The times at which a box with these events stood open."""
    return open_spans(_as_core(events))


def box_state(box: PlateBox, events: Sequence[PlateBoxEvent]) -> BoxState:
    """What the events of a box say about it."""
    return state_of(
        _as_core(events), warm_up_s=box.warm_up_s, is_kept_cold=Keeping(box.kept) is not Keeping.ROOM
    )


def list_light_incidents(session: LabSession) -> Sequence[LightIncident]:
    """Every light incident of the lab, newest first."""
    ordered = select(LightIncident).order_by(col(LightIncident.lit_at).desc(), col(LightIncident.id).desc())
    return session.exec(ordered).all()


def list_offered_boxes(session: LabSession, day: date) -> Sequence[PlateBox]:
    """The boxes to choose a plate from: sound ones first-expiring first, then the flagged and the expired.

    A fogged box is not offered; nor is an empty one.
    """
    holding = [box for box in list_plate_boxes(session) if box.plates_left and not box.is_fogged]
    return sorted(holding, key=lambda box: not is_sound(box, day))


def find_proposed_box(session: LabSession, day: date) -> PlateBox | None:
    """The sound box to take the next plate from: an open one before a sealed one, first-expiring first."""
    sound = [box for box in list_offered_boxes(session, day) if is_sound(box, day)]
    return min(sound, key=lambda box: box.opened_at is None, default=None)


def list_boxes_out(session: LabSession, now: datetime) -> Sequence[PlateBox]:
    """The boxes whose plates may be out in the room: open ones, and those sealed or emptied within the last hour."""
    after = now - ON_ITS_WAY
    sealed = select(PlateBoxEvent.plate_box_id).where(
        PlateBoxEvent.kind == BoxEventKind.SEALED, col(PlateBoxEvent.happened_at) > after
    )
    taken = select(PlateEntry.plate_box_id).where(
        PlateEntry.kind == PlateEntryKind.RUN, col(PlateEntry.entered_at) > after
    )
    lately = {*session.exec(sealed).all(), *session.exec(taken).all()}
    return [
        box
        for box in list_plate_boxes(session)
        if box.id in lately or (box.opened_at is not None and box.plates_left)
    ]


def list_run_entries(session: LabSession) -> Sequence[PlateEntry]:
    """Every entry that names a run, in the order of entry."""
    return session.exec(
        select(PlateEntry).where(col(PlateEntry.run_id).is_not(None)).order_by(col(PlateEntry.id))
    ).all()


def list_fogged_boxes(session: LabSession) -> Sequence[PlateBox]:
    """Boxes with plates whose last fog test came out fogged."""
    return [box for box in list_plate_boxes(session) if box.plates_left and box.is_fogged]


def is_sound(box: PlateBox, day: date) -> bool:
    """Whether its plates count for a class on `day`: neither expired, nor fogged, nor waiting for a fog test."""
    return not (box.is_flagged or box.is_fogged or is_expired(box.expires_on, day))


def light_words(lit_at: datetime, now: datetime, zone: str) -> str:
    """The minute of a light incident; with its day where that is not today."""
    today = day_at(lit_at, zone) == day_at(now, zone)
    return (
        f"light incident at {clock_at(lit_at, zone)}"
        if today
        else (f"light incident on {moment_words(lit_at, zone)}")
    )


def doubts_about(box: PlateBox, now: datetime, zone: str) -> Sequence[str]:
    """What speaks against taking a plate of this box, in words for beside its name; nothing where it is sound."""
    doubts = []
    if box.fogged_at is not None:
        doubts.append("fogged, for tests only")
    if box.light_at is not None:
        doubts.append(light_words(box.light_at, now, zone))
    if is_expired(box.expires_on, day_at(now, zone)):
        doubts.append("expired")
    return doubts


def find_usual_lead_days(session: LabSession) -> int:
    """How long the newest box's order took, in days, or what is assumed."""
    newest = session.exec(select(PlateBox).order_by(col(PlateBox.id).desc()).limit(1)).first()
    return USUAL_LEAD_DAYS if newest is None else newest.lead_days


def list_plates_used(session: LabSession, *, after: datetime, before: datetime) -> dict[int, int]:
    """Plates that runs and tests took from `after` on and before `before`, by the id of their box."""
    rows = session.exec(
        select(PlateEntry.plate_box_id, func.sum(PlateEntry.change))
        .where(
            col(PlateEntry.kind).in_((PlateEntryKind.RUN, PlateEntryKind.TEST)),
            col(PlateEntry.entered_at) >= after,
            col(PlateEntry.entered_at) < before,
        )
        .group_by(col(PlateEntry.plate_box_id))
    ).all()
    return {box_id: -int(total) for box_id, total in rows}


def sum_plates_by_kind(session: LabSession) -> dict[int, dict[str, int]]:
    """The ledger of each plate box added up by kind of entry, by the id of the box."""
    rows = session.exec(
        select(PlateEntry.plate_box_id, PlateEntry.kind, func.sum(PlateEntry.change)).group_by(
            col(PlateEntry.plate_box_id), col(PlateEntry.kind)
        )
    ).all()
    sums: dict[int, dict[str, int]] = {}
    for box_id, kind, total in rows:
        sums.setdefault(box_id, {})[kind] = int(total)
    return sums


def sum_plates_by_use(session: LabSession) -> Mapping[str, int]:
    """The plates of all boxes that tests took and that were lost, by which test and why."""
    rows = session.exec(
        select(PlateEntry.test, PlateEntry.loss, func.sum(PlateEntry.change))
        .where(col(PlateEntry.kind).in_((PlateEntryKind.TEST, PlateEntryKind.LOST)))
        .group_by(col(PlateEntry.test), col(PlateEntry.loss))
    ).all()
    return {test or f"lost, {loss}": -int(total) for test, loss, total in rows}


def list_last_counts(session: LabSession) -> Mapping[int, PlateBoxEvent]:
    """The last count of each box that was ever counted, by the id of the box."""
    counted = (
        select(PlateBoxEvent)
        .where(PlateBoxEvent.kind == BoxEventKind.COUNTED)
        .order_by(col(PlateBoxEvent.happened_at), col(PlateBoxEvent.id))
    )
    return {event.plate_box_id: event for event in session.exec(counted).all()}


def find_latest_plate_entry(session: LabSession, plate_box_id: int) -> PlateEntry | None:
    return session.exec(
        select(PlateEntry)
        .where(PlateEntry.plate_box_id == plate_box_id)
        .order_by(col(PlateEntry.id).desc())
        .limit(1)
    ).first()


def find_last_delivery(session: LabSession) -> int | None:
    """The plates of the newest delivery."""
    arrived = session.exec(
        select(PlateEntry.change)
        .where(PlateEntry.kind == PlateEntryKind.ARRIVED)
        .order_by(col(PlateEntry.id).desc())
        .limit(1)
    )
    return arrived.first()


def find_safelight(box: PlateBox) -> str | None:
    """The colour of light that may burn near these plates when their box is open, or None when they see every colour.

    Red is taken first where they do not see it, because it leaves eyes used to the dark; then green, then blue.
    """
    seen = {"red": box.sees_red, "green": box.sees_green, "blue": box.sees_blue}
    return next((colour for colour, sees in seen.items() if not sees), None)


def count_plates_left(session: LabSession, *, usable_on: date | None = None) -> int:
    """Plates left in all boxes; with `usable_on` only in boxes that are sound on that day."""
    return sum(
        box.plates_left for box in list_plate_boxes(session) if usable_on is None or is_sound(box, usable_on)
    )


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each box whose running balance or state is not what its ledger and its events say."""
    boxes, events = list_plate_boxes(session), list_every_plate_box_event(session)
    zone = get_lab(session).time_zone
    return [
        *_unbalanced_plates(session, boxes),
        *_unbalanced_states(boxes, events, zone),
        *_unbalanced_light(session, boxes, events, zone),
        *_unbalanced_tests(session, boxes, events),
    ]


def _unbalanced_plates(session: LabSession, boxes: Sequence[PlateBox]) -> Iterator[str]:
    grouped = select(PlateEntry.plate_box_id, func.sum(PlateEntry.change)).group_by(
        col(PlateEntry.plate_box_id)
    )
    plates = dict(session.exec(grouped).all())
    for box in boxes:
        if box.plates_left != plates.get(box.id, 0):
            yield (
                f"Plate box “{box.name}” says {box.plates_left} plates, "
                f"its ledger adds up to {plates.get(box.id, 0)}."
            )


def _unbalanced_states(
    boxes: Sequence[PlateBox], events: Mapping[int, Sequence[PlateBoxEvent]], zone: str
) -> Iterator[str]:
    for box in boxes:
        state = box_state(box, events.get(box.id, ()))
        for what, kept, told in (
            ("open", box.opened_at, state.opened_at),
            ("caught by light", box.light_at, state.light_at),
            ("fogged", box.fogged_at, state.fogged_at),
        ):
            if kept != told:
                yield (
                    f"Plate box “{box.name}” is kept as {what}: {_since(kept, zone)}; "
                    f"its events say {_since(told, zone)}."
                )


def _since(instant: datetime | None, zone: str) -> str:
    return "not" if instant is None else f"since {moment_words(instant, zone)}"


def _unbalanced_light(
    session: LabSession,
    boxes: Sequence[PlateBox],
    events: Mapping[int, Sequence[PlateBoxEvent]],
    zone: str,
) -> Iterator[str]:
    for incident in list_light_incidents(session):
        for box in boxes:
            own = events.get(box.id, ())
            flagged = any(event.light_incident_id == incident.id for event in own)
            caught = was_open(spans_of(own), minute=incident.lit_at, light_zone_id=incident.light_zone_id)
            if flagged != caught:
                yield (
                    f"Plate box “{box.name}” was {'open' if caught else 'closed'} at the light incident on "
                    f"{moment_words(incident.lit_at, zone)}, but it is {'flagged' if flagged else 'not flagged'}."
                )


def _unbalanced_tests(
    session: LabSession, boxes: Sequence[PlateBox], events: Mapping[int, Sequence[PlateBoxEvent]]
) -> Iterator[str]:
    grouped = (
        select(PlateEntry.plate_box_id, func.sum(PlateEntry.change))
        .where(PlateEntry.kind == PlateEntryKind.TEST, PlateEntry.test == PlateTest.FOG)
        .group_by(col(PlateEntry.plate_box_id))
    )
    drawn = dict(session.exec(grouped).all())
    for box in boxes:
        tested = sum(
            event.plates or 0
            for event in events.get(box.id, ())
            if event.kind in {BoxEventKind.CLEAR, BoxEventKind.FOGGED}
        )
        if tested != -drawn.get(box.id, 0):
            yield (
                f"The fog tests of plate box “{box.name}” name {plates_words(tested)}, "
                f"its ledger gave them {-drawn.get(box.id, 0)}."
            )
