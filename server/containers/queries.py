"""Reads of streams, containers and their ledgers."""

from collections.abc import Mapping, Sequence
from fractions import Fraction

from sqlmodel import col, func, select

from server.charges.models import Charge
from server.charges.queries import TrayCharge, list_charges
from server.chemistry.models import Batch
from server.chemistry.queries import composition_of
from server.containers.models import Source, Stream, StreamGroup, WasteContainer, WasteEntry, WasteEntryKind
from server.core.compatibility import Dissolved, Waste, groups_of
from server.core.container_life import GONE, IN_USE
from server.core.reactivity_chart import Group
from server.core.recipe import Measure
from server.core.units import volume_words
from server.data.session import LabSession
from server.recipes.models import Solution
from server.refusal import NotFound

SOURCE_OF_SOLUTION = {Solution.DEVELOPER: Source.DEVELOPER, Solution.BLEACH: Source.BLEACH}
SOLUTION_OF_SOURCE = {source: solution for solution, source in SOURCE_OF_SOLUTION.items()}

# What the waste of a tray line holds until its lab says otherwise; a judgement, for the chart speaks of strong wastes.
USUAL_GROUPS: Mapping[Source, frozenset[Group]] = {
    Source.DEVELOPER: frozenset(
        {Group.CAUSTICS, Group.REDUCERS, Group.PHENOLS, Group.CARBONATES, Group.DEVELOPER}
    ),
    Source.BLEACH: frozenset({Group.MINERAL_ACIDS, Group.OXIDIZERS, Group.TOXIC_METALS, Group.BLEACH}),
    Source.RINSE: frozenset({Group.WATER, Group.TRACES}),
    Source.OTHER: frozenset(),
}
DICHROMATE_GROUPS = frozenset({Group.OXIDIZING_ACIDS, Group.OXIDIZERS, Group.TOXIC_METALS, Group.BLEACH})
_PLACES = {group.value: place for place, group in enumerate(Group)}
# Of this nobody has said anything; no stream's name is empty.
UNKNOWN_WASTE = Waste("", frozenset())


def list_streams(session: LabSession) -> Sequence[Stream]:
    return session.exec(select(Stream).order_by(col(Stream.id))).all()


def get_stream(session: LabSession, stream_id: int) -> Stream:
    stream = session.get(Stream, stream_id)
    if stream is None:
        raise NotFound("There is no such stream in this lab. Choose one from Waste.")
    return stream


def find_stream_taking(session: LabSession, source: Source) -> Stream | None:
    """The one stream that takes a source; none for “other”, which several may take."""
    if source is Source.OTHER:
        return None
    return session.exec(select(Stream).where(Stream.takes == source)).first()


def list_stream_groups(session: LabSession, stream_id: int) -> Sequence[StreamGroup]:
    """What was said of a stream, in the order of the chart."""
    rows = session.exec(select(StreamGroup).where(StreamGroup.stream_id == stream_id)).all()
    return sorted(rows, key=lambda row: _PLACES[row.reactivity])


def find_last_batch_of(session: LabSession, stream: Stream) -> Batch | None:
    """The batch mixed last whose spent rest a stream takes; its strengths are the best that is known of the stream's."""
    solution = SOLUTION_OF_SOURCE.get(Source(stream.takes))
    if solution is None:
        return None
    return session.exec(
        select(Batch).where(Batch.solution == solution).order_by(col(Batch.id).desc()).limit(1)
    ).first()


def waste_of(session: LabSession, stream: Stream) -> Waste:
    """What a stream holds: the groups said of it, and the salts of the batch mixed last, which spent rests hold at most."""
    batch = find_last_batch_of(session, stream)
    salts = tuple(
        Dissolved(part.formula, Fraction(part.strength, 1000))
        for part in (() if batch is None else composition_of(session, batch))
        if part.formula and part.measure == Measure.MASS
    )
    said = frozenset(Group(row.reactivity) for row in list_stream_groups(session, stream.id))
    return Waste(str(stream.id), said | groups_of(salts), salts)


def waste_of_source(session: LabSession, source: Source) -> Waste:
    """What a source holds: its stream's, or the usual where no stream takes it."""
    stream = find_stream_taking(session, source)
    return Waste(source, USUAL_GROUPS[source]) if stream is None else waste_of(session, stream)


def list_containers(session: LabSession) -> Sequence[WasteContainer]:
    """Containers that stand in the lab with waste in them, or may get some, in the order of their opening."""
    return session.exec(
        select(WasteContainer)
        .where(col(WasteContainer.state).in_(IN_USE))
        .order_by(col(WasteContainer.opened_at), col(WasteContainer.id))
    ).all()


def list_collected_containers(session: LabSession) -> Sequence[WasteContainer]:
    return session.exec(
        select(WasteContainer)
        .where(col(WasteContainer.state).in_(GONE))
        .order_by(col(WasteContainer.opened_at).desc(), col(WasteContainer.id).desc())
    ).all()


def get_container(session: LabSession, container_id: int) -> WasteContainer:
    container = session.get(WasteContainer, container_id)
    if container is None:
        raise NotFound("There is no such waste container in this lab. Choose one from Waste.")
    return container


def lock_container(session: LabSession, container_id: int) -> WasteContainer:
    """The container as it is now, which nobody else can change before this transaction ends."""
    container = session.hold(WasteContainer, container_id)
    if container is None:
        raise NotFound("There is no such waste container in this lab. Choose one from Waste.")
    return container


def find_container_by_name(session: LabSession, name: str) -> WasteContainer | None:
    return session.exec(select(WasteContainer).where(WasteContainer.name == name)).first()


def list_entries(session: LabSession, container_id: int) -> Sequence[WasteEntry]:
    """A container's ledger in the order in which it was written."""
    return session.exec(
        select(WasteEntry).where(WasteEntry.container_id == container_id).order_by(col(WasteEntry.id))
    ).all()


def find_entry(session: LabSession, tablet_id: str) -> WasteEntry | None:
    return session.exec(select(WasteEntry).where(WasteEntry.tablet_id == tablet_id)).first()


def get_entry(session: LabSession, container_id: int, entry_id: int) -> WasteEntry:
    entry = session.get(WasteEntry, entry_id)
    if entry is None or entry.container_id != container_id:
        raise NotFound("There is no such entry in this container's ledger. Choose one of the ledger.")
    return entry


def find_reversal(session: LabSession, entry_id: int) -> WasteEntry | None:
    return session.exec(select(WasteEntry).where(WasteEntry.reverses_id == entry_id)).first()


def list_standing_pours(session: LabSession, container_id: int) -> Sequence[WasteEntry]:
    """The pours of a container that were not reversed."""
    entries = list_entries(session, container_id)
    reversed_ids = {entry.reverses_id for entry in entries}
    return [entry for entry in entries if entry.kind == WasteEntryKind.POUR and entry.id not in reversed_ids]


def source_of(mixed: Batch | Charge) -> Source:
    """What a batch or a charge is called once it is spent."""
    return SOURCE_OF_SOLUTION[Solution(mixed.solution)]


def find_charge_in_tray(session: LabSession, charge_id: int) -> TrayCharge | None:
    return next((found for found in list_charges(session) if found.charge.id == charge_id), None)


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for every container whose running balance differs from the sum of its entries."""
    found = session.exec(
        select(WasteContainer, func.coalesce(func.sum(WasteEntry.change_ul), 0))
        .outerjoin(WasteEntry, col(WasteEntry.container_id) == col(WasteContainer.id))
        .group_by(col(WasteContainer.id))
        .order_by(col(WasteContainer.id))
    ).all()
    return [
        f"Waste container “{container.name}” is said to hold {volume_words(container.held_ul)}, "
        f"but its entries add up to {volume_words(int(total))}: a difference of {container.held_ul - int(total)} µL."
        for container, total in found
        if container.held_ul != int(total)
    ]
