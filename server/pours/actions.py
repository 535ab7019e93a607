"""Entries of the waste ledger: pours, the reversal of any entry, and what a pickup took.

A container's row is locked before its balance is read, so that entries at the same moment are entered one after the other; of two
containers the one with the smaller id is locked first, so that nobody waits for each other.
"""

from collections.abc import Mapping
from datetime import datetime

from server.charges.actions import empty_charge, put_back_charge
from server.chemistry.actions import discard_batch, put_back_batch
from server.chemistry.queries import get_batch
from server.containers.actions import (
    note_state,
    refuse_gone,
    refuse_too_much,
    refuse_wrong_stream,
    shut_lid,
    take_lid_off,
)
from server.containers.models import COMES_IN, Source, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import (
    SOURCE_OF_SOLUTION,
    find_charge_in_tray,
    find_entry,
    find_reversal,
    find_state_before,
    get_container,
    get_entry,
    get_stream,
    lock_container,
    source_of,
)
from server.core.container_life import (
    ContainerState,
    is_words,
    why_takes_nothing,
)
from server.core.measuring import (
    CannotBe,
    Density,
    GiveOrTake,
    Measured,
    Method,
    Quantity,
    mass_of_mg,
    measure,
    typed_words,
)
from server.core.moments import moment_words
from server.core.recipe import Measure
from server.core.units import mass_words, volume_words
from server.data.session import LabSession
from server.kits.actions import discard_from_bottle, put_back_into_bottle
from server.kits.queries import get_bottle
from server.people.queries import get_lab
from server.pours.queries import find_dates, list_legs
from server.recipes.models import Solution
from server.refusal import Refusal
from server.rotations.queries import get_rotation

_NOT_REVERSED = {
    WasteEntryKind.CORRECTION: "A reversal isn't reversed. Log what really happened as a new entry.",
    WasteEntryKind.COLLECTED: "What was collected isn't here any more. Mend its pickup, or ask your waste office.",
}


def find_entered(
    session: LabSession,
    tablet_id: str,
    quantity: Quantity,
    give_or_take: GiveOrTake | None,
    **same: object,
) -> WasteEntry | None:
    """The entry that the same form has made already, where everything that is told of it is the same; another one is refused."""
    entered = find_entry(session, tablet_id)
    if entered is None:
        return None
    same["typed"] = typed_words(quantity, give_or_take)
    is_amount = quantity.volume_ul in {None, abs(entered.change_ul)}
    if is_amount and all(getattr(entered, name) == told for name, told in same.items()):
        return entered
    way = "into" if entered.change_ul > 0 else "out of"
    raise Refusal(
        f"This form was logged already, as {entered.typed} of {entered.source} {way} “{get_container(session, entered.container_id).name}”. "
        "If that is wrong, reverse it there; log the other one with a fresh form."
    )


def measured_as(
    quantity: Quantity, method: Method, density: Density, give_or_take: GiveOrTake | None
) -> Measured:
    found = measure(quantity, method, density_ug_per_ul=density, give_or_take=give_or_take)
    if isinstance(found, CannotBe):
        raise Refusal(found.sentence)
    return found


def when_it_happened(
    session: LabSession, container: WasteContainer, happened_at: datetime | None, now: datetime
) -> datetime:
    """When an entry happened: now, or an earlier time since the container was set out."""
    if happened_at is None:
        return now
    zone = get_lab(session).time_zone
    if happened_at > now:
        raise Refusal(
            f"{moment_words(happened_at, zone)} is still to come. Write when it happened, or leave it empty: now."
        )
    if happened_at < container.opened_at.replace(second=0, microsecond=0):
        raise Refusal(
            f"“{container.name}” was set out on {moment_words(container.opened_at, zone)}. Write a time from then on."
        )
    return happened_at


def state_of(container: WasteContainer) -> ContainerState:
    return ContainerState(container.state)


def refuse_full(container: WasteContainer) -> None:
    hindrance = why_takes_nothing(name=container.name, state=state_of(container))
    if hindrance is not None:
        raise Refusal(hindrance)


def reason_over_line(container: WasteContainer, volume_ul: int, reason: str) -> str:
    """The reason, where it was needed: one that was not is no decision."""
    return reason if container.held_ul + volume_ul > container.fill_line_ul else ""


_LEAVES = (WasteEntryKind.TRANSFER_OUT, WasteEntryKind.SAMPLE, WasteEntryKind.SPILL)


def _date(container: WasteContainer, entry: WasteEntry) -> None:
    """Keep the dates of what is in a container. One that was emptied begins anew; what was collected keeps its dates, for the papers."""
    if entry.kind in _LEAVES and container.held_ul == 0:
        container.first_pour_at = container.arrived_at = None
    if entry.kind not in COMES_IN:
        return
    if entry.arrived_at is None and container.carried_at is not None:
        entry.arrived_at = max(entry.happened_at, container.carried_at)
    began = entry.began_at or entry.happened_at
    container.first_pour_at = min(began, container.first_pour_at or began)
    if entry.arrived_at is not None:
        container.arrived_at = min(entry.arrived_at, container.arrived_at or entry.arrived_at)


def enter(session: LabSession, container: WasteContainer, entry: WasteEntry) -> WasteEntry:
    """Write an entry of a container that is held, with the balance after it and the dates of what is in it."""
    container.held_ul += entry.change_ul
    container.held_mg += entry.change_mg
    container.estimated_ul += entry.estimated_ul
    _date(container, entry)
    entry.container_id = container.id
    entry.held_after_ul, entry.held_after_mg = container.held_ul, container.held_mg
    session.add(entry)
    session.flush()  # its id is told
    return entry


def pour(
    session: LabSession,
    *,
    container_id: int,
    typed: str,
    method: Method,
    source: Source,
    volume_ul: int | None = None,
    weighed_mg: int | None = None,
    give_or_take: GiveOrTake | None = None,
    of_stream_id: int | None = None,
    charge_id: int | None = None,
    batch_id: int | None = None,
    bottle_id: int | None = None,
    keeps_rest: bool = False,
    rotation_id: int | None = None,
    tablet_id: str,
    note: str = "",
    happened_at: datetime | None = None,
    by: str,
    now: datetime,
    over_line_reason: str = "",
    is_closed_again: bool = False,
) -> WasteEntry:
    """Log a pour of a volume, or of a mass that was weighed. The same `tablet_id` again is the same pour.

    A charge that is named is emptied with it; the rest of a batch or of a bottle is discarded with it, or of a bottle that
    `keeps_rest` only what was poured. `of_stream_id` says which stream's waste an “other” is.
    """
    container = lock_container(session, container_id)
    quantity = Quantity(typed, volume_ul, weighed_mg)
    entered = find_entered(
        session, tablet_id, quantity, give_or_take, kind=WasteEntryKind.POUR, container_id=container_id, source=source,
        charge_id=charge_id, batch_id=batch_id, bottle_id=bottle_id,
    )  # fmt: skip
    if entered is not None:
        return entered
    refuse_full(container)
    density = get_stream(session, container.stream_id).density_ug_per_ul
    measured = measured_as(quantity, method, density, give_or_take)
    poured_ul = measured.volume_ul
    at = when_it_happened(session, container, happened_at, now)
    refuse_wrong_stream(session, container, source, of_stream_id)
    refuse_too_much(container, poured_ul, over_line_reason)
    if len([one for one in (charge_id, batch_id, bottle_id) if one is not None]) > 1:
        raise Refusal(
            "A pour is a charge, or a batch's rest, or a bottle's. Log each with a pour of its own."
        )
    if rotation_id is not None:
        get_rotation(session, rotation_id)
    if charge_id is not None:
        _empty_the_charge(session, charge_id, source, at)
    discarded_ul = None
    into = f"into “{container.name}”{f'; {note}' if note else ''}"
    if batch_id is not None:
        discarded_ul = _discard_batch(session, batch_id, source, note=into, by=by, now=now)
    if bottle_id is not None:
        part_ul = poured_ul if keeps_rest else None
        discarded_ul = _discard_from_bottle(session, bottle_id, part_ul, note=into, by=by, now=now)
    take_lid_off(session, container, what="a pour", by=by, now=at)
    entry = enter(
        session,
        container,
        WasteEntry(
            tablet_id=tablet_id,
            kind=WasteEntryKind.POUR,
            source=source,
            change_ul=poured_ul,
            change_mg=mass_of_mg(poured_ul, density) if measured.weighed_mg is None else measured.weighed_mg,
            typed=measured.typed,
            method=method,
            uncertainty_ul=measured.uncertainty_ul,
            charge_id=charge_id,
            batch_id=batch_id,
            bottle_id=bottle_id,
            discarded_ul=discarded_ul,
            rotation_id=rotation_id,
            over_line_reason=reason_over_line(container, poured_ul, over_line_reason),
            note=note,
            happened_at=at,
            entered_at=now,
            entered_by=by,
        ),
    )
    if is_closed_again:
        shut_lid(session, container, what="the pour", by=by, now=at)
    return entry


def _empty_the_charge(session: LabSession, charge_id: int, source: Source, at: datetime) -> None:
    found = find_charge_in_tray(session, charge_id)
    if found is None:
        raise Refusal(
            "This charge isn't in a tray any more. Look at the ledger: its pour may have been logged. Choose no charge otherwise."
        )
    solution = source_of(found.charge)
    if solution is not source:
        raise Refusal(
            f"The charge in {found.tray.name} is {solution}, not {source}. Choose the source that fits, or another charge."
        )
    if at < found.charge.poured_at.replace(second=0, microsecond=0):
        raise Refusal(
            f"The charge in {found.tray.name} was poured {moment_words(found.charge.poured_at, get_lab(session).time_zone)}. "
            "Write a time after that."
        )
    empty_charge(session, charge_id, now=at)


def _discard_batch(
    session: LabSession, batch_id: int, source: Source, *, note: str, by: str, now: datetime
) -> int:
    batch = get_batch(session, batch_id)
    solution = SOURCE_OF_SOLUTION.get(Solution(batch.solution))
    if solution is not None and solution is not source:
        raise Refusal(f"Batch {batch.number} is {solution}, not {source}. Choose the source that fits.")
    return discard_batch(session, batch_id, note=note, by=by, now=now)


def _discard_from_bottle(
    session: LabSession, bottle_id: int, part_ul: int | None, *, note: str, by: str, now: datetime
) -> int:
    bottle = get_bottle(session, bottle_id)
    if bottle.measure != Measure.VOLUME:
        raise Refusal(
            f"The {bottle.substance} in this bottle is weighed: a solid is not poured. Ask your waste office what becomes of it, and "
            "write it off with its kit."
        )
    discarded_ul = bottle.left if part_ul is None else part_ul
    discard_from_bottle(session, bottle_id, amount=discarded_ul, note=note, by=by, now=now)
    return discarded_ul


def lock_in_order(session: LabSession, *container_ids: int) -> Mapping[int, WasteContainer]:
    """Several containers, locked in the order of their ids."""
    return {
        container_id: lock_container(session, container_id) for container_id in sorted(set(container_ids))
    }


def _refuse_reversal(container: WasteContainer, entry: WasteEntry, over_line_reason: str) -> None:
    """What comes back must have room, and what is taken back must still be there."""
    if entry.change_ul < 0:
        refuse_too_much(container, -entry.change_ul, over_line_reason)
        return
    if entry.change_ul > container.held_ul:
        raise Refusal(
            f"“{container.name}” has {volume_words(container.held_ul)} in it, less than the {volume_words(entry.change_ul)} of entry "
            f"no. {entry.id}: what was taken out since would come from nothing. Reverse first what took it out."
        )
    if entry.change_mg > container.held_mg:
        raise Refusal(
            f"What is in “{container.name}” weighs {mass_words(container.held_mg)} by its ledger, less than the "
            f"{mass_words(entry.change_mg)} of entry no. {entry.id}: part of it was taken out since. Reverse first what took it out."
        )


def _put_back(
    session: LabSession, container: WasteContainer, entry: WasteEntry, *, by: str, now: datetime
) -> str:
    """Undo what went with a pour. What hinders it, in words."""
    note = f"its pour into “{container.name}” was reversed"
    if entry.charge_id is not None:
        hindered = put_back_charge(session, entry.charge_id)
        return f"the charge stays emptied: {hindered}" if hindered else ""
    if entry.discarded_ul is None:
        return ""
    if entry.batch_id is not None:
        put_back_batch(session, entry.batch_id, volume_ul=entry.discarded_ul, note=note, by=by, now=now)
    elif entry.bottle_id is not None:
        put_back_into_bottle(session, entry.bottle_id, amount=entry.discarded_ul, note=note, by=by, now=now)
    return ""


def reverse_entry(
    session: LabSession,
    container_id: int,
    entry_id: int,
    *,
    reason: str,
    over_line_reason: str = "",
    by: str,
    now: datetime,
) -> WasteEntry:
    """Take an entry back with an entry of its own, a transfer with both its legs; what was entered stays.

    A charge that was emptied with it stands in its tray again, unless the tray was filled anew: then the entry says so. The rest of a
    batch or of a bottle that was discarded with it is in its own ledger again.
    """
    entry = get_entry(session, container_id, entry_id)
    legs = list_legs(session, entry)
    containers = lock_in_order(session, *(leg.container_id for leg in legs))
    for container in containers.values():
        refuse_gone(container)
    if entry.kind in _NOT_REVERSED:
        raise Refusal(_NOT_REVERSED[WasteEntryKind(entry.kind)])
    if find_reversal(session, entry_id) is not None:
        raise Refusal("This entry was reversed already. Look at the ledger; nothing was changed.")
    for leg in legs:
        _refuse_reversal(containers[leg.container_id], leg, over_line_reason)
    hindered = _put_back(session, containers[container_id], entry, by=by, now=now)
    note = f"{reason}; {hindered}" if hindered else reason
    reversals = {}
    for leg in legs:
        container = containers[leg.container_id]
        reversals[leg.id] = enter(
            session,
            container,
            WasteEntry(
                tablet_id=f"reverses-{leg.id}",
                kind=WasteEntryKind.CORRECTION,
                source=leg.source,
                change_ul=-leg.change_ul,
                change_mg=-leg.change_mg,
                typed=leg.typed,
                method=leg.method,
                uncertainty_ul=leg.uncertainty_ul,
                reverses_id=leg.id,
                rotation_id=leg.rotation_id,
                over_line_reason=""
                if leg.change_ul > 0
                else reason_over_line(container, -leg.change_ul, over_line_reason),
                note=note,
                happened_at=leg.happened_at,
                entered_at=now,
                entered_by=by,
            ),
        )
    for container in containers.values():
        dates = find_dates(session, container)
        container.first_pour_at, container.arrived_at = dates.began_at, dates.arrived_at
    return reversals[entry_id]


def collect_container(
    session: LabSession, container_id: int, *, tablet_id: str, happened_at: datetime, by: str, now: datetime
) -> WasteEntry:
    """Enter that everything in a container was taken away at `happened_at`. What becomes of the vessel is noted later."""
    container = lock_container(session, container_id)
    refuse_gone(container)
    if container.held_ul == 0:
        raise Refusal(f"“{container.name}” is empty. Leave it out; nothing was handed over yet.")
    entry = enter(
        session,
        container,
        WasteEntry(
            tablet_id=tablet_id,
            kind=WasteEntryKind.COLLECTED,
            source=get_stream(session, container.stream_id).takes,
            change_ul=-container.held_ul,
            change_mg=-container.held_mg,
            typed=volume_words(container.held_ul),
            method=Method.SUM,
            happened_at=happened_at,
            entered_at=now,
            entered_by=by,
        ),
    )
    note_state(session, container, ContainerState.COLLECTED, by=by, now=happened_at)
    return entry


def put_back_collection(
    session: LabSession, container_id: int, entry_id: int, *, reason: str, by: str, now: datetime
) -> WasteEntry:
    """Take the collecting entry of a container back with an entry of its own; the container is what it was before it was handed over."""
    container = lock_container(session, container_id)
    entry = get_entry(session, container_id, entry_id)
    if entry.kind != WasteEntryKind.COLLECTED or find_reversal(session, entry_id) is not None:
        raise Refusal(
            "This entry collected nothing that is still away. Look at the ledger; nothing was changed."
        )
    if container.state != ContainerState.COLLECTED:
        raise Refusal(
            f"“{container.name}” {is_words(state_of(container))}: its vessel is empty, so what was collected can't be in it again."
        )
    reversal = enter(
        session,
        container,
        WasteEntry(
            tablet_id=f"reverses-{entry_id}",
            kind=WasteEntryKind.CORRECTION,
            source=entry.source,
            change_ul=-entry.change_ul,
            change_mg=-entry.change_mg,
            typed=entry.typed,
            method=entry.method,
            reverses_id=entry_id,
            note=reason,
            happened_at=entry.happened_at,
            entered_at=now,
            entered_by=by,
        ),
    )
    before = find_state_before(session, container_id, ContainerState.COLLECTED)
    note_state(
        session,
        container,
        ContainerState(before or ContainerState.FULL),
        note=f"hand-over taken back: {reason}",
        by=by,
        now=now,
    )
    return reversal
