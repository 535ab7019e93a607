"""What the pages of balances and weighings show."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from fractions import Fraction

from server.balances.forms import (
    Chosen,
    NewAnswer,
    NewEntry,
    NewFigures,
    NewWeighing,
    NewWeighingAnswer,
    TakenBack,
    Where,
)
from server.balances.models import BalanceFigures, Elsewhere, LiquidGone, WaterDrawn, Weighing
from server.balances.queries import (
    Behind,
    Line,
    Plates,
    Reckoning,
    Span,
    check_of,
    find_first_day,
    find_last_weighing,
    get_figures,
    list_answers,
    list_classes,
    list_gone,
    list_taken_back,
    list_water,
    list_weighings,
    reckon,
    span_of_class,
    span_of_days,
)
from server.containers.models import WasteContainer
from server.containers.queries import get_container, get_stream
from server.core.container_life import GONE
from server.core.evaporation import still_room_rates_ul_per_m2_h
from server.core.mass_balance import Balance, Side
from server.core.moments import clock_at, day_at, day_words, moment_words
from server.core.reconciling import percent_words
from server.core.units import digits, mass_words, plates_words, volume_words
from server.core.weigh_check import Found
from server.data.session import LabSession
from server.people.queries import list_section_names
from server.rotations.queries import get_rotation
from server.web.submitted import Submitted, read

Options = Sequence[tuple[int, str]]
WHAT = (
    ("water", "water drawn into rinse trays"),
    (Elsewhere.SPILLED.value, "spilled, and mopped up"),
    (Elsewhere.SAMPLED.value, "taken as a sample"),
    (Elsewhere.DRAINED.value, "let into a drain that is permitted in writing"),
)
SIDES = (
    (Side.CAME_IN, "What came in"),
    (Side.GONE, "Where it went"),
    (Side.THERE, "What is there still"),
)
# The state of a weighing by its shape, and in a word.
WEIGHED = {
    Found.AGREES: ("well", "agrees"),
    Found.DIFFERS: ("watch", "differs: ask"),
    Found.TOO_FULL: ("stop", "alarm"),
}
# Assumed: what a new scale is read to.
USUAL_STEP_MG = 10_000
# A room for the worked figures beside the lab's own.
ROOM_CELSIUS, ROOM_HUMIDITY_PERCENT = 20, 50


@dataclass(frozen=True)
class BehindLine:
    when: str
    what: str
    amount: str
    by: str
    address: str


@dataclass(frozen=True)
class TermLine:
    """`more` entries are too many to show."""

    name: str
    amount: str
    give_or_take: str
    is_assumed: bool
    why: str
    entries: Sequence[BehindLine]
    more: int


@dataclass(frozen=True)
class SideTable:
    heading: str
    total: str
    lines: Sequence[TermLine]


@dataclass(frozen=True)
class Verdict:
    """The difference, told: `figure` is its size, `state` its shape."""

    figure: str
    difference: str
    words: str
    state: str
    sentence: str
    working: str
    give_or_take: str
    allowed: str


@dataclass(frozen=True)
class EntryRow:
    when: str
    what: str
    amount: str
    by: str


@dataclass(frozen=True)
class AnswerRow:
    when: str
    what: str
    difference: str
    answer: str
    by: str


@dataclass(frozen=True)
class BalanceForms:
    """The forms of the page, with what was typed in them."""

    chosen: Submitted[Chosen] = field(default_factory=Submitted)
    entry: Submitted[NewEntry] = field(default_factory=Submitted)
    taken_back: Submitted[TakenBack] = field(default_factory=Submitted)
    answer: Submitted[NewAnswer] = field(default_factory=Submitted)


@dataclass(frozen=True)
class BalancePage:
    """`of_class` is the class that is balanced, None for days. `seen_ul` is the difference that an answer is to, `seen_at` when it was."""

    title: str
    first: date
    last: date
    of_class: int | None
    day_before: str
    day_after: str
    whole: str
    verdict: Verdict
    sides: Sequence[SideTable]
    notes: Sequence[str]
    plates: Sequence[tuple[str, int]]
    plates_state: str
    plates_words: str
    corrections: Sequence[BehindLine]
    in_containers: Sequence[tuple[str, str]]
    answers: Sequence[AnswerRow]
    seen_ul: int
    seen_at: str
    entries: Sequence[EntryRow]
    may_take_back: Sequence[tuple[str, str]]
    classes: Options
    what: Sequence[tuple[str, str]]
    assumed: bool
    now_clock: str
    entry_day: date
    tablet_id: str
    forms: BalanceForms


@dataclass(frozen=True)
class FiguresPage:
    assumed: bool
    values: BalanceFigures
    carried: str
    evaporated: str
    depth: str
    percent: str
    least: str
    evaporation_why: str
    form: Submitted[NewFigures]


@dataclass(frozen=True)
class WeighingRow:
    """One weighing. `may_answer` where it asks and nobody has answered yet."""

    id: int
    when: str
    by: str
    gross: str
    net: str
    by_weight: str
    ledger: str
    state: str
    judged: str
    sentence: str
    tolerance: str
    answer: str
    may_answer: bool


@dataclass(frozen=True)
class WeighingsPage:
    container_id: int
    name: str
    is_gone: bool
    stream: str
    ledger: str
    density: str
    density_assumed: bool
    tare: str
    step: str
    latest: WeighingRow | None
    weighings: Sequence[WeighingRow]
    form: Submitted[NewWeighing]
    answer_form: Submitted[NewWeighingAnswer]


def _signed(volume_ul: int) -> str:
    return f"+{volume_words(volume_ul)}" if volume_ul > 0 else volume_words(volume_ul)


def _behind(entry: Behind, zone: str) -> BehindLine:
    return BehindLine(
        "" if entry.at is None else moment_words(entry.at, zone),
        entry.what,
        volume_words(entry.amount_ul),
        entry.by,
        entry.address,
    )


def _term_line(line: Line, zone: str) -> TermLine:
    term = line.term
    return TermLine(
        term.name,
        volume_words(term.amount_ul),
        f"± {volume_words(term.uncertainty_ul)}" if term.uncertainty_ul else "",
        term.is_assumed,
        line.why,
        [_behind(entry, zone) for entry in line.entries],
        max(0, line.entries_in_all - len(line.entries)),
    )


def _side(side: Side, heading: str, reckoned: Reckoning, zone: str) -> SideTable:
    lines = [line for line in reckoned.lines if line.term.side is side]
    # Nobody needs to be told that no bottle was thrown away.
    lines = [line for line in lines if line.entries_in_all or not line.is_rare]
    return SideTable(
        heading,
        volume_words(sum(line.term.amount_ul for line in lines)),
        [_term_line(line, zone) for line in lines],
    )


def _verdict(found: Balance) -> Verdict:
    account, difference = found.account, found.difference_ul
    if not (account.came_in or account.gone or account.on_hand):
        state, words = "plain", "nothing was entered"
    elif found.is_asked_about:
        state, words = "watch", "ask"
    else:
        state, words = "well", "adds up within the tolerance"
    way = "came in and has no entry" if difference >= 0 else "went, or is there, more than came in"
    return Verdict(
        figure=volume_words(abs(difference)),
        difference=volume_words(difference),
        words=f"{way}: {percent_words(abs(account.share))} of {volume_words(account.came_in)}",
        state=state,
        sentence=words if state == "plain" else found.sentence,
        working=(
            f"{volume_words(account.came_in)} − {volume_words(account.gone)} − {volume_words(account.on_hand)} = "
            f"{volume_words(difference)}"
        ),
        give_or_take=volume_words(found.uncertainty_ul),
        allowed=volume_words(round(found.allowed_ul)),
    )


def _judge_plates(plates: Plates, *, is_class: bool) -> tuple[str, str]:
    """The shape and the sentence for plates counted three ways."""
    if plates.for_runs != plates.runs:
        return (
            "watch",
            f"{plates_words(plates.runs)} were noted as runs and boxes gave {plates.for_runs}: tell whoever looks after this server.",
        )
    if plates.through != plates.with_developer:
        return (
            "watch",
            f"{plates_words(plates.through)} went through developer and {plates.with_developer} runs name one. Look at the trays and ask.",
        )
    if plates.with_developer < plates.runs:
        return (
            "watch",
            f"{plates.runs - plates.with_developer} of {plates.runs} runs name no developer, so no charge has counted their plates.",
        )
    if not plates.runs:
        return "plain", "No run was noted."
    tests = "" if is_class or not plates.for_tests else f" Tests took {plates.for_tests} more."
    return "well", f"Runs, developer and boxes agree on {plates_words(plates.runs)}.{tests}"


def _plates_rows(plates: Plates, *, is_class: bool) -> Sequence[tuple[str, int]]:
    rows = [
        ("Runs noted", plates.runs),
        ("Runs that name their developer", plates.with_developer),
        ("Plates through developer, by the trays", plates.through),
        ("Plates that boxes gave to runs", plates.for_runs),
    ]
    return rows if is_class else [*rows, ("Plates that boxes gave to tests", plates.for_tests)]


def _entry_rows(
    water: Sequence[WaterDrawn], gone: Sequence[LiquidGone], zone: str
) -> Sequence[tuple[datetime, EntryRow]]:
    rows = [
        (
            one.drawn_at,
            EntryRow(
                moment_words(one.drawn_at, zone),
                f"water, {one.typed}{_note(one.note)}",
                _signed(one.drawn_ul),
                one.entered_by,
            ),
        )
        for one in water
    ]
    rows += [
        (
            one.gone_at,
            EntryRow(
                moment_words(one.gone_at, zone),
                f"{one.went}, {one.typed}{_note(one.note)}",
                _signed(-one.gone_ul),
                one.entered_by,
            ),
        )
        for one in gone
    ]
    return rows


def _note(note: str) -> str:
    return f" ({note})" if note else ""


def _list_may_take_back(
    session: LabSession, water: Sequence[WaterDrawn], gone: Sequence[LiquidGone], zone: str
) -> Sequence[tuple[str, str]]:
    drawn = [one for one in water if one.reverses_id is None]
    went = [one for one in gone if one.reverses_id is None]
    without = (
        list_taken_back(session, WaterDrawn, [one.id for one in drawn]),
        list_taken_back(session, LiquidGone, [one.id for one in went]),
    )
    return [
        (f"water-{one.id}", f"{one.typed} of water, {moment_words(one.drawn_at, zone)}")
        for one in drawn
        if one.id not in without[0]
    ] + [
        (f"gone-{one.id}", f"{one.typed} {one.went}, {moment_words(one.gone_at, zone)}")
        for one in went
        if one.id not in without[1]
    ]


def _class_name(session: LabSession, rotation_id: int) -> str:
    rotation = get_rotation(session, rotation_id)
    return f"{rotation.name}, {list_section_names(session)[rotation.section_id]}"


def _title(session: LabSession, first: date, last: date, rotation_id: int | None) -> str:
    if rotation_id is not None:
        return _class_name(session, rotation_id)
    return day_words(first) if first == last else f"{day_words(first)} to {day_words(last)}"


def _notes(span: Span, zone: str) -> Sequence[str]:
    if span.rotation_id is None:
        return []
    around = f"from {moment_words(span.starts_at, zone)} to {moment_words(span.ends_at, zone)}"
    notes = [
        (
            "A class is its trays: what stood in them, what was poured into them and the water drawn for it. "
            f"What belongs to no class counts where it happened {around}."
        )
    ]
    if span.shares_the_room:
        notes.append(
            "Another class had the room at the same time and may have used the same trays: look at the day's balance too."
        )
    return notes


def _answer_rows(
    session: LabSession, first: date, last: date, rotation_id: int | None, zone: str
) -> Sequence[AnswerRow]:
    return [
        AnswerRow(
            moment_words(one.answered_at, zone),
            _title(session, one.first_day, one.last_day, one.rotation_id),
            volume_words(one.difference_ul),
            one.answer,
            one.answered_by,
        )
        for one in list_answers(session, first, last, rotation_id)
    ]


def _spans_address(first: date, last: date) -> str:
    return f"/waste/balances/days/{first}/{last}"


def _classes(session: LabSession, zone: str) -> Options:
    return [
        (rotation.id, f"{moment_words(starts_at, zone)}: {rotation.name}, {section}")
        for rotation, section, starts_at in list_classes(session)
    ]


def balance_page(
    session: LabSession,
    now: datetime,
    zone: str,
    *,
    first: date | None = None,
    last: date | None = None,
    of_class: int | None = None,
    forms: BalanceForms | None = None,
) -> BalancePage:
    """The balance of some days, of today where none are named, or of a class."""
    today = day_at(now, zone)
    if of_class is not None:
        span = span_of_class(session, of_class)
        first, last = day_at(span.open_at[0][0], zone), day_at(max(ends for _s, ends in span.open_at), zone)
    else:
        first = first or today
        last = max(first, last or first)
        span = span_of_days(session, first, last)
    reckoned = reckon(session, span, now)
    water, gone = list_water(session, span), list_gone(session, span)
    rows = sorted(_entry_rows(water, gone, zone), key=lambda row: row[0], reverse=True)
    state, words = _judge_plates(reckoned.plates, is_class=of_class is not None)
    begun = find_first_day(session)
    return BalancePage(
        title=_title(session, first, last, of_class),
        first=first,
        last=last,
        of_class=of_class,
        day_before=_spans_address(first - timedelta(days=1), first - timedelta(days=1)),
        day_after=_spans_address(last + timedelta(days=1), last + timedelta(days=1)),
        whole="" if begun is None else _spans_address(min(begun, today), today),
        verdict=_verdict(reckoned.balance),
        sides=[_side(side, heading, reckoned, zone) for side, heading in SIDES],
        notes=_notes(span, zone),
        plates=_plates_rows(reckoned.plates, is_class=of_class is not None),
        plates_state=state,
        plates_words=words,
        corrections=[_behind(entry, zone) for entry in reckoned.corrections],
        in_containers=[(kind, _signed(amount)) for kind, amount in reckoned.in_containers],
        answers=_answer_rows(session, first, last, of_class, zone),
        seen_ul=reckoned.balance.difference_ul,
        seen_at=now.isoformat(),
        entries=[row for _at, row in rows],
        may_take_back=_list_may_take_back(session, water, gone, zone),
        classes=_classes(session, zone),
        what=WHAT,
        assumed=get_figures(session).assumed,
        now_clock=clock_at(now, zone),
        entry_day=min(today, last),
        tablet_id=str(uuid.uuid4()),
        forms=forms or BalanceForms(),
    )


def page_of(
    session: LabSession,
    now: datetime,
    zone: str,
    values: Submitted[NewEntry] | Submitted[TakenBack] | Submitted[NewAnswer],
    forms: BalanceForms,
) -> BalancePage:
    """The page on which a form stood that was refused; today's where the form doesn't say."""
    where = read(Where, values.values).clean
    if where is None:
        return balance_page(session, now, zone, forms=forms)
    return balance_page(
        session, now, zone, first=where.first, last=where.last, of_class=where.class_id, forms=forms
    )


def figures_page(session: LabSession, form: Submitted[NewFigures] | None = None) -> FiguresPage:
    figures = get_figures(session)
    lower, upper = still_room_rates_ul_per_m2_h(celsius=ROOM_CELSIUS, humidity_percent=ROOM_HUMIDITY_PERCENT)
    return FiguresPage(
        assumed=figures.assumed,
        values=figures,
        carried=f"{figures.carried_ul_per_m2 / 1000:g}",
        evaporated=f"{figures.evaporated_ul_per_m2_h / 1000:g}",
        depth=f"{figures.tray_depth_um / 1000:g}",
        percent=f"{figures.tolerance_ppm / 10_000:g}",
        least=volume_words(figures.tolerance_ul),
        evaporation_why=(
            f"In still air of {ROOM_CELSIUS} °C and {ROOM_HUMIDITY_PERCENT} % humidity, as warm as the water, two formulas say "
            f"{round(lower / 1000)} and {round(upper / 1000)} mL an hour and square metre: 74 % of 95 (p_w − p_a) ÷ Y, measured over an "
            "undisturbed surface (ASHRAE Transactions 104, 1998), and (25 + 19 v) (x_s − x), a common engineering rule. So it counts give or take half."
        ),
        form=form or Submitted(),
    )


def _weighing_row(weighing: Weighing, container: WasteContainer, zone: str) -> WeighingRow:
    found = check_of(weighing, container)
    state, judged = WEIGHED[found.found]
    tolerance = found.tolerance
    return WeighingRow(
        id=weighing.id,
        when=moment_words(weighing.weighed_at, zone),
        by=weighing.weighed_by,
        gross=mass_words(weighing.gross_mg),
        net=mass_words(found.net_mg),
        by_weight=volume_words(round(found.volume_ul)),
        ledger=volume_words(weighing.ledger_ul),
        state=state,
        judged=judged,
        sentence=found.sentence,
        tolerance=(
            f"Entries of its ledger may be off by {volume_words(tolerance.entries_ul)}, a scale read to {mass_words(weighing.step_mg)} by "
            f"{volume_words(round(tolerance.scale_ul))}, the {'assumed' if weighing.density_assumed else 'measured'} density by "
            f"{volume_words(round(tolerance.density_ul))}; as errors independent of each other they make {volume_words(tolerance.all_ul)}, "
            "the root of the sum of their squares."
        ),
        answer=weighing.answer,
        may_answer=found.found is not Found.AGREES and not weighing.answer,
    )


def weighings_page(
    session: LabSession,
    container_id: int,
    zone: str,
    *,
    form: Submitted[NewWeighing] | None = None,
    answer_form: Submitted[NewWeighingAnswer] | None = None,
) -> WeighingsPage:
    """A container's weighings, the latest first, and the form for the next."""
    container = get_container(session, container_id)
    stream = get_stream(session, container.stream_id)
    rows = [_weighing_row(one, container, zone) for one in list_weighings(session, container_id)]
    last = find_last_weighing(session)
    return WeighingsPage(
        container_id=container.id,
        name=container.name,
        is_gone=container.state in GONE,
        stream=stream.name,
        ledger=volume_words(container.held_ul),
        density=digits(Fraction(stream.density_ug_per_ul, 1000)),
        density_assumed=stream.density_assumed,
        tare="" if container.tare_mg is None else mass_words(container.tare_mg),
        step=mass_words(USUAL_STEP_MG if last is None else last.step_mg),
        latest=rows[0] if rows else None,
        weighings=rows,
        form=form or Submitted(),
        answer_form=answer_form or Submitted(),
    )
