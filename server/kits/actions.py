"""Taking in kits, drawing from bottles and correcting them. Every change is an entry, and the balance is written with it."""

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime

from sqlmodel import select

from server.core.good_until import is_expired, still_to_come
from server.core.ledger import sent_twice
from server.core.moments import day_words
from server.core.recipe import Measure
from server.core.shelf import held_words
from server.data.session import LabSession
from server.kits.forms import EVERY_BOTTLE, NewBottle
from server.kits.models import LEAD_DAYS, Bottle, BottleEntry, BottleEntryKind, Kit, SafetySheet
from server.kits.queries import find_latest_bottle_entry, get_kit, list_bottle_entries, list_bottles_of_kit
from server.people.queries import day_in_lab
from server.refusal import NotFound, Refusal

# Below what the server takes in of any form.
MOST_SHEET_BYTES = 900_000
MOST_NAME = 120
# Where a PDF says that it ends.
PDF_TAIL_BYTES = 1024


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
    contents: Sequence[NewBottle],
    by: str,
    now: datetime,
    storage: str = "",
    store_from_decicelsius: int | None = None,
    store_to_decicelsius: int | None = None,
    makes_ul: int | None = None,
    lead_days: int = LEAD_DAYS,
) -> Kit:
    """A delivery with its bottles. `makes_ul` is the working developer that its pack says it makes."""
    if session.exec(select(Kit.id).where(Kit.name == name)).first() is not None:
        raise Refusal(f"There is already a kit “{name}”. Give this one another name.")
    early = still_to_come(arrived_on, day_in_lab(session, now))
    if early is not None:
        raise Refusal(early)
    if not contents:
        raise Refusal("A kit holds at least one bottle. Write how much of what is in it.")
    if None not in {store_from_decicelsius, store_to_decicelsius} and (
        (store_from_decicelsius or 0) > (store_to_decicelsius or 0)
    ):
        raise Refusal("The coldest it may stand is warmer than the warmest. Check both temperatures.")
    kit = Kit(
        name=name,
        arrived_on=arrived_on,
        expires_on=expires_on,
        storage=storage,
        store_from_decicelsius=store_from_decicelsius,
        store_to_decicelsius=store_to_decicelsius,
        makes_ul=makes_ul,
        lead_days=lead_days,
    )
    session.add(kit)
    session.flush()  # its bottles name its id
    for new in contents:
        bottle = Bottle(
            kit_id=kit.id,
            substance=new.substance,
            measure=new.measure,
            left=0,
            formula=new.formula,
            purity_ppm=new.purity_ppm,
            density_ug_per_ul=new.density_ug_per_ul,
            lot=new.lot,
            hazards=new.hazards,
        )
        session.add(bottle)
        session.flush()  # its entry names its id
        _enter(session, bottle, BottleEntryKind.ARRIVED, new.amount, by=by, now=now)
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


def _refuse_other_measure(bottle: Bottle, measure: Measure) -> None:
    if bottle.measure != measure:
        how = (
            "weighed: write it like 20 g"
            if bottle.measure == Measure.MASS
            else "measured: write it like 250 mL"
        )
        raise Refusal(f"The {bottle.substance} in this bottle is {how}.")


def discard_from_bottle(
    session: LabSession,
    bottle_id: int,
    *,
    amount: int,
    note: str,
    by: str,
    now: datetime,
    measure: Measure = Measure.VOLUME,
) -> None:
    """Write off milligrams or microlitres that go to waste, from an expired bottle too."""
    bottle = _hold_bottle(session, bottle_id)
    _refuse_other_measure(bottle, measure)
    _refuse_short(bottle, get_kit(session, bottle.kit_id), amount)
    _refuse_again(session, bottle_id, BottleEntryKind.DISCARDED, -amount, note, now)
    _enter(session, bottle, BottleEntryKind.DISCARDED, -amount, by=by, now=now, note=note)


def put_back_into_bottle(
    session: LabSession, bottle_id: int, *, amount: int, note: str, by: str, now: datetime
) -> None:
    """Undo a discard that was entered by mistake, with an entry of its own."""
    bottle = _hold_bottle(session, bottle_id)
    _enter(session, bottle, BottleEntryKind.CORRECTION, amount, by=by, now=now, note=note)


def correct_bottle(
    session: LabSession,
    bottle_id: int,
    *,
    measured: int,
    reason: str,
    by: str,
    now: datetime,
    measure: Measure = Measure.VOLUME,
) -> None:
    """Set the balance to what was measured, in milligrams or microlitres, by an entry of the difference that carries its reason."""
    bottle = _hold_bottle(session, bottle_id)
    _refuse_other_measure(bottle, measure)
    if measured == bottle.left:
        raise Refusal(
            f"The ledger already says {held_words(measured, bottle.measure)}. There is nothing to correct."
        )
    _enter(session, bottle, BottleEntryKind.CORRECTION, measured - bottle.left, by=by, now=now, note=reason)


def open_bottle(session: LabSession, bottle_id: int, *, now: datetime) -> None:
    """Record that a bottle was opened before anything was drawn from it."""
    bottle = _hold_bottle(session, bottle_id)
    if bottle.opened_at is not None:
        raise Refusal(f"This bottle of {bottle.substance} is open already. There is nothing to record.")
    bottle.opened_at = now


def use_up_bottle(
    session: LabSession, bottle_id: int, *, rest: BottleEntryKind, note: str, by: str, now: datetime
) -> None:
    """Put a bottle away as empty: its rest went to waste, or was never there, which is a correction."""
    bottle = _hold_bottle(session, bottle_id)
    if bottle.left == 0:
        raise Refusal(f"This bottle of {bottle.substance} is used up already. There is nothing to record.")
    _enter(session, bottle, rest, -bottle.left, by=by, now=now, note=note)


def describe_bottle(session: LabSession, bottle_id: int, told: Mapping[str, str | int]) -> None:
    """Write down what stands on a bottle, by the names of its columns.

    What is in it, its formula, purity and density, is settled once something was drawn from it.
    """
    bottle = _hold_bottle(session, bottle_id)
    if not told:
        raise Refusal("Nothing was written. Write at least one thing that stands on the bottle.")
    drawn = any(entry.kind == BottleEntryKind.MIXED for entry in list_bottle_entries(session, bottle_id))
    if drawn and not told.keys() <= {"lot", "hazards"}:
        raise Refusal(
            f"Batches were mixed from this bottle of {bottle.substance} by what was known of it. "
            "Its formula, purity and density stay as they are."
        )
    for name, value in told.items():
        setattr(bottle, name, value)


def keep_sheet(
    session: LabSession,
    kit_id: int,
    *,
    bottle_id: int,
    link: str,
    file: tuple[str, bytes] | None,
    by: str,
    now: datetime,
) -> None:
    """Keep where the SDS of a bottle is, or of every bottle of the kit: a link, a PDF, or both. What is not given stays as it was."""
    bottles = [
        bottle for bottle in list_bottles_of_kit(session, kit_id) if bottle_id in {EVERY_BOTTLE, bottle.id}
    ]
    if not bottles:
        raise NotFound("There is no such bottle in this kit. Choose one from its page.")
    if not link and file is None:
        raise Refusal("Write where the SDS is, or choose its file.")
    sheet = None if file is None else _sheet(session, file, by=by, now=now)
    for bottle in bottles:
        bottle.sds_link = link or bottle.sds_link
        bottle.sheet_id = bottle.sheet_id if sheet is None else sheet.id


def _file_name(sent: str) -> str:
    """The last part of the name that was sent, as it may be shown."""
    shown = "".join(sign for sign in re.split(r"[/\\\\]", sent)[-1] if sign.isprintable()).strip()
    return shown[:MOST_NAME] or "SDS.pdf"


def _sheet(session: LabSession, file: tuple[str, bytes], *, by: str, now: datetime) -> SafetySheet:
    name, content = file
    if not (content.startswith(b"%PDF-") and b"%%EOF" in content[-PDF_TAIL_BYTES:]):
        raise Refusal("This file is no PDF, whatever its name says. Save the SDS as a PDF and choose that.")
    if len(content) > MOST_SHEET_BYTES:
        raise Refusal("This file is larger than 0.9 MB. Write a link to it instead.")
    sheet = SafetySheet(name=_file_name(name), content=content, added_at=now, added_by=by)
    session.add(sheet)
    session.flush()  # its bottles name its id
    return sheet
