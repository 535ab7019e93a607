"""Reads of what stands in the trays."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from sqlmodel import col, func, or_, select

from server.charges.models import Charge, EarlyPouring, MorePlates, PlateThrough
from server.chemistry.models import Batch, BatchEntry, BatchEntryKind, BatchOverride
from server.chemistry.queries import get_usual_quantities, list_batches, usable_until
from server.core.units import size_words
from server.core.working_solution import ChargeState, charge_state, plate_area_mm2
from server.data.session import LabSession
from server.plates.queries import list_plate_boxes
from server.recipes.models import Solution
from server.refusal import NotFound
from server.stations.models import Place


@dataclass(frozen=True)
class Part:
    """What was poured into a tray at once, of one batch."""

    batch: Batch
    volume_ul: int
    poured_at: datetime
    poured_by: str

    @property
    def ends_at(self) -> datetime:
        return usable_until(self.batch)


@dataclass(frozen=True)
class Override:
    """What an instructor decided about a charge or one of its batches, in spite of a limit, and why.

    Of three things one is set: `plates` beyond the capacity, a batch's later end `until`, or neither, for a batch that was
    poured before it had stood.
    """

    reason: str
    by: str
    at: datetime
    batch_number: int | None = None
    plates: int | None = None
    until: datetime | None = None


@dataclass(frozen=True)
class TrayCharge:
    """A charge with its tray, its parts in the order of pouring, and what an instructor decided about it.

    `first_ending` is the part whose end rules the charge's.
    """

    charge: Charge
    tray: Place
    parts: Sequence[Part]
    overrides: Sequence[Override] = ()

    @property
    def first_ending(self) -> Part:
        return min(self.parts, key=lambda part: part.ends_at)

    @property
    def ends_at(self) -> datetime:
        """The earliest end of its parts, by life or by a failed check: topping up never restarts a life."""
        return self.first_ending.ends_at

    @property
    def ends_by_check(self) -> bool:
        return self.first_ending.batch.failed_at == self.ends_at

    def at(self, moment: datetime) -> "TrayCharge":
        """The same as it stood then, without what was poured to it or decided later."""
        by_then = [part for part in self.parts[1:] if part.poured_at <= moment]
        decided = [override for override in self.overrides if override.at <= moment]
        return replace(self, parts=[self.parts[0], *by_then], overrides=decided)

    @property
    def batches(self) -> str:
        """“batch 3”, or “batches 3 and 5” where it was topped up from another."""
        numbers = sorted({part.batch.number for part in self.parts})
        if len(numbers) == 1:
            return f"batch {numbers[0]}"
        return f"batches {', '.join(str(number) for number in numbers[:-1])} and {numbers[-1]}"


@dataclass(frozen=True)
class PlateSize:
    """The size that a charge's room is told in, and whose it is."""

    width_um: int
    height_um: int
    whose: str

    @property
    def area_mm2(self) -> int:
        return plate_area_mm2(width_um=self.width_um, height_um=self.height_um)

    @property
    def words(self) -> str:
        return size_words(self.width_um, self.height_um)


def find_size_at_hand(session: LabSession) -> PlateSize:
    """The size of the plates in the open box that expires first, or the usual one while no box with plates is open."""
    for box in list_plate_boxes(session):
        if box.opened_at is not None and box.plates_left:
            return PlateSize(box.width_um, box.height_um, f"in the open “{box.name}”")
    usual = get_usual_quantities(session)
    return PlateSize(usual.plate_width_um, usual.plate_height_um, "of the usual size")


def get_charge(session: LabSession, charge_id: int) -> Charge:
    charge = session.get(Charge, charge_id)
    if charge is None:
        raise NotFound("There is no such charge in this lab. Choose one from Trays.")
    return charge


def list_trays_of_charges(session: LabSession) -> Mapping[int, int]:
    """The tray of each charge there ever was, by the charge's id."""
    return dict(session.exec(select(Charge.id, Charge.place_id)).all())


def _with_parts(session: LabSession, found: Sequence[tuple[Charge, Place]]) -> Sequence[TrayCharge]:
    parts: dict[int, list[Part]] = {charge.id: [] for charge, _tray in found}
    for entry, batch in session.exec(
        select(BatchEntry, Batch)
        .join(Batch, col(Batch.id) == col(BatchEntry.batch_id))
        .where(col(BatchEntry.charge_id).in_(parts))
        .order_by(col(BatchEntry.id))
    ).all():
        assert entry.charge_id is not None
        parts[entry.charge_id].append(Part(batch, -entry.change_ul, entry.entered_at, entry.entered_by))
    overrides = _list_overrides(session, parts)
    return [TrayCharge(charge, tray, parts[charge.id], overrides[charge.id]) for charge, tray in found]


def _list_overrides(
    session: LabSession, parts: Mapping[int, Sequence[Part]]
) -> Mapping[int, Sequence[Override]]:
    """What was decided about each charge (by its id), oldest first."""
    found: dict[int, list[Override]] = {charge_id: [] for charge_id in parts}
    for more in session.exec(select(MorePlates).where(col(MorePlates.charge_id).in_(parts))).all():
        found[more.charge_id].append(
            Override(more.reason, more.allowed_by, more.allowed_at, plates=more.plates)
        )
    batches = {part.batch.id: part.batch.number for each in parts.values() for part in each}
    later = session.exec(select(BatchOverride).where(col(BatchOverride.batch_id).in_(batches))).all()
    early = session.exec(select(EarlyPouring).where(col(EarlyPouring.batch_id).in_(batches))).all()
    for charge_id, each in parts.items():
        of_charge = {part.batch.id for part in each}
        too_soon = {part.batch.id for part in each if part.poured_at < part.batch.ready_at}
        found[charge_id] += [
            Override(one.reason, one.decided_by, one.decided_at, batches[one.batch_id], until=one.until)
            for one in later
            if one.batch_id in of_charge
        ]
        found[charge_id] += [
            Override(one.reason, one.allowed_by, one.allowed_at, batches[one.batch_id])
            for one in early
            if one.batch_id in too_soon
        ]
        found[charge_id].sort(key=lambda override: override.at)
    return found


def get_tray_charge(session: LabSession, charge_id: int) -> TrayCharge:
    """A charge with its tray and parts, whether it is still in the tray or was emptied."""
    charge = get_charge(session, charge_id)
    tray = session.get(Place, charge.place_id)
    assert tray is not None
    return _with_parts(session, [(charge, tray)])[0]


def list_tray_charges(session: LabSession, charge_ids: Collection[int]) -> Mapping[int, TrayCharge]:
    """These charges with their trays and parts, emptied ones too, by the charge's id."""
    if not charge_ids:
        return {}
    found = session.exec(
        select(Charge, Place)
        .join(Place, col(Place.id) == col(Charge.place_id))
        .where(col(Charge.id).in_(charge_ids))
    ).all()
    return {one.charge.id: one for one in _with_parts(session, found)}


def list_charges(session: LabSession) -> Sequence[TrayCharge]:
    """The charges that are in trays now."""
    found = session.exec(
        select(Charge, Place)
        .join(Place, col(Place.id) == col(Charge.place_id))
        .where(col(Charge.emptied_at).is_(None))
        .order_by(col(Place.id))
    ).all()
    return _with_parts(session, found)


def list_emptied(session: LabSession, most: int) -> Sequence[TrayCharge]:
    """The charges that were emptied last, at most so many, the latest first."""
    found = session.exec(
        select(Charge, Place)
        .join(Place, col(Place.id) == col(Charge.place_id))
        .where(col(Charge.emptied_at).is_not(None))
        .order_by(col(Charge.emptied_at).desc(), col(Charge.id).desc())
        .limit(most)
    ).all()
    return _with_parts(session, found)


def list_parts_of_batch(session: LabSession, batch_id: int) -> Sequence[tuple[Charge, int]]:
    """The charges that a batch went into, emptied ones too, each with the microlitres of this batch, in the order of pouring."""
    return [
        (charge, -change_ul)
        for charge, change_ul in session.exec(
            select(Charge, BatchEntry.change_ul)
            .join(BatchEntry, col(BatchEntry.charge_id) == col(Charge.id))
            .where(BatchEntry.batch_id == batch_id)
            .order_by(col(BatchEntry.id))
        ).all()
    ]


def list_standing(session: LabSession, solution: Solution, *, as_of: datetime) -> Sequence[tuple[Batch, int]]:
    """What was mixed before `as_of`, each batch with the microlitres of it that then stood in its bottle or in a tray.

    What has been poured into trays since then, or emptied out of them, counts as it stood.
    """
    in_trays = {
        batch_id: -int(change_ul)
        for batch_id, change_ul in session.exec(
            select(BatchEntry.batch_id, func.sum(BatchEntry.change_ul))
            .join(Charge, col(Charge.id) == col(BatchEntry.charge_id))
            .where(
                Charge.solution == solution,
                or_(col(Charge.emptied_at).is_(None), col(Charge.emptied_at) >= as_of),
            )
            .group_by(col(BatchEntry.batch_id))
        ).all()
    }
    mixed = select(Batch).where(Batch.solution == solution, Batch.mixed_at < as_of)
    return [
        (batch, batch.left_ul + in_trays.get(batch.id, 0))
        for batch in session.exec(mixed.order_by(col(Batch.number).desc())).all()
    ]


def find_early_pouring(session: LabSession, batch_id: int) -> EarlyPouring | None:
    """An instructor's leave to pour a batch before it has stood, if there is one."""
    return session.exec(select(EarlyPouring).where(EarlyPouring.batch_id == batch_id)).first()


def find_area_until(session: LabSession, charge_id: int, moment: datetime) -> int:
    """The plate area, in square millimetres, that had gone through a charge by `moment`."""
    through = select(func.coalesce(func.sum(PlateThrough.area_mm2), 0)).where(
        PlateThrough.charge_id == charge_id, col(PlateThrough.through_at) <= moment
    )
    return int(session.exec(through).one())


def state_of_charge(found: TrayCharge, now: datetime, *, plate_mm2: int) -> ChargeState:
    """Whether a plate of this area may go through the charge at `now`."""
    return charge_state(
        now=now,
        ends_at=found.ends_at,
        by_check=found.ends_by_check,
        room_mm2=found.charge.room_mm2,
        plate_mm2=plate_mm2,
    )


def find_developer_charge(session: LabSession, now: datetime) -> TrayCharge | None:
    """The developer charge to use now: in a tray, alive, with room for a plate at hand; the first to end comes first."""
    plate_mm2 = find_size_at_hand(session).area_mm2
    usable = [
        found
        for found in list_charges(session)
        if found.charge.solution == Solution.DEVELOPER
        and state_of_charge(found, now, plate_mm2=plate_mm2) is ChargeState.USABLE
    ]
    return min(usable, key=lambda found: (found.ends_at, found.charge.id), default=None)


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each batch or charge whose volume, plates or allowed area do not agree with what was entered."""
    charges = session.exec(select(Charge).order_by(col(Charge.id))).all()
    drawn: dict[int, int] = {}
    sentences = []
    numbers = {batch.id: batch.number for batch in list_batches(session)}
    for entry in session.exec(
        select(BatchEntry).where(BatchEntry.kind == BatchEntryKind.CHARGED).order_by(col(BatchEntry.id))
    ).all():
        if entry.charge_id is None:
            sentences.append(
                f"Batch {numbers[entry.batch_id]} gave {-entry.change_ul} µL to a charge that nobody named."
            )
        else:
            drawn[entry.charge_id] = drawn.get(entry.charge_id, 0) - entry.change_ul
    through = {
        charge_id: (plates, int(area))
        for charge_id, plates, area in session.exec(
            select(PlateThrough.charge_id, func.count(), func.sum(PlateThrough.area_mm2)).group_by(
                col(PlateThrough.charge_id)
            )
        ).all()
    }
    allowed = {
        charge_id: int(area)
        for charge_id, area in session.exec(
            select(MorePlates.charge_id, func.sum(MorePlates.area_mm2)).group_by(col(MorePlates.charge_id))
        ).all()
    }
    for charge in charges:
        name = f"Charge {charge.id} ({charge.solution})"
        if charge.volume_ul != drawn.get(charge.id, 0):
            sentences.append(
                f"{name} says {charge.volume_ul} µL were poured, batches gave it {drawn.get(charge.id, 0)} µL."
            )
        plates, area_mm2 = through.get(charge.id, (0, 0))
        if (charge.plates, charge.area_mm2) != (plates, area_mm2):
            sentences.append(
                f"{name} says {charge.plates} plates of {charge.area_mm2} mm² went through, "
                f"entered are {plates} plates of {area_mm2} mm²."
            )
        if charge.allowed_mm2 != allowed.get(charge.id, 0):
            sentences.append(
                f"{name} says {charge.allowed_mm2} mm² were allowed beyond its capacity, "
                f"entered are {allowed.get(charge.id, 0)} mm²."
            )
    return sentences
