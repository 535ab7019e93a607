"""Use cases of streams and of waste containers, and what hinders an entry into one."""

from collections.abc import Collection
from datetime import datetime

from server.containers.models import ContainerEvent, Source, Stream, StreamGroup, WasteContainer
from server.containers.queries import (
    DICHROMATE_GROUPS,
    UNKNOWN_WASTE,
    USUAL_GROUPS,
    find_container_by_name,
    find_stream_taking,
    get_area,
    get_stream,
    list_stream_groups,
    list_streams,
    lock_container,
    was_washed,
    waste_of,
    waste_of_source,
)
from server.core.compatibility import Waste, meet
from server.core.container_life import (
    GONE,
    REFILLABLE,
    TAKES_MORE,
    AreaKind,
    ContainerState,
    is_words,
    why_not,
    why_nothing_leaves,
)
from server.core.headspace import fill_line_at_ul
from server.core.reactivity_chart import Group
from server.core.units import volume_words
from server.data.session import LabSession
from server.people.queries import day_in_lab
from server.refusal import Refusal
from server.rules.queries import find_fill_percent

# Densities are estimates of two published recipes' working strength: 1 g/mL would count too little.
USUAL_STREAMS = (
    ("Developer", Source.DEVELOPER, "alkaline and reducing; burns skin and eyes", 1050),
    ("Bleach", Source.BLEACH, "acid and oxidizing; irritates skin and eyes; contains metal salts", 1090),
    ("Rinse", Source.RINSE, "water with traces of developer, bleach and silver", 1000),
)


def _refuse_name(session: LabSession, name: str, stream_id: int | None = None) -> None:
    if any(other.name == name and other.id != stream_id for other in list_streams(session)):
        raise Refusal(f"There is already a stream called “{name}”. Give this one another name.")


def add_stream(
    session: LabSession, *, name: str, takes: Source, hazards: str, density_ug_per_ul: int = 1000
) -> Stream:
    """A stream with what its source usually holds; every source but “other” has one, so that a pour never has two places to go."""
    _refuse_name(session, name)
    other = find_stream_taking(session, takes)
    if other is not None:
        raise Refusal(f"“{other.name}” takes {takes} already. Choose another source, or use that stream.")
    stream = Stream(name=name, takes=takes, hazards=hazards, density_ug_per_ul=density_ug_per_ul)
    session.add(stream)
    session.flush()  # containers and groups name its id
    _set_groups(session, stream, USUAL_GROUPS[takes])
    return stream


def add_usual_streams(session: LabSession, *, with_sulfite: bool = False) -> None:
    """The three streams of a tray line, for a lab that has none yet; `with_sulfite` where its developer holds some."""
    if list_streams(session):
        raise Refusal("This lab has streams already. Add the missing one by itself.")
    for name, takes, hazards, density in USUAL_STREAMS:
        stream = add_stream(session, name=name, takes=takes, hazards=hazards, density_ug_per_ul=density)
        if with_sulfite and takes is Source.DEVELOPER:
            _set_groups(session, stream, USUAL_GROUPS[takes] | {Group.SULFITES})


def add_dichromate_stream(session: LabSession) -> Stream:
    """A stream for dichromate bleach by itself: its chromium goes with no other waste."""
    stream = add_stream(
        session,
        name="Dichromate bleach",
        takes=Source.OTHER,
        hazards="acid and strongly oxidizing; poisonous, may cause cancer; contains chromium(VI)",
    )
    _set_groups(session, stream, DICHROMATE_GROUPS)
    return stream


def describe_stream(
    session: LabSession,
    stream_id: int,
    *,
    name: str,
    hazards: str,
    density_ug_per_ul: int,
    density_assumed: bool,
    groups: Collection[Group],
) -> Stream:
    """Say what a stream holds. The density counts for entries from now on; the ledger keeps the masses that it has."""
    stream = get_stream(session, stream_id)
    _refuse_name(session, name, stream_id)
    stream.name, stream.hazards = name, hazards
    stream.density_ug_per_ul, stream.density_assumed = density_ug_per_ul, density_assumed
    _set_groups(session, stream, groups)
    return stream


def _set_groups(session: LabSession, stream: Stream, groups: Collection[Group]) -> None:
    standing = {Group(row.reactivity): row for row in list_stream_groups(session, stream.id)}
    for group, row in standing.items():
        if group not in groups:
            session.delete(row)
    session.add_all(
        StreamGroup(stream_id=stream.id, reactivity=group)
        for group in Group
        if group in groups and group not in standing
    )
    session.flush()  # what wastes do is read from them


def _refuse_unwashed(
    session: LabSession, stream: Stream, previous: Stream | None, previous_other: str, *, washed: bool
) -> str:
    """What the container held before, in words; refused when that was something else and nobody says it was washed."""
    held = previous_other or (previous.name if previous is not None else "")
    same = not previous_other and previous is not None and previous.id == stream.id
    if held and not same and not washed:
        rest = UNKNOWN_WASTE if previous_other or previous is None else waste_of(session, previous)
        raise Refusal(
            f"This container held {held} before and isn't said to be washed since. What is left in it would meet {stream.name}. "
            f"{meet(waste_of(session, stream), rest).sentence} No waste goes into an unwashed container that held an unlike one "
            "(40 CFR 265.177(b)). Wash it and tick “washed since”, or take another container. If in doubt, ask your waste office."
        )
    return held


def _refuse_container_name(session: LabSession, name: str) -> None:
    if find_container_by_name(session, name) is not None:
        raise Refusal(
            f"There is or was a container called “{name}”. Give this one another name, so that papers don't mix them up."
        )


def refuse_line(fill_line_ul: int, size_ul: int) -> None:
    if not 0 < fill_line_ul <= size_ul:
        raise Refusal(
            f"The fill line must be above nothing and at most the size, {volume_words(size_ul)}. Check both."
        )


def set_out_container(
    session: LabSession,
    *,
    stream_id: int,
    name: str,
    size_ul: int,
    fill_line_ul: int | None = None,
    previous_stream_id: int | None = None,
    previous_other: str = "",
    washed: bool = False,
    area_id: int | None = None,
    tare_mg: int | None = None,
    is_ordered: bool = False,
    by: str,
    now: datetime,
) -> WasteContainer:
    """Set out an empty container for one stream, or note that it is ordered. Sizes are to the brim; without a fill line it lies where the lab's rules say."""
    fill_percent = find_fill_percent(session, day_in_lab(session, now))
    stream = get_stream(session, stream_id)
    previous = None if previous_stream_id is None else get_stream(session, previous_stream_id)
    held_before = _refuse_unwashed(session, stream, previous, previous_other, washed=washed)
    container = WasteContainer(
        stream_id=stream_id,
        area_id=area_id,
        name=name,
        size_ul=size_ul,
        fill_line_ul=fill_line_at_ul(size_ul, percent=fill_percent) if fill_line_ul is None else fill_line_ul,
        tare_mg=tare_mg,
        previous_contents=held_before,
        washed=washed,
        opened_at=now,
    )
    state = ContainerState.ORDERED if is_ordered else ContainerState.EMPTY
    return _begin(session, container, state, by=by, now=now)


def fill_anew(
    session: LabSession,
    container_id: int,
    *,
    name: str,
    stream_id: int,
    by: str,
    now: datetime,
) -> WasteContainer:
    """Begin the next filling of a vessel whose last one has left: what it held is known, and the old name is retired."""
    old = lock_container(session, container_id)
    if old.state not in REFILLABLE:
        raise Refusal(
            f"“{old.name}” {is_words(ContainerState(old.state))}. Filled anew is what came back from a pickup or was washed; note that first."
        )
    stream, held = get_stream(session, stream_id), get_stream(session, old.stream_id)
    washed = was_washed(session, container_id)
    new = WasteContainer(
        stream_id=stream_id,
        area_id=old.area_id,
        name=name,
        size_ul=old.size_ul,
        fill_line_ul=old.fill_line_ul,
        tare_mg=old.tare_mg,
        previous_contents=_refuse_unwashed(session, stream, held, "", washed=washed),
        washed=washed,
        reused_from_id=old.id,
        opened_at=now,
    )
    _begin(session, new, ContainerState.EMPTY, by=by, now=now)
    note_state(session, old, ContainerState.RETIRED, note=f"filled anew as “{name}”", by=by, now=now)
    return new


def _begin(
    session: LabSession, container: WasteContainer, state: ContainerState, *, by: str, now: datetime
) -> WasteContainer:
    _refuse_container_name(session, container.name)
    refuse_line(container.fill_line_ul, container.size_ul)
    if container.area_id is not None and get_area(session, container.area_id).kind == AreaKind.CENTRAL:
        container.carried_at = now
    session.add(container)
    session.flush()  # its id is its address
    note_state(session, container, state, by=by, now=now)
    return container


def note_state(
    session: LabSession,
    container: WasteContainer,
    state: ContainerState,
    *,
    note: str = "",
    by: str,
    now: datetime,
) -> None:
    """Bring a container that is held to a state, with an event that says when and who. Whether it may is the caller's to ask."""
    if state in TAKES_MORE:
        container.full_at = None
    elif state is ContainerState.FULL:
        # What was requested or collected meanwhile is full since it was full first.
        container.full_at = container.full_at or now
    container.state = state
    session.add(
        ContainerEvent(container_id=container.id, state=state, note=note, happened_at=now, noted_by=by)
    )


def change_state(
    session: LabSession,
    container: WasteContainer,
    state: ContainerState,
    *,
    note: str = "",
    by: str,
    now: datetime,
) -> None:
    """The same for a container that is held, where its life allows it."""
    before = ContainerState(container.state)
    hindrance = why_not(
        name=container.name, before=before, after=state, held_ul=container.held_ul, reason=note
    )
    if hindrance is not None:
        raise Refusal(hindrance)
    if before is ContainerState.ORDERED:
        container.opened_at = now
    note_state(session, container, state, note=note, by=by, now=now)


def take_lid_off(
    session: LabSession, container: WasteContainer, *, what: str, by: str, now: datetime
) -> None:
    """Note that a container that is held was opened for an entry, where it was not open already."""
    if container.state in {ContainerState.EMPTY, ContainerState.CLOSED}:
        note_state(session, container, ContainerState.OPEN, note=f"opened for {what}", by=by, now=now)


def shut_lid(session: LabSession, container: WasteContainer, *, what: str, by: str, now: datetime) -> None:
    """Note that an open container that is held was closed again after an entry."""
    if container.state == ContainerState.OPEN:
        note_state(session, container, ContainerState.CLOSED, note=f"closed after {what}", by=by, now=now)


def note_labelled(session: LabSession, container_id: int, *, now: datetime) -> None:
    lock_container(session, container_id).labelled_at = now


def refuse_gone(container: WasteContainer) -> None:
    """A ledger whose waste has left the lab stays as it is."""
    state = ContainerState(container.state)
    if state in GONE:
        raise Refusal(why_nothing_leaves(name=container.name, state=state, is_transfer=False) or "")


def refuse_wrong_stream(
    session: LabSession, container: WasteContainer, source: Source, of_stream_id: int | None = None
) -> None:
    """Refuse what isn't of the container's stream, whatever the chart says of the two. An “other” is of the stream that is named."""
    stream = get_stream(session, container.stream_id)
    of = find_stream_taking(session, source) if of_stream_id is None else get_stream(session, of_stream_id)
    if of is not None and source not in {of.takes, Source.OTHER}:
        raise Refusal(f"{of.name} takes {of.takes}, not {source}. Choose the source that fits, or no stream.")
    if of is None:
        refuse_mixing(session, container, waste_of_source(session, source), source)
    elif of.id != stream.id:
        refuse_mixing(
            session, container, waste_of(session, of), of.name if source == Source.OTHER else source
        )


def refuse_mixing(session: LabSession, container: WasteContainer, met: Waste, what: str) -> None:
    """Refuse waste of another stream, or of none, with what it may bring; `what` calls it."""
    stream = get_stream(session, container.stream_id)
    advice = "Pour it into a container of its own stream; never mix streams."
    if what == Source.OTHER:
        advice = (
            "Say which stream's waste it is. If it is of none, give it a stream and a container of its own."
        )
    raise Refusal(
        f"“{container.name}” is for {stream.name} and takes {stream.takes}, not {what}. "
        f"{meet(waste_of(session, stream), met).sentence} {advice}"
    )


def refuse_too_much(container: WasteContainer, volume_ul: int, over_line_reason: str) -> None:
    after = container.held_ul + volume_ul
    if after > container.size_ul:
        raise Refusal(
            f"“{container.name}” holds {volume_words(container.size_ul)} to the brim and has {volume_words(container.held_ul)} in it: "
            f"{volume_words(volume_ul)} can't go in. Pour it into another container of this stream."
        )
    if after > container.fill_line_ul and not over_line_reason:
        room = max(0, container.fill_line_ul - container.held_ul)
        raise Refusal(
            f"That would bring “{container.name}” to {volume_words(after)}, over its fill line at "
            f"{volume_words(container.fill_line_ul)}; there is room for {volume_words(room)}. Pour the rest into another container "
            "of this stream, or write why it goes over the line on purpose."
        )
