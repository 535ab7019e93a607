"""What the pages of containers show."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.charges.queries import list_charges
from server.containers.forms import MovedLine, Reversal
from server.containers.models import Source, Stream, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import (
    get_container,
    get_stream,
    list_entries,
    list_standing_pours,
    source_of,
)
from server.core.container_life import ContainerState
from server.core.measuring import Method
from server.core.moments import day_at, day_words, moment_words
from server.core.units import volume_words
from server.data.session import LabSession
from server.web.submitted import Submitted

Options = Sequence[tuple[object, str]]


TAKES = [(source.value, source.value) for source in Source]


METHOD_WORDS = {
    Method.GRADUATE: "graduate",
    Method.SCALE: "scale",
    Method.ESTIMATE: "estimate",
    Method.SUM: "sum of entries",
}


# The drawn container, in the drawing's own units: its brim, its bottom and its sides.
BRIM_Y, BOTTOM_Y, LEFT_X, RIGHT_X = 22, 118, 6, 74


@dataclass(frozen=True)
class Gauge:
    """A container from the side: how high it stands now, how high it will, and where its fill line is. Heights fall from the top."""

    id: int
    held_y: float
    coming_y: float
    line_y: float
    words: str
    brim_y: int = BRIM_Y
    bottom_y: int = BOTTOM_Y
    left_x: int = LEFT_X
    right_x: int = RIGHT_X

    @property
    def held_height(self) -> float:
        return round(self.bottom_y - self.held_y, 2)

    @property
    def coming_height(self) -> float:
        return round(self.held_y - self.coming_y, 2)


@dataclass(frozen=True)
class LedgerLine:
    id: int
    when: str
    who: str
    kind: str
    typed: str
    method: str
    change: str
    total: str
    note: str


@dataclass(frozen=True)
class ContainerPage:
    id: int
    name: str
    state: str
    stream: str
    hazards: str
    fill: str
    line_why: str
    held_before: str
    started: str
    opened: str
    gauge: Gauge
    ledger: Sequence[LedgerLine]
    reversible: Options
    line: str
    line_form: Submitted[MovedLine]
    reversal_form: Submitted[Reversal]


@dataclass(frozen=True)
class LabelPage:
    id: int
    lab: str
    name: str
    stream: str
    contents: str
    hazards: str
    size: str
    fill_line: str
    started: str


def _height(volume_ul: int, size_ul: int) -> float:
    """Where a volume stands in the drawing, never above the brim."""
    return round(BOTTOM_Y - (BOTTOM_Y - BRIM_Y) * min(volume_ul, size_ul) / size_ul, 2)


def fill_words(container: WasteContainer) -> str:
    held, line = volume_words(container.held_ul), volume_words(container.fill_line_ul)
    over = container.held_ul - container.fill_line_ul
    if over > 0:
        return f"{held} of {line}, over the fill line by {volume_words(over)}"
    return (
        f"{held} of {line}, room for {volume_words(-over)}" if over else f"{held} of {line}, at the fill line"
    )


def gauge_of(container: WasteContainer, coming_ul: int | None = None) -> Gauge:
    level = container.held_ul if coming_ul is None else coming_ul
    words = f"{container.name}: {fill_words(container)}"
    if level > container.held_ul:
        words += f"; {volume_words(level)} with what is coming"
    return Gauge(
        container.id,
        _height(container.held_ul, container.size_ul),
        _height(level, container.size_ul),
        _height(container.fill_line_ul, container.size_ul),
        words,
    )


def charge_options(session: LabSession) -> list[tuple[int, str]]:
    return [
        (
            found.charge.id,
            f"{source_of(found.charge).value} in {found.tray.name}: {volume_words(found.charge.volume_ul)} of {found.batches}",
        )
        for found in list_charges(session)
    ]


def _note_words(entry: WasteEntry) -> str:
    decided = f"Over the fill line on purpose: {entry.over_line_reason}" if entry.over_line_reason else ""
    return f"{entry.note} {decided}".strip()


def _ledger(entries: Sequence[WasteEntry], zone: str) -> list[LedgerLine]:
    reversed_ids = {entry.reverses_id for entry in entries}
    lines, total = [], 0
    for entry in entries:
        total += entry.change_ul
        kind = entry.kind
        if entry.kind == WasteEntryKind.CORRECTION:
            kind = f"reverses no. {entry.reverses_id}"
        elif entry.id in reversed_ids:
            kind = f"{entry.kind}, reversed"
        sign = "+" if entry.change_ul > 0 else ""
        lines.append(
            LedgerLine(
                entry.id,
                moment_words(entry.entered_at, zone),
                entry.entered_by,
                kind,
                entry.typed,
                METHOD_WORDS[Method(entry.method)],
                f"{sign}{volume_words(entry.change_ul)}",
                volume_words(total),
                _note_words(entry),
            )
        )
    return lines


def started_words(container: WasteContainer, zone: str) -> str:
    return (
        "not begun" if container.first_pour_at is None else day_words(day_at(container.first_pour_at, zone))
    )


def _line_why(container: WasteContainer) -> str:
    tenths = round(100 * container.fill_line_ul / container.size_ul)
    words = f"The fill line, {volume_words(container.fill_line_ul)}, is {tenths} % of the size to the brim, {volume_words(container.size_ul)}."
    if container.fill_line_ul == container.size_ul * 9 // 10:
        words += " 90 % is assumed."
    return f"{words} Rules seen on campuses run from 75 to 90 %; the rest is headspace for expansion. Your waste office decides."


def _held_before(container: WasteContainer) -> str:
    if not container.previous_contents:
        return "nothing, it was new"
    return f"{container.previous_contents}, washed since" if container.washed else container.previous_contents


def container_page(
    session: LabSession,
    container_id: int,
    *,
    zone: str,
    line_form: Submitted[MovedLine] | None = None,
    reversal_form: Submitted[Reversal] | None = None,
) -> ContainerPage:
    container = get_container(session, container_id)
    stream = get_stream(session, container.stream_id)
    standing = (
        [] if container.state == ContainerState.COLLECTED else list_standing_pours(session, container_id)
    )
    return ContainerPage(
        id=container.id,
        name=container.name,
        state=container.state,
        stream=stream.name,
        hazards=stream.hazards,
        fill="collected" if container.state == ContainerState.COLLECTED else fill_words(container),
        line_why=_line_why(container),
        held_before=_held_before(container),
        started=started_words(container, zone),
        opened=day_words(day_at(container.opened_at, zone)),
        gauge=gauge_of(container),
        ledger=_ledger(list_entries(session, container_id), zone),
        reversible=[
            (
                entry.id,
                f"no. {entry.id}: {entry.typed} of {entry.source}, {moment_words(entry.entered_at, zone)}",
            )
            for entry in reversed(standing)
        ],
        line=volume_words(container.fill_line_ul),
        line_form=line_form or Submitted(),
        reversal_form=reversal_form or Submitted(),
    )


def label_page(session: LabSession, container_id: int, *, zone: str, lab: str) -> LabelPage:
    container = get_container(session, container_id)
    stream = get_stream(session, container.stream_id)
    return LabelPage(
        id=container.id,
        lab=lab,
        name=container.name,
        stream=stream.name,
        contents=_contents(stream),
        hazards=stream.hazards,
        size=volume_words(container.size_ul),
        fill_line=volume_words(container.fill_line_ul),
        started=started_words(container, zone),
    )


def _contents(stream: Stream) -> str:
    """The contents in words, for somebody who knows nothing of the lab."""
    return {
        Source.DEVELOPER: "Spent photographic developer in water",
        Source.BLEACH: "Spent photographic bleach in water",
        Source.RINSE: "Rinse water from photographic plates",
        Source.OTHER: f"{stream.name}, from processing photographic plates",
    }[Source(stream.takes)]
