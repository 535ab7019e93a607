"""What the pages of hand-overs and of their records show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction

from server.containers.pages import started_words
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.table_file import write_table
from server.core.units import celsius_words, mass_words, ph_words, plain, volume_words
from server.core.waste_rules.rule import Key
from server.data.session import LabSession
from server.handovers.forms import HandedLine, HandOver, Missed, Span, TakenBack
from server.pickups.models import Pickup
from server.pickups.pages import PickupState, became_words, stands_words
from server.pickups.queries import (
    Listed,
    get_pickup,
    list_listed,
    list_pickups_between,
    list_waiting,
)
from server.rules.queries import find_rules
from server.web.submitted import Submitted

ON_SHEET = [("", "say which"), ("taken", "taken"), ("left", "left here")]
NOT_ON_SHEET = [("", "stays here"), ("taken", "taken too")]
# Three years are what most rules ask; a day more shows the first of them whole.
_YEARS_SHOWN = 3
_UL_PER_LITRE = _MG_PER_KG = 1_000_000


@dataclass(frozen=True)
class HandLine:
    """A container that may go: on the sheet or not, with what can be said of it."""

    number: int
    id: int
    name: str
    words: str
    is_listed: bool
    options: Sequence[tuple[str, str]]
    form: Submitted[HandedLine]


@dataclass(frozen=True)
class HandOverPage:
    id: int
    day: str
    stands: PickupState
    is_over: bool
    is_done: bool
    may_be_missed: bool
    lines: Sequence[HandLine]
    today: date
    clock: str
    form: Submitted[HandOver]
    missed_form: Submitted[Missed]
    taken_back_form: Submitted[TakenBack]


@dataclass(frozen=True)
class RecordRow:
    """One container of one pickup; a pickup without containers is one row."""

    pickup_id: int
    day: str
    stands: PickupState
    receipt: str
    container: str
    contents: str
    quantity: str
    became: PickupState | None


@dataclass(frozen=True)
class RecordsPage:
    form: Submitted[Span]
    first: date
    last: date
    first_words: str
    last_words: str
    rows: Sequence[RecordRow]
    taken: str
    how_long: str
    how_long_says: str
    how_long_source: str


def judged_lines(
    session: LabSession, pickup_id: int, lines: Sequence[Submitted[HandedLine]]
) -> Sequence[Submitted[HandedLine]]:
    """The lines, with a question beside each container of the sheet of which nothing was said, or not why it was left."""
    listed = {one.container.id for one in list_listed(session, [pickup_id])}
    return [_judged(line, listed) for line in lines]


def _judged(line: Submitted[HandedLine], listed: set[int]) -> Submitted[HandedLine]:
    said = line.clean
    if said is None or said.container_id not in listed:
        return line
    if not said.outcome:
        return line.refused("outcome", "Say whether it was taken or left.")
    if said.outcome == "left" and not said.left_reason:
        return line.refused("left_reason", "Write why it was left.")
    return line


def hand_over_page(
    session: LabSession,
    pickup_id: int,
    *,
    now: datetime,
    zone: str,
    form: Submitted[HandOver] | None = None,
    typed: Sequence[Submitted[HandedLine]] = (),
    missed_form: Submitted[Missed] | None = None,
    taken_back_form: Submitted[TakenBack] | None = None,
) -> HandOverPage:
    """What the collector takes and what stays; or, where something was handed over, how that is taken back."""
    pickup = get_pickup(session, pickup_id)
    forms = {str(one.value("container_id")): one for one in typed}
    return HandOverPage(
        id=pickup.id,
        day=day_words(pickup.on_day),
        stands=stands_words(pickup, now=now, zone=zone),
        is_over=pickup.is_over,
        is_done=pickup.done_at is not None,
        may_be_missed=not pickup.is_over and day_at(now, zone) >= pickup.on_day,
        lines=[] if pickup.is_over else _hand_lines(session, pickup, forms),
        today=day_at(now, zone),
        clock=clock_at(now, zone),
        form=form or Submitted(),
        missed_form=missed_form or Submitted(),
        taken_back_form=taken_back_form or Submitted(),
    )


def _hand_lines(
    session: LabSession, pickup: Pickup, forms: dict[str, Submitted[HandedLine]]
) -> Sequence[HandLine]:
    listed = list_listed(session, [pickup.id])
    on_sheet = {one.container.id for one in listed}
    lines = [
        (
            one.container.id,
            one.container.name,
            f"{one.stream.name}, {volume_words(one.quantity.volume_ul)}",
            True,
        )
        for one in listed
    ]
    lines += [
        (container.id, container.name, f"{stream.name}, {volume_words(container.held_ul)}", False)
        for container, stream in list_waiting(session)
        if container.id not in on_sheet
    ]
    return [
        HandLine(
            number, one, name, words, is_listed, ON_SHEET if is_listed else NOT_ON_SHEET, forms.get(str(one), Submitted())
        )
        for number, (one, name, words, is_listed) in enumerate(lines, start=1)
    ]  # fmt: skip


def usual_span(now: datetime, zone: str) -> tuple[date, date]:
    """Today and the three years before it."""
    today = day_at(now, zone)
    leap = today.month == 2 and today.day == 29  # noqa: PLR2004 - the day that most years lack
    return today.replace(year=today.year - _YEARS_SHOWN, day=28 if leap else today.day), today


def _records(session: LabSession, first: date, last: date) -> Sequence[tuple[Pickup, Sequence[Listed]]]:
    pickups = list_pickups_between(session, first, last)
    listed: dict[int, list[Listed]] = {pickup.id: [] for pickup in pickups}
    for one in list_listed(session, list(listed)):
        listed[one.pickup.id].append(one)
    return [(pickup, listed[pickup.id]) for pickup in pickups]


def _record_row(pickup: Pickup, one: Listed | None, *, now: datetime, zone: str) -> RecordRow:
    quantity = None if one is None else one.quantity
    return RecordRow(
        pickup.id,
        day_words(pickup.on_day),
        stands_words(pickup, now=now, zone=zone),
        "; ".join(text for text in (pickup.receipt, "" if one is None else one.line.receipt) if text),
        "" if one is None else one.container.name,
        "" if one is None else one.line.contents or one.stream.name,
        "" if quantity is None else f"{volume_words(quantity.volume_ul)}, {mass_words(quantity.net_mg)}",
        None if one is None else became_words(one),
    )


def records_page(session: LabSession, span: Submitted[Span], *, now: datetime, zone: str) -> RecordsPage:
    """Every pickup of a span of days, the latest first. Nothing here is ever taken away."""
    first, last = usual_span(now, zone) if span.clean is None else span.clean.days
    records = _records(session, first, last)
    taken = [one.quantity for _pickup, listed in records for one in listed if one.is_taken]
    rule = find_rules(session, day_at(now, zone)).book.find(Key.RECORD_YEARS)
    return RecordsPage(
        form=span,
        first=first,
        last=last,
        first_words=day_words(first),
        last_words=day_words(last),
        rows=[
            _record_row(pickup, one, now=now, zone=zone)
            for pickup, listed in reversed(records)
            for one in (*listed, *([] if listed else [None]))
        ],
        taken=(
            f"{len(taken)} {'container' if len(taken) == 1 else 'containers'} with {volume_words(sum(one.volume_ul for one in taken))}, "
            f"{mass_words(sum(one.net_mg for one in taken))} net"
        ),
        how_long=rule.words if rule.amount is not None else "",
        how_long_says=rule.says,
        how_long_source=f"{rule.edition}; {rule.source}",
    )


_HEAD = (
    "Pickup",
    "State",
    "Request cut-off",
    "Requested",
    "Requested by",
    "Handed over",
    "Collected by",
    "Receipt of the pickup",
    "Said when missed",
    "Container",
    "Stream",
    "Contents",
    "Composition",
    "Physical state",
    "pH",
    "Measured at",
    "Kind of container",
    "Size in L",
    "Start date",
    "Full since",
    "Quantity in L",
    "Net in kg",
    "Tare in kg",
    "How measured",
    "Became",
    "Receipt of the container",
    "Ledger entry",
    "On the sheet since",
    "Put there by",
)


def _litres(volume_ul: int) -> str:
    return plain(Fraction(volume_ul, _UL_PER_LITRE))


def _kilograms(mass_mg: int | None) -> str:
    return "" if mass_mg is None else plain(Fraction(mass_mg, _MG_PER_KG))


def _moment(instant: datetime | None, zone: str) -> str:
    return "" if instant is None else moment_words(instant, zone)


def _pickup_cells(pickup: Pickup, *, now: datetime, zone: str) -> Sequence[str]:
    return (
        str(pickup.on_day),
        stands_words(pickup, now=now, zone=zone).words,
        moment_words(pickup.request_by, zone),
        _moment(pickup.requested_at, zone),
        pickup.requested_by,
        _moment(pickup.done_at, zone),
        pickup.collected_by,
        pickup.receipt,
        pickup.said,
    )


def _line_cells(one: Listed, zone: str) -> Sequence[str]:
    line, container, quantity = one.line, one.container, one.quantity
    return (
        container.name,
        one.stream.name,
        line.contents,
        "; ".join(line.composition.splitlines()),
        line.physical_state,
        "" if line.ph_hundredths is None else ph_words(line.ph_hundredths).removeprefix("pH "),
        "" if line.temperature_decicelsius is None else celsius_words(line.temperature_decicelsius),
        line.vessel,
        _litres(container.size_ul),
        started_words(container, zone),
        "" if container.full_at is None else day_words(day_at(container.full_at, zone)),
        _litres(quantity.volume_ul),
        _kilograms(quantity.net_mg),
        _kilograms(quantity.tare_mg),
        quantity.how,
        became_words(one).words,
        line.receipt,
        "" if line.entry_id is None else str(line.entry_id),
        _moment(line.listed_at, zone),
        line.listed_by,
    )


def records_file(session: LabSession, first: date, last: date, *, now: datetime, zone: str) -> str:
    """Every pickup of a span with its containers as a table of comma-separated values, one line a container."""
    rows = []
    for pickup, listed in _records(session, first, last):
        head = _pickup_cells(pickup, now=now, zone=zone)
        blank = [""] * (len(_HEAD) - len(head))
        rows += [[*head, *(_line_cells(one, zone))] for one in listed] or [[*head, *blank]]
    return write_table(_HEAD, rows)
