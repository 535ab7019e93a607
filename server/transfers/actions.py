"""What leaves a container for another one, or is gone: transfers, samples, spills, and what dried up."""

from datetime import datetime
from fractions import Fraction

from server.containers.actions import refuse_too_much, refuse_wrong_stream, shut_lid, take_lid_off
from server.containers.models import Source, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import get_area, get_stream, lock_container
from server.core.container_life import AreaKind, why_nothing_leaves
from server.core.measuring import Density, GiveOrTake, Method, Quantity, mass_of_mg, part_mg
from server.core.units import volume_words
from server.core.waste_rules.carrying import why_not_carried
from server.data.session import LabSession
from server.people.queries import day_in_lab
from server.pours.actions import (
    enter,
    find_entered,
    lock_in_order,
    measured_as,
    reason_over_line,
    refuse_full,
    state_of,
    when_it_happened,
)
from server.pours.queries import find_other_leg
from server.refusal import Refusal
from server.rules.queries import find_rules

WATER_UG_PER_UL = 1000

# What takes waste out of a container, and leaves nothing of it in another.
LOSSES = (WasteEntryKind.SAMPLE, WasteEntryKind.SPILL, WasteEntryKind.EVAPORATION)


def _refuse_leaving(container: WasteContainer, *, is_transfer: bool) -> None:
    hindrance = why_nothing_leaves(name=container.name, state=state_of(container), is_transfer=is_transfer)
    if hindrance is not None:
        raise Refusal(hindrance)
    if container.held_ul == 0:
        raise Refusal(f"“{container.name}” holds nothing that could come out of it. Look at its ledger.")


def _refuse_more_than_held(container: WasteContainer, volume_ul: int) -> None:
    if volume_ul > container.held_ul:
        raise Refusal(
            f"“{container.name}” has {volume_words(container.held_ul)} in it: {volume_words(volume_ul)} can't come out. "
            "Check the amount; if more was in it, its pours were not all logged."
        )


def _density_held(container: WasteContainer) -> Density:
    """What a part of what is in a container weighs: what its entries came to, not what its stream is said to weigh."""
    return Fraction(max(container.held_mg, 1) * 1000, container.held_ul)


def _refuse_carrying(
    session: LabSession, source: WasteContainer, target: WasteContainer, now: datetime
) -> None:
    """Pouring over into a container of another area carries waste there."""
    if source.area_id is None or target.area_id is None or source.area_id == target.area_id:
        return
    before, after = (AreaKind(get_area(session, one.area_id or 0).kind) for one in (source, target))
    book = find_rules(session, day_in_lab(session, now)).book
    hindrance = why_not_carried(book, name=source.name, before=before, after=after, held_ul=source.held_ul)
    if hindrance is not None:
        raise Refusal(hindrance)


def transfer(
    session: LabSession,
    container_id: int,
    *,
    to_container_id: int,
    typed: str,
    method: Method,
    volume_ul: int | None = None,
    weighed_mg: int | None = None,
    give_or_take: GiveOrTake | None = None,
    tablet_id: str,
    note: str = "",
    happened_at: datetime | None = None,
    by: str,
    now: datetime,
    over_line_reason: str = "",
    is_closed_again: bool = False,
) -> WasteEntry:
    """Pour from one container into another of the same stream: two entries of one amount and one time. The mass goes in proportion."""
    held = lock_in_order(session, container_id, to_container_id)
    source, target = held[container_id], held[to_container_id]
    quantity = Quantity(typed, volume_ul, weighed_mg)
    entered = find_entered(
        session,
        tablet_id,
        quantity,
        give_or_take,
        kind=WasteEntryKind.TRANSFER_OUT,
        container_id=container_id,
    )
    if entered is not None:
        other = find_other_leg(session, entered)
        if other is None or other.container_id != to_container_id:
            raise Refusal(
                "This form was logged already, as a transfer into another container. Log this one with a fresh form."
            )
        return entered
    if source is target:
        raise Refusal(f"“{source.name}” can't be poured into itself. Choose the container that it goes into.")
    _refuse_leaving(source, is_transfer=True)
    refuse_full(target)
    at = max(when_it_happened(session, one, happened_at, now) for one in (source, target))
    measured = measured_as(quantity, method, _density_held(source), give_or_take)
    over_ul = measured.volume_ul
    _refuse_more_than_held(source, over_ul)
    takes = Source(get_stream(session, source.stream_id).takes)
    refuse_wrong_stream(session, target, takes, source.stream_id)
    _refuse_carrying(session, source, target, now)
    refuse_too_much(target, over_ul, over_line_reason)
    mass_mg = part_mg(held_ul=source.held_ul, held_mg=source.held_mg, volume=over_ul)
    for one in (source, target):
        take_lid_off(session, one, what="a transfer", by=by, now=at)

    def leg(kind: WasteEntryKind, sign: int, of_tablet_id: str) -> WasteEntry:
        return WasteEntry(
            tablet_id=of_tablet_id, kind=kind, source=takes, change_ul=sign * over_ul, change_mg=sign * mass_mg,
            typed=measured.typed, method=method, uncertainty_ul=measured.uncertainty_ul, note=note, happened_at=at,
            entered_at=now, entered_by=by,
        )  # fmt: skip

    into = leg(WasteEntryKind.TRANSFER_IN, 1, f"{tablet_id}-in")
    # Pouring together makes nothing younger. What is emptied has no dates any more, so they are read first.
    into.began_at, into.arrived_at = source.first_pour_at or at, source.arrived_at
    out = enter(session, source, leg(WasteEntryKind.TRANSFER_OUT, -1, tablet_id))
    into.transfer_of_id = out.id
    into.over_line_reason = reason_over_line(target, over_ul, over_line_reason)
    enter(session, target, into)
    if is_closed_again:
        for one in (source, target):
            shut_lid(session, one, what="the transfer", by=by, now=at)
    return out


def take_out(
    session: LabSession,
    container_id: int,
    *,
    kind: WasteEntryKind,
    typed: str,
    method: Method,
    volume_ul: int | None = None,
    weighed_mg: int | None = None,
    give_or_take: GiveOrTake | None = None,
    tablet_id: str,
    note: str,
    happened_at: datetime | None = None,
    by: str,
    now: datetime,
    is_closed_again: bool = False,
) -> WasteEntry:
    """Log a sample, a spill or what dried up. A sample and a spill take their share of the mass; what dries up is water."""
    assert kind in LOSSES
    container = lock_container(session, container_id)
    quantity = Quantity(typed, volume_ul, weighed_mg)
    entered = find_entered(session, tablet_id, quantity, give_or_take, kind=kind, container_id=container_id)
    if entered is not None:
        return entered
    _refuse_leaving(container, is_transfer=False)
    at = when_it_happened(session, container, happened_at, now)
    dries = kind == WasteEntryKind.EVAPORATION
    measured = measured_as(
        quantity, method, WATER_UG_PER_UL if dries else _density_held(container), give_or_take
    )
    gone_ul = measured.volume_ul
    _refuse_more_than_held(container, gone_ul)
    if dries and gone_ul == container.held_ul:
        raise Refusal(
            f"That would be everything in “{container.name}”, and what dries up leaves its salts behind. If it is gone, it was spilled or "
            "transferred: look, and log that."
        )
    mass_mg = part_mg(held_ul=container.held_ul, held_mg=container.held_mg, volume=gone_ul)
    if kind == WasteEntryKind.SAMPLE:
        take_lid_off(session, container, what="a sample", by=by, now=at)
    entry = enter(
        session,
        container,
        WasteEntry(
            tablet_id=tablet_id,
            kind=kind,
            source=get_stream(session, container.stream_id).takes,
            change_ul=-gone_ul,
            change_mg=-(min(mass_mg, mass_of_mg(gone_ul, WATER_UG_PER_UL)) if dries else mass_mg),
            typed=measured.typed,
            method=method,
            uncertainty_ul=measured.uncertainty_ul,
            note=note,
            happened_at=at,
            entered_at=now,
            entered_by=by,
        ),
    )
    if is_closed_again:
        shut_lid(session, container, what=f"the {kind}", by=by, now=at)
    return entry
