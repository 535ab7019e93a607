"""Taking in kits, drawing from bottles and correcting them. Every change is an entry, and the balance is written with it."""

from datetime import date, datetime

from sqlmodel import select

from server.core.good_until import is_expired, still_to_come
from server.core.ledger import sent_twice
from server.core.moments import day_words
from server.core.recipe import Measure
from server.core.shelf import held_words
from server.data.session import LabSession
from server.kits.models import BLEACH, STOCK_A, STOCK_B, Bottle, BottleEntry, BottleEntryKind, Kit
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
    volumes = {STOCK_A: stock_a_ul, STOCK_B: stock_b_ul, BLEACH: bleach_ul}
    if not any(volumes.values()):
        raise Refusal("A kit holds at least one bottle. Write the volume of stock A, stock B or bleach.")
    kit = Kit(name=name, arrived_on=arrived_on, expires_on=expires_on, storage=storage)
    session.add(kit)
    session.flush()  # its bottles name its id
    for substance, volume_ul in volumes.items():
        if volume_ul:
            bottle = Bottle(kit_id=kit.id, substance=substance, left=0)
            session.add(bottle)
            session.flush()  # its entry names its id
            _enter(session, bottle, BottleEntryKind.ARRIVED, volume_ul, by=by, now=now)
    return kit


def _enter(
    session: LabSession,
    bottle: Bottle,
    kind: BottleEntryKind,
    change: int,
    *,
    by: str,
    now: datetime,
    batch_number: int | None = None,
    note: str = "",
) -> None:
    bottle.left += change
    bottle.used_up_at = None if bottle.left else now
    session.add(
        BottleEntry(
            bottle_id=bottle.id,
            kind=kind,
            change=change,
            batch_number=batch_number,
            note=note,
            entered_at=now,
            entered_by=by,
        )
    )
    session.flush()  # the database refuses a balance below nothing here, not at the end


def _refuse_again(
    session: LabSession, bottle_id: int, kind: BottleEntryKind, change: int, note: str, now: datetime
) -> None:
    entry = find_latest_bottle_entry(session, bottle_id)
    latest = (entry.kind, entry.change, entry.note, entry.entered_at) if entry else None
    again = sent_twice(latest=latest, kind=kind, change=change, note=note, now=now)
    if again is not None:
        raise Refusal(again)


def _refuse_short(bottle: Bottle, kit: Kit, amount: int) -> None:
    if amount <= 0:
        example = "20 g" if bottle.measure == Measure.MASS else "250 mL"
        raise Refusal(f"Nothing would be taken. Write an amount such as {example}.")
    if amount > bottle.left:
        raise Refusal(
            f"The {bottle.substance} of kit “{kit.name}” holds {held_words(bottle.left, bottle.measure)}, "
            f"not {held_words(amount, bottle.measure)}. Take less, or choose another bottle."
        )


def draw_from_bottle(
    session: LabSession, bottle_id: int, *, amount: int, batch_number: int, by: str, now: datetime
) -> None:
    """Draw milligrams or microlitres into a batch; the first draw opens the bottle, the last one uses it up.

    A bottle that is expired or holds less is refused.
    """
    bottle = _hold_bottle(session, bottle_id)
    kit = get_kit(session, bottle.kit_id)
    if kit.expires_on is not None and is_expired(kit.expires_on, day_in_lab(session, now)):
        raise Refusal(
            f"The {bottle.substance} of kit “{kit.name}” expired on {day_words(kit.expires_on)}. "
            "Choose a bottle that is still good."
        )
    _refuse_short(bottle, kit, amount)
    if bottle.opened_at is None:
        bottle.opened_at = now
    _enter(session, bottle, BottleEntryKind.MIXED, -amount, by=by, now=now, batch_number=batch_number)


def discard_from_bottle(
    session: LabSession, bottle_id: int, *, amount: int, note: str, by: str, now: datetime
) -> None:
    """Write off milligrams or microlitres that go to waste, from an expired bottle too."""
    bottle = _hold_bottle(session, bottle_id)
    _refuse_short(bottle, get_kit(session, bottle.kit_id), amount)
    _refuse_again(session, bottle_id, BottleEntryKind.DISCARDED, -amount, note, now)
    _enter(session, bottle, BottleEntryKind.DISCARDED, -amount, by=by, now=now, note=note)


def correct_bottle(
    session: LabSession, bottle_id: int, *, measured: int, reason: str, by: str, now: datetime
) -> None:
    """Set the balance to what was measured, in milligrams or microlitres, by an entry of the difference that carries its reason."""
    bottle = _hold_bottle(session, bottle_id)
    if measured == bottle.left:
        raise Refusal(
            f"The ledger already says {held_words(measured, bottle.measure)}. There is nothing to correct."
        )
    _enter(session, bottle, BottleEntryKind.CORRECTION, measured - bottle.left, by=by, now=now, note=reason)
