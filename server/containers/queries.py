"""Reads of streams, containers and their ledgers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from sqlalchemy import ColumnElement, and_, or_
from sqlalchemy.orm import aliased
from sqlmodel import case, col, func, select
from sqlmodel.sql.expression import Select

from server.charges.models import Charge
from server.charges.queries import TrayCharge, list_charges
from server.chemistry.models import Batch
from server.chemistry.queries import composition_of
from server.containers.models import (
    ContainerEvent,
    Source,
    Stream,
    StreamGroup,
    WasteArea,
    WasteContainer,
    WasteEntry,
    WasteEntryKind,
)
from server.core.compatibility import Dissolved, Waste, groups_of
from server.core.container_life import GONE, IN_USE, ContainerState
from server.core.measuring import Method
from server.core.reactivity_chart import Group
from server.core.recipe import Measure
from server.core.units import mass_words, volume_words
from server.data.session import LabSession
from server.recipes.models import Solution
from server.refusal import NotFound

# Entries of a ledger on one page.
LATEST = 50
# Fillings of one vessel before the present one, on its page.
EARLIER_FILLINGS = 5
# Containers whose filling is gone, on the overview.
LATEST_GONE = 20

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


def list_collected_containers(session: LabSession, *, at_most: int = LATEST_GONE) -> Sequence[WasteContainer]:
    """The latest containers whose filling is gone, newest first."""
    return session.exec(
        select(WasteContainer)
        .where(col(WasteContainer.state).in_(GONE))
        .order_by(col(WasteContainer.opened_at).desc(), col(WasteContainer.id).desc())
        .limit(at_most)
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


def find_last_event(session: LabSession, container_id: int) -> ContainerEvent | None:
    """What became of a container last: when it came to its state, and who noted it."""
    return session.exec(
        select(ContainerEvent)
        .where(ContainerEvent.container_id == container_id)
        .order_by(col(ContainerEvent.id).desc())
        .limit(1)
    ).first()


def list_earlier_fillings(
    session: LabSession, container: WasteContainer, *, at_most: int = EARLIER_FILLINGS
) -> Sequence[WasteContainer]:
    """The fillings that the same vessel had before this one, the last first."""
    found: list[WasteContainer] = []
    before = container.reused_from_id
    while before is not None and len(found) < at_most:
        found.append(get_container(session, before))
        before = found[-1].reused_from_id
    return found


def find_next_filling(session: LabSession, container_id: int) -> WasteContainer | None:
    """The filling that the same vessel had after this one."""
    return session.exec(select(WasteContainer).where(WasteContainer.reused_from_id == container_id)).first()


def find_area(session: LabSession, container: WasteContainer) -> WasteArea | None:
    """Where a container stands; None where nobody said it."""
    return None if container.area_id is None else session.get(WasteArea, container.area_id)


def find_container_by_name(session: LabSession, name: str) -> WasteContainer | None:
    return session.exec(select(WasteContainer).where(WasteContainer.name == name)).first()


def list_areas(session: LabSession) -> Sequence[WasteArea]:
    return session.exec(select(WasteArea).order_by(col(WasteArea.name))).all()


def get_area(session: LabSession, area_id: int) -> WasteArea:
    area = session.get(WasteArea, area_id)
    if area is None:
        raise NotFound("There is no such waste area in this lab. Choose one from Waste areas.")
    return area


def was_washed(session: LabSession, container_id: int) -> bool:
    """Whether somebody noted that the vessel was washed after its filling had left it."""
    found = select(ContainerEvent.id).where(
        ContainerEvent.container_id == container_id, ContainerEvent.state == ContainerState.WASHED
    )
    return session.exec(found.limit(1)).first() is not None


def list_entries(
    session: LabSession, container_id: int, *, before: int | None = None, at_most: int = LATEST
) -> Sequence[WasteEntry]:
    """The latest entries of a container's ledger, or the latest written before entry `before`, in the order in which they were written."""
    wanted = select(WasteEntry).where(WasteEntry.container_id == container_id)
    if before is not None:
        wanted = wanted.where(col(WasteEntry.id) < before)
    return session.exec(wanted.order_by(col(WasteEntry.id).desc()).limit(at_most)).all()[::-1]


def find_entry(session: LabSession, tablet_id: str) -> WasteEntry | None:
    return session.exec(select(WasteEntry).where(WasteEntry.tablet_id == tablet_id)).first()


def find_state_before(session: LabSession, container_id: int, state: ContainerState) -> str | None:
    """What a container was before it last came to a state."""
    last = select(func.max(ContainerEvent.id)).where(
        ContainerEvent.container_id == container_id, ContainerEvent.state == state
    )
    return session.exec(
        select(ContainerEvent.state)
        .where(
            ContainerEvent.container_id == container_id,
            ContainerEvent.state != state,
            col(ContainerEvent.id) < last.scalar_subquery(),
        )
        .order_by(col(ContainerEvent.id).desc())
        .limit(1)
    ).first()


def find_last_entry(session: LabSession, container_id: int) -> WasteEntry | None:
    return next(iter(list_entries(session, container_id, at_most=1)), None)


def get_entry(session: LabSession, container_id: int, entry_id: int) -> WasteEntry:
    entry = session.get(WasteEntry, entry_id)
    if entry is None or entry.container_id != container_id:
        raise NotFound("There is no such entry in this container's ledger. Choose one of the ledger.")
    return entry


def find_reversal(session: LabSession, entry_id: int) -> WasteEntry | None:
    return session.exec(select(WasteEntry).where(WasteEntry.reverses_id == entry_id)).first()


@dataclass(frozen=True)
class Written:
    """An entry as it stands in its ledger: what reverses it, and of a transfer the container with its other leg."""

    entry: WasteEntry
    reversed_by_id: int | None
    other_id: int | None
    other_name: str | None


def list_written(
    session: LabSession, container_id: int, *, before: int | None = None, at_most: int = LATEST
) -> Sequence[Written]:
    """The same entries as `list_entries`, newest first, each with what became of it."""
    wanted = _written().where(col(WasteEntry.container_id) == container_id)
    if before is not None:
        wanted = wanted.where(col(WasteEntry.id) < before)
    found = session.exec(wanted.order_by(col(WasteEntry.id).desc()).limit(at_most)).all()
    return [Written(*row) for row in found]


def list_written_down(
    session: LabSession,
    *,
    begins: datetime | None = None,
    ends: datetime | None = None,
    container_id: int | None = None,
    after: int | None = None,
    at_most: int,
) -> Sequence[Written]:
    """Entries of every container, or of one, that were written down from `begins` and before `ends`, in that order.

    `after` is an entry of this lab that came before them.
    """
    wanted = _written()
    if container_id is not None:
        wanted = wanted.where(col(WasteEntry.container_id) == container_id)
    if ends is not None:
        wanted = wanted.where(col(WasteEntry.entered_at) < ends)
    last = None if after is None else session.get(WasteEntry, after)
    if last is not None:
        same_moment = and_(col(WasteEntry.entered_at) == last.entered_at, col(WasteEntry.id) > last.id)
        wanted = wanted.where(or_(col(WasteEntry.entered_at) > last.entered_at, same_moment))
        # Said once more in a way that an index can begin from.
        begins = last.entered_at
    if begins is not None:
        wanted = wanted.where(col(WasteEntry.entered_at) >= begins)
    wanted = wanted.order_by(col(WasteEntry.entered_at), col(WasteEntry.id)).limit(at_most)
    return [Written(*row) for row in session.exec(wanted).all()]


def _written() -> Select[WasteEntry, int, int, str]:
    """Entries with what became of each.

    Joined entry by entry: asked for a list of ids at once, SQLite would rather read the whole ledger of the lab.
    """
    reversal, leg_out, leg_in = aliased(WasteEntry), aliased(WasteEntry), aliased(WasteEntry)
    other = aliased(WasteContainer)
    return (
        select(WasteEntry, reversal.id, other.id, other.name)
        .outerjoin(reversal, col(reversal.reverses_id) == col(WasteEntry.id))
        .outerjoin(leg_out, col(leg_out.id) == col(WasteEntry.transfer_of_id))
        .outerjoin(leg_in, col(leg_in.transfer_of_id) == col(WasteEntry.id))
        .outerjoin(other, col(other.id) == func.coalesce(leg_out.container_id, leg_in.container_id))
    )


def is_standing() -> ColumnElement[bool]:
    """What says that nobody has reversed an entry."""
    reversal = aliased(WasteEntry)
    return ~select(reversal.id).where(col(reversal.reverses_id) == col(WasteEntry.id)).exists()


def came_in() -> ColumnElement[bool]:
    """What says that an entry changes what came in, as `WasteEntry.came_in` does: it came in, or takes back what did."""
    return (col(WasteEntry.change_ul) > 0) == (col(WasteEntry.kind) != WasteEntryKind.CORRECTION)


def find_held_at_ul(session: LabSession, container: WasteContainer, at: datetime) -> int:
    """What a container held at a moment: what it holds, less all that happened in it from then on."""
    changed = session.exec(
        select(func.sum(WasteEntry.change_ul)).where(
            WasteEntry.container_id == container.id, col(WasteEntry.happened_at) >= at
        )
    ).one()
    return container.held_ul - int(changed or 0)


def source_of(mixed: Batch | Charge) -> Source:
    """What a batch or a charge is called once it is spent."""
    return SOURCE_OF_SOLUTION[Solution(mixed.solution)]


def find_charge_in_tray(session: LabSession, charge_id: int) -> TrayCharge | None:
    return next((found for found in list_charges(session) if found.charge.id == charge_id), None)


def _list_wrong_balances(session: LabSession) -> list[str]:
    """Running balances that are not the sum of their entries."""
    estimated = case(
        (and_(came_in(), col(WasteEntry.method) == Method.ESTIMATE), col(WasteEntry.change_ul)), else_=0
    )
    found = session.exec(
        select(
            WasteContainer,
            func.coalesce(func.sum(WasteEntry.change_ul), 0),
            func.coalesce(func.sum(WasteEntry.change_mg), 0),
            func.coalesce(func.sum(estimated), 0),
        )
        .outerjoin(WasteEntry, col(WasteEntry.container_id) == col(WasteContainer.id))
        .group_by(col(WasteContainer.id))
        .order_by(col(WasteContainer.id))
    ).all()
    return [
        f"Waste container “{container.name}” is said to {does} {words(said)}, "
        f"but its entries add up to {words(total)}: a difference of {said - total} {unit}."
        for container, held_ul, held_mg, of_it in found
        for does, said, total, words, unit in (
            ("hold", container.held_ul, int(held_ul), volume_words, "µL"),
            ("hold", container.held_mg, int(held_mg), mass_words, "mg"),
            ("have got by estimate", container.estimated_ul, int(of_it), volume_words, "µL"),
        )
        if said != total
    ]


def _list_broken_chains(session: LabSession) -> list[str]:
    """Entries that carry another balance than the one before them and their own change come to; each container's first one only."""

    def so_far(change: int) -> ColumnElement[int]:
        return func.sum(change).over(partition_by=col(WasteEntry.container_id), order_by=col(WasteEntry.id))

    carried = select(
        col(WasteEntry.id).label("id"),
        (col(WasteEntry.held_after_ul) - so_far(WasteEntry.change_ul)).label("off_ul"),
        (col(WasteEntry.held_after_mg) - so_far(WasteEntry.change_mg)).label("off_mg"),
    ).subquery()
    off = session.exec(
        select(WasteEntry, WasteContainer, carried.c.off_ul, carried.c.off_mg)
        .join(carried, carried.c.id == col(WasteEntry.id))
        .join(WasteContainer, col(WasteContainer.id) == col(WasteEntry.container_id))
        .where(or_(carried.c.off_ul != 0, carried.c.off_mg != 0))
        .order_by(col(WasteEntry.container_id), col(WasteEntry.id))
    ).all()
    first = {container.id: (entry, container, ul, mg) for entry, container, ul, mg in reversed(off)}
    return [
        f"Entry no. {entry.id} of waste container “{container.name}” carries a balance that is off by {ul} µL and {mg} mg: "
        "it, or one before it, was changed."
        for entry, container, ul, mg in sorted(first.values(), key=lambda one: one[1].id)
    ]


def _list_lost_legs(session: LabSession) -> list[str]:
    """Transfers without both their legs, of one amount, at one time, both reversed or none; and reversals that take back something else."""
    leg_in, undone, undone_in = aliased(WasteEntry), aliased(WasteEntry), aliased(WasteEntry)
    pairs = session.exec(
        select(WasteEntry, leg_in, undone.id, undone_in.id)
        .outerjoin(leg_in, col(leg_in.transfer_of_id) == col(WasteEntry.id))
        .outerjoin(undone, col(undone.reverses_id) == col(WasteEntry.id))
        .outerjoin(undone_in, col(undone_in.reverses_id) == col(leg_in.id))
        .where(WasteEntry.kind == WasteEntryKind.TRANSFER_OUT)
        .where(
            or_(
                col(leg_in.id).is_(None),
                col(leg_in.kind) != WasteEntryKind.TRANSFER_IN,
                col(leg_in.container_id) == col(WasteEntry.container_id),
                col(leg_in.change_ul) != -col(WasteEntry.change_ul),
                col(leg_in.change_mg) != -col(WasteEntry.change_mg),
                col(leg_in.happened_at) != col(WasteEntry.happened_at),
                col(undone.id).is_(None) != col(undone_in.id).is_(None),
            )
        )
        .order_by(col(WasteEntry.id))
    ).all()
    alone = session.exec(
        select(WasteEntry)
        .where(WasteEntry.kind == WasteEntryKind.TRANSFER_IN, col(WasteEntry.transfer_of_id).is_(None))
        .order_by(col(WasteEntry.id))
    ).all()
    first = aliased(WasteEntry)
    wrong = session.exec(
        select(WasteEntry)
        .join(first, col(first.id) == col(WasteEntry.reverses_id))
        .where(
            or_(
                col(first.container_id) != col(WasteEntry.container_id),
                col(first.change_ul) != -col(WasteEntry.change_ul),
                col(first.change_mg) != -col(WasteEntry.change_mg),
            )
        )
        .order_by(col(WasteEntry.id))
    ).all()
    return [
        *(
            f"Transfer no. {out.id} has no leg into another container."
            if into is None
            else f"The legs of transfer no. {out.id} and no. {into.id} differ in amount, time, container or reversal."
            for out, into, _undone, _undone_in in pairs
        ),
        *(f"Transfer no. {into.id} has no leg out of another container." for into in alone),
        *(f"Entry no. {entry.id} doesn't take back what no. {entry.reverses_id} says." for entry in wrong),
    ]


def _list_wrong_states(session: LabSession) -> list[str]:
    """Containers whose state is another than their last event's."""
    last = (
        select(ContainerEvent.container_id, func.max(ContainerEvent.id).label("event_id"))
        .group_by(col(ContainerEvent.container_id))
        .subquery()
    )
    found = session.exec(
        select(WasteContainer, ContainerEvent.state)
        .outerjoin(last, last.c.container_id == col(WasteContainer.id))
        .outerjoin(ContainerEvent, col(ContainerEvent.id) == last.c.event_id)
        .where(
            or_(
                col(ContainerEvent.state).is_(None),
                col(ContainerEvent.state) != col(WasteContainer.state),
            )
        )
        .order_by(col(WasteContainer.id))
    ).all()
    return [
        f"Waste container “{container.name}” is said to be {container.state}, "
        f"but its last event says {state or 'nothing'}."
        for container, state in found
    ]


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for everything in the waste ledger that doesn't agree with itself: balances, the chain of balances, legs, states."""
    return [
        *_list_wrong_balances(session),
        *_list_broken_chains(session),
        *_list_lost_legs(session),
        *_list_wrong_states(session),
    ]
