"""Taking in, drawing and correcting stock. Every change is an entry, and the balance is written with it."""

from datetime import date, datetime, timedelta

from sqlmodel import select

from server.core.moments import day_at, day_words
from server.core.units import volume_words
from server.data.session import LabSession
from server.people.queries import get_lab
from server.refusal import NotFound, Refusal
from server.stock.models import (
    Bottle,
    BottleEntry,
    BottleEntryKind,
    Kit,
    PlateBox,
    PlateEntry,
    PlateEntryKind,
    Substance,
)
from server.stock.queries import (
    find_latest_bottle_entry,
    find_latest_plate_entry,
    get_kit,
    is_expired,
    plates_words,
)

A_MOMENT = timedelta(minutes=1)


def _today(session: LabSession, now: datetime) -> date:
    return day_at(now, get_lab(session).time_zone)


def _refuse_tomorrow(session: LabSession, arrived_on: date, now: datetime) -> None:
    if arrived_on > _today(session, now):
        raise Refusal(f"{day_words(arrived_on)} is still to come. Take it in on the day it arrives.")


def _hold_bottle(session: LabSession, bottle_id: int) -> Bottle:
    """The bottle as it is now, kept from others until the transaction ends: two draws must not count the same volume."""
    bottle = session.hold(Bottle, bottle_id)
    if bottle is None:
        raise NotFound("There is no such bottle in this lab. Choose one from Stock.")
    return bottle


def _hold_plate_box(session: LabSession, plate_box_id: int) -> PlateBox:
    """The box as it is now, kept from others until the transaction ends."""
    box = session.hold(PlateBox, plate_box_id)
    if box is None:
        raise NotFound("There is no such plate box in this lab. Choose one from Stock.")
    return box


def take_in_kit(
    session: LabSession,
    *,
    name: str,
    arrived_on: date,
    expires_on: date | None,
    storage: str,
    stock_a_ul: int,
    stock_b_ul: int,
    bleach_ul: int,
    by: str,
    now: datetime,
) -> Kit:
    """A delivery of stock solutions, with a bottle for each volume in microlitres that is not nothing."""
    if session.exec(select(Kit.id).where(Kit.name == name)).first() is not None:
        raise Refusal(f"There is already a kit “{name}”. Give this one another name.")
    _refuse_tomorrow(session, arrived_on, now)
    volumes = {Substance.STOCK_A: stock_a_ul, Substance.STOCK_B: stock_b_ul, Substance.BLEACH: bleach_ul}
    if not any(volumes.values()):
        raise Refusal("A kit holds at least one bottle. Write the volume of stock A, stock B or bleach.")
    kit = Kit(name=name, arrived_on=arrived_on, expires_on=expires_on, storage=storage)
    session.add(kit)
    session.flush()  # its bottles name its id
    for substance, volume_ul in volumes.items():
        if volume_ul:
            bottle = Bottle(kit_id=kit.id, substance=substance, left_ul=0)
            session.add(bottle)
            session.flush()  # its entry names its id
            _enter_volume(session, bottle, BottleEntryKind.ARRIVED, volume_ul, by=by, now=now)
    return kit


def _enter_volume(
    session: LabSession,
    bottle: Bottle,
    kind: BottleEntryKind,
    change_ul: int,
    *,
    by: str,
    now: datetime,
    batch_number: int | None = None,
    note: str = "",
) -> None:
    bottle.left_ul += change_ul
    session.add(
        BottleEntry(
            bottle_id=bottle.id,
            kind=kind,
            change_ul=change_ul,
            batch_number=batch_number,
            note=note,
            entered_at=now,
            entered_by=by,
        )
    )
    session.flush()  # the database refuses a balance below nothing here, not at the end


def _refuse_again(
    latest: BottleEntry | PlateEntry | None, kind: str, change: int, note: str, now: datetime
) -> None:
    """A button that was pressed twice must not take twice: the same once more within a minute is asked back."""
    if latest is None or latest.kind != kind or latest.note != note or now - latest.entered_at > A_MOMENT:
        return
    if change == (latest.change_ul if isinstance(latest, BottleEntry) else latest.change):
        raise Refusal(
            "The same was entered a moment ago. Look at the ledger; if it happened once more, "
            "write a note that tells the two apart."
        )


def _refuse_short(bottle: Bottle, kit: Kit, volume_ul: int) -> None:
    if volume_ul <= 0:
        raise Refusal("Nothing would be drawn. Write a volume such as 250 mL.")
    if volume_ul > bottle.left_ul:
        raise Refusal(
            f"The {bottle.substance} of kit “{kit.name}” holds {volume_words(bottle.left_ul)}, not {volume_words(volume_ul)}. "
            "Take less, or choose another bottle."
        )


def draw_from_bottle(
    session: LabSession, bottle_id: int, *, volume_ul: int, batch_number: int, by: str, now: datetime
) -> None:
    """Draw microlitres into a batch. A bottle that is expired or holds less is refused."""
    bottle = _hold_bottle(session, bottle_id)
    kit = get_kit(session, bottle.kit_id)
    if kit.expires_on is not None and is_expired(kit.expires_on, _today(session, now)):
        raise Refusal(
            f"The {bottle.substance} of kit “{kit.name}” expired on {day_words(kit.expires_on)}. "
            "Choose a bottle that is still good."
        )
    _refuse_short(bottle, kit, volume_ul)
    _enter_volume(
        session, bottle, BottleEntryKind.MIXED, -volume_ul, by=by, now=now, batch_number=batch_number
    )


def discard_from_bottle(
    session: LabSession, bottle_id: int, *, volume_ul: int, note: str, by: str, now: datetime
) -> None:
    """Write off microlitres that go to waste, from an expired bottle too."""
    bottle = _hold_bottle(session, bottle_id)
    _refuse_short(bottle, get_kit(session, bottle.kit_id), volume_ul)
    latest = find_latest_bottle_entry(session, bottle_id)
    _refuse_again(latest, BottleEntryKind.DISCARDED, -volume_ul, note, now)
    _enter_volume(session, bottle, BottleEntryKind.DISCARDED, -volume_ul, by=by, now=now, note=note)


def correct_bottle(
    session: LabSession, bottle_id: int, *, measured_ul: int, reason: str, by: str, now: datetime
) -> None:
    """Set the balance to what was measured, by an entry of the difference that carries its reason."""
    bottle = _hold_bottle(session, bottle_id)
    if measured_ul == bottle.left_ul:
        raise Refusal(f"The ledger already says {volume_words(measured_ul)}. There is nothing to correct.")
    _enter_volume(
        session, bottle, BottleEntryKind.CORRECTION, measured_ul - bottle.left_ul, by=by, now=now, note=reason
    )


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
    _refuse_tomorrow(session, arrived_on, now)
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
        _refuse_again(find_latest_plate_entry(session, plate_box_id), kind, -plates, note, now)
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
