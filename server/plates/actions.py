"""Taking in plate boxes, drawing plates and counting them. Every change is an entry, and the balance is written with it."""

from datetime import date, datetime

from sqlmodel import select

from server.core.good_until import still_to_come
from server.core.ledger import sent_twice
from server.core.units import plates_words
from server.data.session import LabSession
from server.people.queries import day_in_lab
from server.plates.models import PlateBox, PlateEntry, PlateEntryKind
from server.plates.queries import find_latest_plate_entry
from server.refusal import NotFound, Refusal


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
) -> PlateBox:
    """A sealed box of plates. `dose_uj_per_cm2` is the exposure its own sheet recommends."""
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
        warm_up_s=warm_up_s,
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
    note: str = "",
) -> None:
    box.plates_left += change
    session.add(
        PlateEntry(
            plate_box_id=box.id,
            kind=kind,
            change=change,
            run_id=run_id,
            note=note,
            entered_at=now,
            entered_by=by,
        )
    )
    session.flush()  # the database refuses a balance below nothing here, not at the end


def _refuse_again(
    session: LabSession, plate_box_id: int, kind: PlateEntryKind, change: int, note: str, now: datetime
) -> None:
    entry = find_latest_plate_entry(session, plate_box_id)
    latest = (entry.kind, entry.change, entry.note, entry.entered_at) if entry else None
    again = sent_twice(latest=latest, kind=kind, change=change, note=note, now=now)
    if again is not None:
        raise Refusal(again)


def open_plate_box(session: LabSession, plate_box_id: int, *, now: datetime) -> None:
    """Record that the box was opened. Whether it was warm is said by who opens it."""
    box = _hold_plate_box(session, plate_box_id)
    if box.opened_at is not None:
        raise Refusal(f"Plate box “{box.name}” is open already. There is nothing to record.")
    box.opened_at = now


def draw_plates(
    session: LabSession,
    plate_box_id: int,
    *,
    plates: int,
    kind: PlateEntryKind,
    by: str,
    now: datetime,
    run_id: int | None = None,
    note: str = "",
) -> None:
    """Take plates out of a box; a run's or a test's first plate opens it. A box that holds fewer is refused.

    An expired box is not refused: what was exposed was exposed, and its page says that it is expired.
    """
    box = _hold_plate_box(session, plate_box_id)
    if plates < 1:
        raise Refusal("No plate would be taken. Write how many, such as 1.")
    if plates > box.plates_left:
        raise Refusal(
            f"Plate box “{box.name}” holds {plates_words(box.plates_left)}, not {plates}. "
            "Choose another box, or count this one and correct its number."
        )
    if kind in {PlateEntryKind.TEST, PlateEntryKind.LOST}:
        _refuse_again(session, plate_box_id, kind, -plates, note, now)
    if box.opened_at is None and kind in {PlateEntryKind.RUN, PlateEntryKind.TEST}:
        box.opened_at = now
    _enter_plates(session, box, kind, -plates, by=by, now=now, run_id=run_id, note=note)


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
