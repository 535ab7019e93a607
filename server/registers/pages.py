"""What the register of the waste ledger shows, and its files."""

from calendar import monthrange
from collections.abc import AsyncIterator, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from urllib.parse import urlencode

from anyio.to_thread import run_sync

from server.containers.models import ContainerEvent, WasteContainer, WasteEntry
from server.containers.pages import kind_words, method_words
from server.containers.queries import Written, find_container_by_name, list_written_down
from server.core.moments import day_at, day_begins, day_words, moment_words, stamp
from server.core.table_file import write_head, write_rows
from server.core.units import mass_words, volume_words
from server.data.session import Database, LabSession
from server.refusal import NotFound
from server.registers.forms import Span
from server.registers.queries import Names, Sums, find_names, list_lives, list_sums
from server.web.submitted import Submitted

# Entries on one page, and in one piece of a file.
LINES = 500
ADDRESS = "/waste/register"

ENTRIES_HEAD = (
    "no", "container", "stream", "kind", "what", "reverses no", "reversed by no", "transfer with", "happened", "written down", "by",
    "as typed", "method", "uncertainty mL", "in mL", "out mL", "in g", "out g", "then held mL", "then held g", "tray", "batch", "bottle",
    "class", "receipt", "over the line because", "note",
)  # fmt: skip
LIVES_HEAD = (
    "event", "container", "stream", "size mL", "fill line mL", "empty weight g", "held before", "washed", "refilled from no",
    "became", "when", "by", "note",
)  # fmt: skip


@dataclass(frozen=True)
class RegisterLine:
    id: int
    container: str
    stream: str
    kind: str
    what: str
    happened: str
    entered: str
    who: str
    typed: str
    method: str
    change: str
    change_mass: str
    after: str
    after_mass: str
    origin: str
    note: str


@dataclass(frozen=True)
class SumLine:
    stream: str
    came_in: str
    came_in_mass: str
    went_out: str
    went_out_mass: str


@dataclass(frozen=True)
class RegisterPage:
    """`shown` is the stretch of the span on this page, at most a month; `earlier`, `later` and `more` are addresses, empty where there is none."""

    lab_name: str
    shown: str
    container: str
    lines: Sequence[RegisterLine]
    sums: Sequence[SumLine]
    goes_on: bool
    earlier: str
    later: str
    more: str
    file: str
    first_day: date
    last_day: date
    form: Submitted[Span]


@dataclass(frozen=True)
class Stretch:
    """The days of a span that one page shows: from `first` to `last`, and what of the span lies before and behind."""

    first: date
    last: date
    earlier: date | None
    later: date | None


def month_of(day: date) -> tuple[date, date]:
    """The first and the last day of a day's month."""
    return day.replace(day=1), day.replace(day=monthrange(day.year, day.month)[1])


def stretch_of(first: date, last: date, shown: date) -> Stretch:
    """The part of a span that lies in the month of `shown`."""
    begins, ends = month_of(min(max(shown, first), last))
    earlier = max(first, month_of(begins - timedelta(days=1))[0]) if begins > first else None
    later = ends + timedelta(days=1) if ends < last else None
    return Stretch(max(first, begins), min(last, ends), earlier, later)


def find_wanted(session: LabSession, name: str) -> WasteContainer | None:
    """The container that was asked for by its name; none where none was."""
    if not name:
        return None
    container = find_container_by_name(session, name)
    if container is None:
        raise NotFound(
            f"There is and was no waste container called “{name}”. Look at the name on its label or its page."
        )
    return container


def _origin(entry: WasteEntry, names: Names) -> str:
    """What went in, and of which class."""
    found = [
        f"from {names.trays[entry.charge_id]}" if entry.charge_id else "",
        f"batch {names.batches[entry.batch_id]}" if entry.batch_id else "",
        names.bottles[entry.bottle_id] if entry.bottle_id else "",
        names.classes[entry.rotation_id] if entry.rotation_id else "",
        f"receipt {receipt}" if (receipt := names.receipts.get(entry.id)) else "",
    ]
    return "; ".join(filter(None, found))


def _line(written: Written, names: Names, zone: str) -> RegisterLine:
    entry = written.entry
    sign = "+" if entry.change_ul > 0 else ""
    over = f"Over the fill line on purpose: {entry.over_line_reason}" if entry.over_line_reason else ""
    return RegisterLine(
        id=entry.id,
        container=names.containers[entry.container_id],
        stream=names.streams[entry.container_id],
        kind=kind_words(written),
        what=entry.source,
        happened=moment_words(entry.happened_at, zone),
        entered=moment_words(entry.entered_at, zone),
        who=entry.entered_by,
        typed=entry.typed,
        method=method_words(entry),
        change=f"{sign}{volume_words(entry.change_ul)}",
        change_mass=f"{sign}{mass_words(entry.change_mg)}",
        after=volume_words(entry.held_after_ul),
        after_mass=mass_words(entry.held_after_mg),
        origin=_origin(entry, names),
        note="; ".join(filter(None, (entry.note, over))),
    )


def _sum_line(sums: Sums) -> SumLine:
    return SumLine(
        sums.stream,
        volume_words(sums.in_ul),
        mass_words(sums.in_mg),
        volume_words(sums.out_ul),
        mass_words(sums.out_mg),
    )


def _address(span: Span, ending: str = "", **more: object) -> str:
    asked = {"first_day": span.first_day, "last_day": span.last_day, "container": span.container, **more}
    told = {name: value for name, value in asked.items() if value}
    return f"{ADDRESS}{ending}" + (f"?{urlencode(told)}" if told else "")


def register_page(
    session: LabSession, form: Submitted[Span], *, lab_name: str, now: datetime, zone: str
) -> RegisterPage:
    """At most a month of what was written down, the earliest first; this month where no day was named."""
    span, today = form.clean or Span(), day_at(now, zone)
    last = span.last_day or max(today, span.first_day or today)
    first = min(span.first_day or month_of(last)[0], last)
    found = stretch_of(first, last, span.shown or first)
    container = find_wanted(session, span.container)
    container_id = None if container is None else container.id
    begins, ends = day_begins(found.first, zone), day_begins(found.last + timedelta(days=1), zone)
    written = list_written_down(
        session, begins=begins, ends=ends, container_id=container_id, after=span.after, at_most=LINES + 1
    )
    lines = _lines(session, written[:LINES], zone)
    more = (
        _address(span, shown=found.first, after=written[LINES - 1].entry.id) if len(written) > LINES else ""
    )
    return RegisterPage(
        lab_name=lab_name,
        shown=day_words(found.first)
        if found.first == found.last
        else f"{day_words(found.first)} to {day_words(found.last)}",
        container=span.container,
        lines=lines,
        sums=[
            _sum_line(sums)
            for sums in list_sums(session, begins=begins, ends=ends, container_id=container_id)
        ],
        goes_on=span.after is not None,
        earlier=_address(span, shown=found.earlier) if found.earlier else "",
        later=_address(span, shown=found.later) if found.later else "",
        more=more,
        file=_address(span, "/entries.csv"),
        first_day=first,
        last_day=last,
        form=form,
    )


def _lines(session: LabSession, written: Sequence[Written], zone: str) -> Sequence[RegisterLine]:
    """In the order of their numbers: two that were entered at the same moment waited for each other, and the balance follows the numbers."""
    names = find_names(session, written)
    return [_line(one, names, zone) for one in sorted(written, key=lambda one: one.entry.id)]


def _thousandths(quantity: int) -> str:
    """Millilitres of microlitres, or grams of milligrams, with all of their digits."""
    return f"{Decimal(quantity) / 1000:.3f}"


def _either_way(change: int) -> tuple[str, str]:
    """In one column what came in, in the next what went out: no cell begins with a minus."""
    return (_thousandths(change), "") if change >= 0 else ("", _thousandths(-change))


def _row(written: Written, names: Names, zone: str) -> Sequence[str]:
    entry = written.entry
    return (
        str(entry.id), names.containers[entry.container_id], names.streams[entry.container_id], entry.kind, entry.source,
        str(entry.reverses_id or ""), str(written.reversed_by_id or ""), written.other_name or "",
        stamp(entry.happened_at, zone), stamp(entry.entered_at, zone), entry.entered_by, entry.typed, entry.method,
        _thousandths(entry.uncertainty_ul), *_either_way(entry.change_ul), *_either_way(entry.change_mg),
        _thousandths(entry.held_after_ul), _thousandths(entry.held_after_mg),
        names.trays[entry.charge_id] if entry.charge_id else "",
        str(names.batches[entry.batch_id]) if entry.batch_id else "",
        names.bottles[entry.bottle_id] if entry.bottle_id else "",
        names.classes[entry.rotation_id] if entry.rotation_id else "",
        names.receipts.get(entry.id, ""), entry.over_line_reason, entry.note,
    )  # fmt: skip


def _entry_rows(
    session: LabSession, span: Span, container_id: int | None, after: int | None, zone: str
) -> tuple[str, int | None]:
    """A piece of the file of entries, and the last entry in it."""
    written = list_written_down(
        session,
        begins=None if span.first_day is None else day_begins(span.first_day, zone),
        ends=None if span.last_day is None else day_begins(span.last_day + timedelta(days=1), zone),
        container_id=container_id,
        after=after,
        at_most=LINES,
    )
    names = find_names(session, written)
    return write_rows(_row(one, names, zone) for one in written), written[-1].entry.id if written else None


async def entries_file(
    database: Database, lab_id: int, span: Span, *, container_id: int | None, zone: str
) -> AsyncIterator[str]:
    """Every entry of the span, piece by piece. No session waits for the reader: a ledger only grows, so each piece may be read by itself."""
    yield write_head(ENTRIES_HEAD)
    after: int | None = None
    while True:
        async with database.turn(lab_id, writes=False) as session:
            piece, after = await run_sync(partial(_entry_rows, session, span, container_id, after, zone))
        if after is None:
            return
        yield piece


def _life_row(event: ContainerEvent, container: WasteContainer, stream: str, zone: str) -> Sequence[str]:
    return (
        str(event.id), container.name, stream, _thousandths(container.size_ul), _thousandths(container.fill_line_ul),
        "" if container.tare_mg is None else _thousandths(container.tare_mg), container.previous_contents,
        "yes" if container.washed else "no", str(container.reused_from_id or ""), event.state, stamp(event.happened_at, zone),
        event.noted_by, event.note,
    )  # fmt: skip


def _life_rows(session: LabSession, after: int, zone: str) -> tuple[str, int | None]:
    lives = list_lives(session, after=after, at_most=LINES)
    return write_rows(_rows_of_lives(lives, zone)), lives[-1][0].id if lives else None


def _rows_of_lives(
    lives: Sequence[tuple[ContainerEvent, WasteContainer, str]], zone: str
) -> Iterator[Sequence[str]]:
    for event, container, stream in lives:
        yield _life_row(event, container, stream, zone)


async def lives_file(database: Database, lab_id: int, *, zone: str) -> AsyncIterator[str]:
    """What became of every container, piece by piece."""
    yield write_head(LIVES_HEAD)
    after: int | None = 0
    while after is not None:
        async with database.turn(lab_id, writes=False) as session:
            piece, after = await run_sync(partial(_life_rows, session, after, zone))
        yield piece
