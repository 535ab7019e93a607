"""Use cases of streams and of waste containers, and what hinders an entry into one."""

from datetime import datetime

from server.containers.models import ContainerEvent, Source, Stream, WasteContainer
from server.containers.queries import (
    find_container_by_name,
    get_stream,
    list_streams,
    lock_container,
)
from server.core.container_life import ContainerState
from server.core.headspace import usual_fill_line_ul
from server.core.units import volume_words
from server.data.session import LabSession
from server.refusal import Refusal

_ACID_AND_ALKALI = (
    "acid bleach and alkaline developer react with each other: heat, gas, and a mixture nobody knows"
)


_DILUTED = "rinse doesn't make it harmless, and the mixture has to be determined anew by the waste office"


_UNKNOWN = (
    "nobody knows what they do together: heat and gas are possible, and the mixture has to be determined anew"
)


HAZARDS = {
    frozenset({Source.DEVELOPER, Source.BLEACH}): _ACID_AND_ALKALI,
    frozenset({Source.DEVELOPER, Source.RINSE}): _DILUTED,
    frozenset({Source.BLEACH, Source.RINSE}): _DILUTED,
}


USUAL_STREAMS = (
    ("Developer", Source.DEVELOPER, "alkaline and reducing; burns skin and eyes"),
    ("Bleach", Source.BLEACH, "acid and oxidizing; irritates skin and eyes; contains metal salts"),
    ("Rinse", Source.RINSE, "water with traces of developer, bleach and silver"),
)


def hazard_of(source: Source, takes: Source) -> str:
    """What may happen when `source` meets what a stream takes. Not knowing is a hazard too."""
    return HAZARDS.get(frozenset({source, takes}), _UNKNOWN)


def add_stream(session: LabSession, *, name: str, takes: Source, hazards: str) -> Stream:
    """A stream; every source but “other” has one stream, so that a pour never has two places to go."""
    for other in list_streams(session):
        if other.name == name:
            raise Refusal(f"There is already a stream called “{name}”. Give this one another name.")
        if other.takes == takes and takes is not Source.OTHER:
            raise Refusal(f"“{other.name}” takes {takes} already. Choose another source, or use that stream.")
    stream = Stream(name=name, takes=takes, hazards=hazards)
    session.add(stream)
    session.flush()  # containers name its id
    return stream


def add_usual_streams(session: LabSession) -> None:
    """The three streams of a tray line, for a lab that has none yet."""
    if list_streams(session):
        raise Refusal("This lab has streams already. Add the missing one by itself.")
    for name, takes, hazards in USUAL_STREAMS:
        add_stream(session, name=name, takes=takes, hazards=hazards)


def _refuse_unwashed(stream: Stream, previous: Stream | None, previous_other: str, *, washed: bool) -> str:
    """What the container held before, in words; refused when that was something else and nobody says it was washed."""
    held = previous_other or (previous.name if previous is not None else "")
    same = not previous_other and previous is not None and previous.id == stream.id
    if held and not same and not washed:
        raise Refusal(
            f"This container held {held} before and isn't said to be washed since. What is left in it could react with "
            f"{stream.name}: that is forbidden for incompatible wastes (40 CFR 265.177) and bad practice everywhere. Wash it and tick "
            "“washed since”, or take another container. If in doubt, ask your waste office."
        )
    return held


def open_container(
    session: LabSession,
    *,
    stream_id: int,
    name: str,
    size_ul: int,
    fill_line_ul: int | None = None,
    previous_stream_id: int | None = None,
    previous_other: str = "",
    washed: bool = False,
    by: str,
    now: datetime,
) -> WasteContainer:
    """Open a container for one stream. Sizes are to the brim; without a fill line nine tenths of the size are assumed."""
    stream = get_stream(session, stream_id)
    previous = None if previous_stream_id is None else get_stream(session, previous_stream_id)
    held_before = _refuse_unwashed(stream, previous, previous_other, washed=washed)
    if find_container_by_name(session, name) is not None:
        raise Refusal(
            f"There is or was a container called “{name}”. Give this one another name, so that papers don't mix them up."
        )
    line_ul = usual_fill_line_ul(size_ul) if fill_line_ul is None else fill_line_ul
    if not 0 < line_ul <= size_ul:
        raise Refusal(
            f"The fill line must be above nothing and at most the size, {volume_words(size_ul)}. Check both."
        )
    container = WasteContainer(
        stream_id=stream_id,
        name=name,
        size_ul=size_ul,
        fill_line_ul=line_ul,
        previous_contents=held_before,
        washed=washed,
        opened_at=now,
    )
    session.add(container)
    session.flush()  # its id is its address
    note_state(session, container, ContainerState.OPEN, by=by, now=now)
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
    """Bring a container that is held to a state, with an event that says when and who."""
    container.state = state
    session.add(
        ContainerEvent(container_id=container.id, state=state, note=note, happened_at=now, noted_by=by)
    )


def refuse_collected(container: WasteContainer) -> None:
    if container.state == ContainerState.COLLECTED:
        raise Refusal(f"“{container.name}” was collected. Its ledger stays as it is; open another container.")


def close_container(session: LabSession, container_id: int, *, by: str, now: datetime) -> None:
    """From now on it takes no more pours and waits for its pickup."""
    container = lock_container(session, container_id)
    refuse_collected(container)
    note_state(session, container, ContainerState.CLOSED, by=by, now=now)


def reopen_container(session: LabSession, container_id: int, *, by: str, now: datetime) -> None:
    container = lock_container(session, container_id)
    refuse_collected(container)
    note_state(session, container, ContainerState.OPEN, by=by, now=now)


def move_fill_line(session: LabSession, container_id: int, *, fill_line_ul: int) -> None:
    """Set the fill line as the waste office says. It may come to lie below what is held already: then no more is taken."""
    container = lock_container(session, container_id)
    refuse_collected(container)
    if not 0 < fill_line_ul <= container.size_ul:
        raise Refusal(
            f"The fill line must be above nothing and at most the size, {volume_words(container.size_ul)}. Write another volume."
        )
    container.fill_line_ul = fill_line_ul


def refuse_wrong_stream(container: WasteContainer, stream: Stream, source: Source) -> None:
    if source != stream.takes:
        raise Refusal(
            f"“{container.name}” is for {stream.name} and takes {stream.takes}, not {source}: "
            f"{hazard_of(source, Source(stream.takes))}. Pour it into a container of its own stream; never mix streams."
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
