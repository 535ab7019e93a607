"""Taking in kits, drawing from bottles and correcting them. Every change is an entry, and the balance is written with it."""

from datetime import date, datetime

from sqlmodel import select

from server.core.good_until import is_expired, still_to_come
from server.core.ledger import sent_twice
from server.core.moments import day_words
from server.core.units import volume_words
from server.data.session import LabSession
from server.kits.models import Bottle, BottleEntry, BottleEntryKind, Kit, Substance
from server.kits.queries import find_latest_bottle_entry, get_kit
from server.people.queries import day_in_lab
from server.refusal import NotFound, Refusal


def _hold_bottle(session: LabSession, bottle_id: int) -> Bottle:
    """The bottle as it is now, kept from others until the transaction ends: two draws must not count the same volume."""
    bottle = session.hold(Bottle, bottle_id)
    if bottle is None:
        raise NotFound("There is no such bottle in this lab. Choose one from Stock.")
    return bottle


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
    early = still_to_come(arrived_on, day_in_lab(session, now))
    if early is not None:
        raise Refusal(early)
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
    session: LabSession, bottle_id: int, kind: BottleEntryKind, change_ul: int, note: str, now: datetime
) -> None:
    entry = find_latest_bottle_entry(session, bottle_id)
    latest = (entry.kind, entry.change_ul, entry.note, entry.entered_at) if entry else None
    again = sent_twice(latest=latest, kind=kind, change=change_ul, note=note, now=now)
    if again is not None:
        raise Refusal(again)


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
    if kit.expires_on is not None and is_expired(kit.expires_on, day_in_lab(session, now)):
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
    _refuse_again(session, bottle_id, BottleEntryKind.DISCARDED, -volume_ul, note, now)
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
