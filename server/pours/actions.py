"""The waste ledger's entries: pours, their reversal, and what a pickup took.

A container's row is locked before its balance is read, so that entries at the same moment are entered one after the other.
"""

from datetime import datetime
from fractions import Fraction

from server.charges.actions import empty_charge, put_back_charge
from server.containers.actions import (
    note_state,
    refuse_gone,
    refuse_too_much,
    refuse_wrong_stream,
    shut_lid,
    take_lid_off,
)
from server.containers.models import Source, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import (
    find_charge_in_tray,
    find_entry,
    find_first_pour,
    find_reversal,
    find_state_before,
    get_container,
    get_entry,
    get_stream,
    lock_container,
    source_of,
)
from server.core.container_life import ContainerState, why_takes_nothing
from server.core.measuring import Method
from server.core.units import volume_words
from server.data.session import LabSession
from server.refusal import Refusal


def _is_the_same(
    entry: WasteEntry, container_id: int, source: Source, volume_ul: int, charge_id: int | None
) -> bool:
    return entry.kind == WasteEntryKind.POUR and (
        entry.container_id,
        entry.source,
        entry.change_ul,
        entry.charge_id,
    ) == (container_id, source, volume_ul, charge_id)


def _empty_the_charge(session: LabSession, charge_id: int, source: Source, now: datetime) -> None:
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
    empty_charge(session, charge_id, now=now)


def pour(
    session: LabSession,
    *,
    container_id: int,
    volume_ul: int,
    typed: str,
    method: Method,
    source: Source,
    of_stream_id: int | None = None,
    charge_id: int | None = None,
    tablet_id: str,
    note: str = "",
    by: str,
    now: datetime,
    over_line_reason: str = "",
    is_closed_again: bool = False,
) -> WasteEntry:
    """Log a pour of `volume_ul` microlitres; a charge that is named is emptied with it. The same `tablet_id` again is the same pour.

    `of_stream_id` says which stream's waste an “other” is.
    """
    container = lock_container(session, container_id)
    entered = find_entry(session, tablet_id)
    if entered is not None:
        if _is_the_same(entered, container_id, source, volume_ul, charge_id):
            return entered
        first = get_container(session, entered.container_id)
        raise Refusal(
            f"This form was logged already, as {entered.typed} of {entered.source} into “{first.name}”. If that is wrong, "
            "reverse it there; log the other pour with a fresh form."
        )
    hindrance = why_takes_nothing(name=container.name, state=ContainerState(container.state))
    if hindrance is not None:
        raise Refusal(hindrance)
    if volume_ul <= 0:
        raise Refusal("A pour is more than nothing. Write how much went in, such as 250 mL.")
    refuse_wrong_stream(session, container, source, of_stream_id)
    refuse_too_much(container, volume_ul, over_line_reason)
    if charge_id is not None:
        _empty_the_charge(session, charge_id, source, now)
    take_lid_off(session, container, what="a pour", by=by, now=now)
    over_line = container.held_ul + volume_ul > container.fill_line_ul
    entry = _enter(
        session,
        container,
        WasteEntry(
            tablet_id=tablet_id,
            kind=WasteEntryKind.POUR,
            source=source,
            change_ul=volume_ul,
            change_mg=mass_of(session, container, volume_ul),
            typed=typed,
            method=method,
            charge_id=charge_id,
            over_line_reason=over_line_reason if over_line else "",
            note=note,
            happened_at=now,
            entered_at=now,
            entered_by=by,
        ),
    )
    container.first_pour_at = container.first_pour_at or now
    if is_closed_again:
        shut_lid(session, container, what="the pour", by=by, now=now)
    return entry


def mass_of(session: LabSession, container: WasteContainer, volume_ul: int) -> int:
    """Milligrams of a volume of what the container takes, by its stream's density; half a milligram goes to the even one."""
    return round(Fraction(volume_ul * get_stream(session, container.stream_id).density_ug_per_ul, 1000))


def _enter(session: LabSession, container: WasteContainer, entry: WasteEntry) -> WasteEntry:
    """Write an entry of a container that is held, with the balance after it."""
    container.held_ul += entry.change_ul
    container.held_mg += entry.change_mg
    container.estimated_ul += entry.estimated_ul
    entry.container_id = container.id
    entry.held_after_ul, entry.held_after_mg = container.held_ul, container.held_mg
    session.add(entry)
    session.flush()  # its id is told
    return entry


def reverse_entry(
    session: LabSession, container_id: int, entry_id: int, *, reason: str, by: str, now: datetime
) -> WasteEntry:
    """Take one pour back with an entry of its own; the first entry stays.

    A charge that was emptied with it stands in its tray again, unless the tray was filled anew: then the entry says so.
    """
    container = lock_container(session, container_id)
    entry = get_entry(session, container_id, entry_id)
    refuse_gone(container)
    if entry.kind != WasteEntryKind.POUR:
        raise Refusal("Only a pour can be reversed. Log what really happened as a new pour.")
    if find_reversal(session, entry_id) is not None:
        raise Refusal("This pour was reversed already. Look at the ledger; nothing was changed.")
    hindered = "" if entry.charge_id is None else put_back_charge(session, entry.charge_id)
    note = f"{reason}; the charge stays emptied: {hindered}" if hindered else reason
    reversal = _enter(
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
            rotation_id=entry.rotation_id,
            note=note,
            happened_at=entry.happened_at,
            entered_at=now,
            entered_by=by,
        ),
    )
    first = find_first_pour(session, container_id)
    container.first_pour_at = None if first is None else first.happened_at
    return reversal


def collect_container(
    session: LabSession, container_id: int, *, tablet_id: str, by: str, now: datetime
) -> WasteEntry:
    """Enter that everything in a container was taken away. What becomes of the vessel is noted later."""
    container = lock_container(session, container_id)
    refuse_gone(container)
    if container.held_ul == 0:
        raise Refusal(f"“{container.name}” is empty. Leave it out; nothing was handed over yet.")
    entry = _enter(
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
            happened_at=now,
            entered_at=now,
            entered_by=by,
        ),
    )
    note_state(session, container, ContainerState.COLLECTED, by=by, now=now)
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
    reversal = _enter(
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
