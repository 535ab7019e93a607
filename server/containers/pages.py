"""What the pages of containers show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from fractions import Fraction
from itertools import combinations

from server.charges.queries import list_charges
from server.containers.forms import NewStream, StreamDescription
from server.containers.models import Source, Stream, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import (
    LATEST,
    Written,
    find_area,
    find_last_batch_of,
    find_last_event,
    find_next_filling,
    get_container,
    get_stream,
    list_earlier_fillings,
    list_stream_groups,
    list_streams,
    list_written,
    source_of,
    waste_of,
)
from server.core.compatibility import GasBound, Hazard, Meeting, Outcome, Waste, hazards_within, meet
from server.core.concentration import UL_PER_LITRE
from server.core.container_life import GONE, TAKES_MORE
from server.core.headspace import USUAL_FILL_PERCENT, fill_line_at_ul, headspace, needs_a_marked_packaging
from server.core.measuring import Method
from server.core.moments import day_at, day_words, moment_words
from server.core.reactivity_chart import CHART_SOURCE, WORDS, Group
from server.core.units import digits, mass_words, volume_words
from server.data.session import LabSession
from server.rules.queries import find_fill_percent
from server.web.submitted import Submitted

Options = Sequence[tuple[object, str]]


TAKES = [(source.value, source.value) for source in Source]


METHOD_WORDS = {
    Method.GRADUATE: "graduate",
    Method.SCALE: "scale",
    Method.ESTIMATE: "estimate",
    Method.SUM: "sum of entries",
}


# A room to picture a gas in: 50 m³, a small teaching lab.
ROOM_LITRES = 50_000

STATE_OF_OUTCOME = {Outcome.REACTS: "stop", Outcome.NOT_IN_CHART: "watch"}
# What is written down so soon is told with one time only.
WRITTEN_AT_ONCE = timedelta(minutes=5)


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
class Reason:
    """One hazard: what it brings, why, how far its source can be relied on, and what a figure of gas was computed from."""

    words: str
    sentence: str
    standing: str
    figure: str


@dataclass(frozen=True)
class Pair:
    """Two streams and what may happen when they meet; `blanks` names the pairs that the chart is silent about."""

    first_id: int
    first: str
    second_id: int
    second: str
    state: str
    outcome: str
    words: str
    reasons: Sequence[Reason]
    blanks: str
    keeping: str


@dataclass(frozen=True)
class StreamLine:
    id: int
    name: str
    takes: str
    hazards: str
    holds: str
    density: str


@dataclass(frozen=True)
class StreamsPage:
    streams: Sequence[StreamLine]
    pairs: Sequence[Pair]
    chart: str
    takes: Options
    form: Submitted[NewStream]


@dataclass(frozen=True)
class GroupChoice:
    key: str
    name: str
    examples: str
    source: str
    ticked: bool


@dataclass(frozen=True)
class StreamPage:
    """`within` are hazards among the stream's own groups, `salts` what is known of its strength."""

    line: StreamLine
    density: str
    density_measured: bool
    salts: str
    within: Sequence[Reason]
    pairs: Sequence[Pair]
    chart: str
    groups: Sequence[GroupChoice]
    form: Submitted[StreamDescription]


@dataclass(frozen=True)
class LedgerLine:
    """`when` is when it happened; `entered` says when it was written down where that was more than a few minutes later, otherwise empty."""

    id: int
    when: str
    entered: str
    who: str
    kind: str
    typed: str
    method: str
    change: str
    change_mass: str
    after: str
    after_mass: str
    note: str


@dataclass(frozen=True)
class LedgerView:
    """One page of a ledger, newest first. `older` is the entry before which the next page begins, None on the last one."""

    lines: Sequence[LedgerLine]
    is_latest: bool
    older: int | None


@dataclass(frozen=True)
class HeadspaceLine:
    """How far one rule lets the container be filled, with its working and source."""

    name: str
    share: str
    volume: str
    working: str
    source: str
    is_lowest: bool


@dataclass(frozen=True)
class HeadspaceTable:
    """Every rule beside the lab's own line, and whether the line is higher than one of them."""

    lines: Sequence[HeadspaceLine]
    is_line_too_high: bool
    packaging: str


@dataclass(frozen=True)
class ContainerPage:
    """`since` says when it came to its state, and who noted it. `area`, `tare` and `full` are empty where nobody said so.

    `fillings` are those that the same vessel had before, the last first, and `next_filling` the one after.
    """

    id: int
    name: str
    state: str
    since: str
    takes_more: bool
    is_at_its_line: bool
    is_gone: bool
    stream: str
    hazards: str
    fill: str
    line_why: str
    headspace: HeadspaceTable
    held_before: str
    started: str
    opened: str
    full: str
    area: str
    tare: str
    weight: str
    estimated: str
    labelled: str
    fillings: Options
    next_filling: tuple[int, str] | None
    gauge: Gauge
    ledger: LedgerView


def _reason(hazard: Hazard) -> Reason:
    figure = "" if hazard.gas is None else _figure(hazard.gas)
    return Reason(hazard.words, hazard.sentence, hazard.standing, figure)


def _figure(gas: GasBound) -> str:
    """How much gas, from what, and what that means in a room."""
    met = "less acid gives less gas"
    if gas.acid_met_per_litre:
        met = (
            f"a litre of the other is known to bring {digits(gas.acid_met_per_litre)} mol, "
            f"which frees {digits(gas.with_equal_volumes)} L"
        )
    room = ""
    if gas.limit_ppm is not None:
        ppm = digits(gas.ppm_in(waste_ul=UL_PER_LITRE, room_litres=ROOM_LITRES), most=3)
        room = (
            f" All of it in the still air of a room of 50 m³ makes {ppm} ppm; a workplace's air may hold {gas.limit_ppm} ppm "
            "(United States, from memory)."
        )
    return (
        f"{gas.from_words} = {digits(gas.litres_per_litre)} L of {gas.name} ({digits(gas.grams_per_litre)} g) from each litre at most. "
        f"That takes {digits(gas.acid_moles_per_litre)} mol of acid; {met}.{room}"
    )


def _reasons(hazards: Sequence[Hazard]) -> list[Reason]:
    """Each reason once: a rule of our own may speak of several pairs."""
    return list(dict.fromkeys(_reason(hazard) for hazard in hazards))


def _blank_words(found: Meeting) -> str:
    """The pairs of the chart's own groups that it says nothing of."""
    return "; ".join(
        f"{WORDS[one].name} and {WORDS[other].name}"
        for one, other in found.blanks
        if one.is_of_the_chart and other.is_of_the_chart
    )


def _pair(first: tuple[Stream, Waste], second: tuple[Stream, Waste]) -> Pair:
    found = meet(first[1], second[1])
    return Pair(
        first[0].id,
        first[0].name,
        second[0].id,
        second[0].name,
        STATE_OF_OUTCOME[found.outcome],
        found.outcome,
        found.words if found.hazards else found.reason,
        _reasons(found.hazards),
        _blank_words(found),
        found.keeping,
    )


def _stream_line(session: LabSession, stream: Stream) -> StreamLine:
    held = [WORDS[Group(row.reactivity)].name for row in list_stream_groups(session, stream.id)]
    said = "assumed" if stream.density_assumed else "measured"
    return StreamLine(
        stream.id,
        stream.name,
        stream.takes,
        stream.hazards,
        ", ".join(held) or "nobody has said",
        f"{digits(Fraction(stream.density_ug_per_ul, 1000))} g/mL, {said}",
    )


def streams_page(session: LabSession, form: Submitted[NewStream] | None = None) -> StreamsPage:
    """Every stream, and every pair of them."""
    streams = list_streams(session)
    wastes = [(stream, waste_of(session, stream)) for stream in streams]
    return StreamsPage(
        [_stream_line(session, stream) for stream in streams],
        [_pair(first, second) for first, second in combinations(wastes, 2)],
        CHART_SOURCE,
        TAKES,
        form or Submitted(),
    )


def _salts_words(session: LabSession, stream: Stream, waste: Waste) -> str:
    batch = find_last_batch_of(session, stream)
    if batch is None or not waste.dissolved:
        return ""
    salts = ", ".join(f"{digits(salt.grams_per_litre)} g/L of {salt.formula}" for salt in waste.dissolved)
    return f"Batch {batch.number}, mixed last, holds {salts}."


def _group_choices(ticked: frozenset[str]) -> list[GroupChoice]:
    return [
        GroupChoice(
            group,
            WORDS[group].name,
            WORDS[group].examples,
            f"group {group} of the chart" if group.is_of_the_chart else "a rule of this program",
            group in ticked,
        )
        for group in Group
    ]


def stream_page(
    session: LabSession, stream_id: int, form: Submitted[StreamDescription] | None = None
) -> StreamPage:
    """A stream: what it holds, and what it does with each other stream."""
    stream = get_stream(session, stream_id)
    own = (stream, waste_of(session, stream))
    form = form or Submitted()
    said = [row.reactivity for row in list_stream_groups(session, stream_id)]
    others = [other for other in list_streams(session) if other.id != stream_id]
    return StreamPage(
        line=_stream_line(session, stream),
        density=digits(Fraction(stream.density_ug_per_ul, 1000)),
        density_measured=not stream.density_assumed,
        salts=_salts_words(session, stream, own[1]),
        within=_reasons(hazards_within(own[1].groups)),
        pairs=[_pair(own, (other, waste_of(session, other))) for other in others],
        chart=CHART_SOURCE,
        groups=_group_choices(frozenset(form.value("groups", said))),
        form=form,
    )


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


def kind_words(written: Written) -> str:
    entry, words = written.entry, written.entry.kind
    if entry.kind == WasteEntryKind.CORRECTION:
        words = f"reverses no. {entry.reverses_id}"
    if written.other_name is not None:
        words = f"{words} {'from' if entry.change_ul > 0 else 'to'} “{written.other_name}”"
    return words if written.reversed_by_id is None else f"{words}, reversed by no. {written.reversed_by_id}"


def method_words(entry: WasteEntry) -> str:
    words = METHOD_WORDS[Method(entry.method)]
    return f"{words}, ± {volume_words(entry.uncertainty_ul)}" if entry.uncertainty_ul else words


def _ledger_line(written: Written, zone: str) -> LedgerLine:
    entry = written.entry
    sign = "+" if entry.change_ul > 0 else ""
    late = entry.entered_at - entry.happened_at > WRITTEN_AT_ONCE
    return LedgerLine(
        id=entry.id,
        when=moment_words(entry.happened_at, zone),
        entered=moment_words(entry.entered_at, zone) if late else "",
        who=entry.entered_by,
        kind=kind_words(written),
        typed=entry.typed,
        method=method_words(entry),
        change=f"{sign}{volume_words(entry.change_ul)}",
        change_mass=f"{sign}{mass_words(entry.change_mg)}",
        after=volume_words(entry.held_after_ul),
        after_mass=mass_words(entry.held_after_mg),
        note=_note_words(entry),
    )


def _ledger(session: LabSession, container: WasteContainer, before: int | None, zone: str) -> LedgerView:
    """One page of a container's ledger. It costs the same however long the ledger is."""
    written = list_written(session, container.id, before=before, at_most=LATEST + 1)
    shown, more = written[:LATEST], len(written) > LATEST
    return LedgerView(
        [_ledger_line(one, zone) for one in shown],
        is_latest=before is None,
        older=shown[-1].entry.id if more else None,
    )


def started_words(container: WasteContainer, zone: str) -> str:
    return (
        "not begun" if container.first_pour_at is None else day_words(day_at(container.first_pour_at, zone))
    )


def _line_why(session: LabSession, container: WasteContainer, zone: str) -> str:
    """The rule that is told is the one of the day on which the container was set out."""
    percent = find_fill_percent(session, day_at(container.opened_at, zone))
    tenths = round(100 * container.fill_line_ul / container.size_ul)
    words = f"The fill line, {volume_words(container.fill_line_ul)}, is {tenths} % of the size to the brim, {volume_words(container.size_ul)}."
    if container.fill_line_ul == fill_line_at_ul(container.size_ul, percent=percent):
        said = "is assumed" if percent == USUAL_FILL_PERCENT else "is the rule of the lab when it was set out"
        words += f" {digits(Fraction(percent))} % {said}."
    return f"{words} Rules seen on campuses run from 75 to 90 %; the rest is headspace for expansion. Your waste office decides."


def _headspace(container: WasteContainer, stream: Stream) -> HeadspaceTable:
    """Sizes are to the brim as they were typed; a can holds more than its nominal size, so the shares err on the careful side."""
    found = headspace(size_ul=container.size_ul, fill_line_ul=container.fill_line_ul)
    density = f"{digits(Fraction(stream.density_ug_per_ul, 1000))} g/mL"
    said = "assumed" if stream.density_assumed else "measured"
    heavy = (
        f"{stream.name} is {density} ({said}): a packaging whose mark names no relative density is good for 1.2 at most "
        "(49 CFR 173.24a(b)(1)). Use one that is marked for it."
    )
    light = (
        f"{stream.name} is {density} ({said}); a packaging whose mark names no relative density is good for 1.2 at most "
        "(49 CFR 173.24a(b)(1))."
    )
    return HeadspaceTable(
        [
            HeadspaceLine(
                limit.name,
                f"{digits(limit.share * 100)} %",
                volume_words(limit.volume_ul),
                limit.working,
                limit.source,
                limit is found.lowest,
            )
            for limit in found.limits
        ],
        found.is_line_too_high,
        heavy if needs_a_marked_packaging(stream.density_ug_per_ul) else light,
    )


def _held_before(container: WasteContainer) -> str:
    if not container.previous_contents:
        return "nothing, it was new"
    return f"{container.previous_contents}, washed since" if container.washed else container.previous_contents


def _since(session: LabSession, container: WasteContainer, zone: str) -> str:
    event = find_last_event(session, container.id)
    return "" if event is None else f"since {moment_words(event.happened_at, zone)}, {event.noted_by}"


def container_page(
    session: LabSession,
    container_id: int,
    *,
    zone: str,
    before: int | None = None,
) -> ContainerPage:
    container = get_container(session, container_id)
    stream = get_stream(session, container.stream_id)
    takes_more, is_gone = container.state in TAKES_MORE, container.state in GONE
    area, following = find_area(session, container), find_next_filling(session, container_id)
    return ContainerPage(
        id=container.id,
        name=container.name,
        state=container.state,
        since=_since(session, container, zone),
        takes_more=takes_more,
        is_at_its_line=takes_more and container.held_ul >= container.fill_line_ul,
        is_gone=is_gone,
        stream=stream.name,
        hazards=stream.hazards,
        fill=container.state if is_gone else fill_words(container),
        line_why=_line_why(session, container, zone),
        headspace=_headspace(container, stream),
        held_before=_held_before(container),
        started=started_words(container, zone),
        opened=day_words(day_at(container.opened_at, zone)),
        full=day_words(day_at(container.full_at, zone)) if container.full_at else "",
        area="" if area is None else f"{area.name} ({area.kind} area)",
        tare="" if container.tare_mg is None else mass_words(container.tare_mg),
        weight=mass_words(container.held_mg),
        estimated=volume_words(container.estimated_ul) if container.estimated_ul else "",
        labelled=day_words(day_at(container.labelled_at, zone)) if container.labelled_at else "",
        fillings=[(one.id, one.name) for one in list_earlier_fillings(session, container)],
        next_filling=None if following is None else (following.id, following.name),
        gauge=gauge_of(container),
        ledger=_ledger(session, container, before, zone),
    )
