"""Reads for request sheets: the lab's particulars, what is known of a waste's composition, and what stands near it."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from sqlmodel import col, func, select

from server.charges.queries import get_tray_charge
from server.chemistry.models import Batch
from server.chemistry.queries import composition_of, get_batch
from server.containers.models import COMES_IN, Stream, WasteContainer, WasteEntry
from server.containers.queries import get_stream, is_standing, waste_of
from server.core.compatibility import Meeting, Waste, meet
from server.core.container_life import IN_USE
from server.core.recipe import Measure
from server.core.waste_composition import Part, Strong, composition_of_mixture
from server.data.session import LabSession
from server.sheets.models import Particulars


@dataclass(frozen=True)
class Known:
    """What the batches say of a container's composition: `known_ul` of `poured_ul` came from batches whose strengths are known.

    `parts` are told only where all of it did.
    """

    parts: Sequence[Part]
    known_ul: int
    poured_ul: int


@dataclass(frozen=True)
class Near:
    """Waste of another stream that stands near, and what may happen if the two meet."""

    stream: Stream
    containers: Sequence[WasteContainer]
    met: Meeting


def find_particulars(session: LabSession) -> Particulars:
    """What papers say of the lab; all of it empty where nobody has said."""
    return session.exec(select(Particulars)).first() or Particulars()


@dataclass(frozen=True)
class CameIn:
    """What came into a container with one charge or one batch, or with neither, without what was reversed."""

    charge_id: int | None
    batch_id: int | None
    volume_ul: int


def list_came_in(session: LabSession, container_id: int) -> Sequence[CameIn]:
    """Where the contents of a container come from, each source once, in the order of their first entries."""
    found = session.exec(
        select(WasteEntry.charge_id, WasteEntry.batch_id, func.sum(WasteEntry.change_ul))
        .where(WasteEntry.container_id == container_id, col(WasteEntry.kind).in_(COMES_IN), is_standing())
        .group_by(col(WasteEntry.charge_id), col(WasteEntry.batch_id))
        .order_by(func.min(WasteEntry.id))
    ).all()
    return [CameIn(charge_id, batch_id, int(volume)) for charge_id, batch_id, volume in found]


def composition_known(session: LabSession, container: WasteContainer, stream: Stream) -> Known:
    """What went into a container, as mixed, by the batches that its entries name."""
    solutions: list[Strong] = []
    sources = list_came_in(session, container.id)
    for source in sources:
        solutions += _solutions_of(session, source)
    known = sum(one.volume_ul for one in solutions)
    poured = sum(source.volume_ul for source in sources)
    parts: Sequence[Part] = ()
    if poured and known == poured:
        parts = composition_of_mixture(solutions, density_ug_per_ul=stream.density_ug_per_ul)
    return Known(parts, known, poured)


def _solutions_of(session: LabSession, source: CameIn) -> Sequence[Strong]:
    """The batches of a source with their shares of its volume; none where one of them isn't known by mass."""
    batches = _batches_of(session, source)
    whole = sum(volume for _batch, volume in batches)
    found, left = [], source.volume_ul
    for number, (batch, volume) in enumerate(batches, start=1):
        strengths = _strengths_of(session, batch)
        if strengths is None:
            return ()
        share = left if number == len(batches) else source.volume_ul * volume // whole
        left -= share
        found.append(Strong(share, strengths))
    return found


def _batches_of(session: LabSession, source: CameIn) -> Sequence[tuple[Batch, int]]:
    if source.charge_id is not None:
        return [(part.batch, part.volume_ul) for part in get_tray_charge(session, source.charge_id).parts]
    if source.batch_id is not None:
        return [(get_batch(session, source.batch_id), source.volume_ul)]
    return []


def _strengths_of(session: LabSession, batch: Batch) -> dict[str, Fraction] | None:
    """Milligrams a litre by name; None where a constituent is known by its volume only, or none is known at all."""
    constituents = composition_of(session, batch)
    if not constituents or any(part.measure != Measure.MASS for part in constituents):
        return None
    return {part.name: part.strength for part in constituents}


def list_near(session: LabSession, container: WasteContainer, wastes: dict[int, Waste]) -> Sequence[Near]:
    """Other streams that stand in the same area, or in the lab where no area was said, and that must not meet this one.

    `wastes` is filled with what each stream holds, so that it is worked out once for a sheet.
    """
    found = session.exec(
        select(WasteContainer, Stream)
        .join(Stream, col(Stream.id) == col(WasteContainer.stream_id))
        .where(
            col(WasteContainer.state).in_(IN_USE),
            col(WasteContainer.held_ul) > 0,
            WasteContainer.stream_id != container.stream_id,
        )
        .order_by(col(Stream.id), col(WasteContainer.name))
    ).all()
    by_stream: dict[int, tuple[Stream, list[WasteContainer]]] = {}
    for other, stream in found:
        if None in {other.area_id, container.area_id} or other.area_id == container.area_id:
            by_stream.setdefault(stream.id, (stream, []))[1].append(other)
    own = _waste(session, container.stream_id, wastes)
    met = [
        Near(stream, others, meet(own, _waste(session, stream.id, wastes)))
        for stream, others in by_stream.values()
    ]
    return [near for near in met if near.met.is_refused]


def _waste(session: LabSession, stream_id: int, wastes: dict[int, Waste]) -> Waste:
    if stream_id not in wastes:
        wastes[stream_id] = waste_of(session, get_stream(session, stream_id))
    return wastes[stream_id]
