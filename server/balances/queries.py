"""Reads of what came in, went and is there still, with the entries behind each line; of weighings; and of the lab's own figures."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Any

from sqlalchemy import ColumnElement, true
from sqlalchemy.orm import aliased
from sqlmodel import and_, case, col, func, or_, select

from server.balances.models import BalanceAnswer, BalanceFigures, LiquidGone, WaterDrawn, Weighing
from server.charges.models import Charge, PlateThrough
from server.chemistry.models import Batch, BatchEntry, BatchEntryKind
from server.containers.models import Source, WasteContainer, WasteEntry, WasteEntryKind
from server.containers.queries import get_stream, is_standing
from server.core.container_life import IN_USE
from server.core.evaporation import UNCERTAINTY, evaporated_ul
from server.core.mass_balance import Balance, Side, Term, balance, carried_out_ul
from server.core.moments import day_at, day_begins, moment_words
from server.core.recipe import Measure
from server.core.units import volume_words
from server.core.weigh_check import Found, WeighCheck, weigh
from server.core.working_solution import plate_area_mm2
from server.data.session import LabSession
from server.kits.models import Bottle, BottleEntry, BottleEntryKind, Kit
from server.people.queries import get_lab, list_section_names
from server.plates.models import PlateEntry, PlateEntryKind
from server.plates.queries import list_plate_boxes, list_plates_used
from server.recipes.models import Solution
from server.refusal import NotFound
from server.rotations.models import Period, Rotation, RotationState
from server.rotations.queries import get_published, list_periods, list_starts
from server.runs.models import Run
from server.stations.models import Place

# More lines than anybody reads on a page; a shorter span shows the others.
MOST_ENTRIES = 100
# Assumed: trays are filled at the earliest so long before a class and emptied at the latest so long after it.
AROUND_A_CLASS = timedelta(hours=1)
# Classes to choose from.
LAST_CLASSES = 30


@dataclass(frozen=True)
class Span:
    """From `starts_at` on and before `ends_at`.

    A class has its `rotation_id`: of what belongs to any class only its own counts, of what belongs to none what happened within. Its
    trays stand open while it has the room, the `open_at`; on other days they are taken to stand open from the first entry to the last.
    `shares_the_room` where another class was there at the same time.
    """

    starts_at: datetime
    ends_at: datetime
    rotation_id: int | None = None
    open_at: Sequence[tuple[datetime, datetime]] = ()
    shares_the_room: bool = False


@dataclass(frozen=True)
class Behind:
    """An entry behind a line; `at` is None for what stands there."""

    what: str
    amount_ul: int
    at: datetime | None = None
    by: str = ""
    address: str = ""


@dataclass(frozen=True)
class Line:
    """A term of a balance, how it is known, and the last entries behind it, of `entries_in_all`. Most balances do without one `is_rare`."""

    term: Term
    why: str
    entries: Sequence[Behind] = ()
    entries_in_all: int = 0
    is_rare: bool = False


@dataclass(frozen=True)
class Plates:
    """Plates by three ways of counting: runs filed, those among them that name their developer, plates that went through a charge, and
    what boxes gave to runs and to tests.
    """

    runs: int
    with_developer: int
    through: int
    for_runs: int
    for_tests: int


@dataclass(frozen=True)
class Reckoning:
    """A balance with its lines, and what stands beside it without being part of it."""

    balance: Balance
    lines: Sequence[Line]
    plates: Plates
    corrections: Sequence[Behind] = ()
    in_containers: Sequence[tuple[str, int]] = ()


def get_figures(session: LabSession) -> BalanceFigures:
    """The lab's own figures, or the assumed ones (not saved) until it has set them."""
    return session.exec(select(BalanceFigures)).first() or BalanceFigures()


def tolerance_share(figures: BalanceFigures) -> Fraction:
    return Fraction(figures.tolerance_ppm, 1_000_000)


# Spans.


def span_of_days(session: LabSession, first: date, last: date) -> Span:
    """From the beginning of the first day to the end of the last, on the lab's wall clock."""
    zone = get_lab(session).time_zone
    return Span(day_begins(first, zone), day_begins(last + timedelta(days=1), zone))


def list_class_times(
    session: LabSession, *, after: datetime, before: datetime, without: int | None = None
) -> Sequence[tuple[datetime, datetime]]:
    """When published classes have the room, where that ends after `after` and starts before `before`, by start."""
    periods = (
        select(Period.starts_at, Period.ends_at)
        .join(Rotation, col(Rotation.id) == col(Period.rotation_id))
        .where(
            Rotation.state == RotationState.PUBLISHED,
            col(Period.ends_at) > after,
            col(Period.starts_at) < before,
        )
        .order_by(col(Period.starts_at), col(Period.ends_at))
    )
    if without is not None:
        periods = periods.where(Period.rotation_id != without)
    return [(starts_at, ends_at) for starts_at, ends_at in session.exec(periods).all()]


def span_of_class(session: LabSession, rotation_id: int) -> Span:
    """From an hour before a published class to an hour after it, or to where another one has the room.

    What was poured for it earlier or later still belongs to it and widens the span.
    """
    get_published(session, rotation_id)
    own = [(period.starts_at, period.ends_at) for period in list_periods(session, rotation_id)]
    first, last = own[0][0], max(ends_at for _starts_at, ends_at in own)
    around = list_class_times(
        session, after=first - AROUND_A_CLASS, before=last + AROUND_A_CLASS, without=rotation_id
    )
    starts_at = max([first - AROUND_A_CLASS, *(ends for _starts, ends in around if ends <= first)])
    ends_at = min([last + AROUND_A_CLASS, *(starts for starts, _ends in around if starts >= last)])
    earliest, latest = session.exec(
        select(
            func.min(WasteEntry.happened_at, type_=WasteEntry.happened_at.type),  # type: ignore[attr-defined]
            func.max(WasteEntry.happened_at, type_=WasteEntry.happened_at.type),  # type: ignore[attr-defined]
        ).where(WasteEntry.rotation_id == rotation_id, WasteEntry.kind == WasteEntryKind.POUR, is_standing())
    ).one()
    return Span(
        min(starts_at, earliest or starts_at),
        max(ends_at, starts_at if latest is None else latest + timedelta(microseconds=1)),
        rotation_id,
        own,
        shares_the_room=any(starts < last and ends > first for starts, ends in around),
    )


def list_classes(session: LabSession) -> Sequence[tuple[Rotation, str, datetime]]:
    """Published rotations with the name of their section and their start, the latest first."""
    starts, sections = list_starts(session), list_section_names(session)
    published = session.exec(select(Rotation).where(Rotation.state == RotationState.PUBLISHED)).all()
    found = [
        (rotation, sections[rotation.section_id], starts[rotation.id])
        for rotation in published
        if rotation.id in starts
    ]
    return sorted(found, key=lambda one: one[2], reverse=True)[:LAST_CLASSES]


def find_first_day(session: LabSession) -> date | None:
    """The day of the first mixing, water or pour; None before anything was entered."""
    zone = get_lab(session).time_zone
    columns: tuple[Any, ...] = (Batch.mixed_at, WaterDrawn.drawn_at, WasteEntry.happened_at)
    firsts = [session.exec(select(func.min(column, type_=column.type))).one() for column in columns]
    return min((day_at(first, zone) for first in firsts if first is not None), default=None)


def _within(span: Span, at: Any) -> ColumnElement[bool]:
    return and_(at >= span.starts_at, at < span.ends_at)


def _belongs(span: Span, rotation_id: Any, at: Any) -> ColumnElement[bool]:
    if span.rotation_id is None:
        return _within(span, at)
    return or_(rotation_id == span.rotation_id, and_(rotation_id.is_(None), _within(span, at)))


# Lines.


def _by_reading(amount_ul: int, figures: BalanceFigures) -> int:
    """How far a volume may be off that nobody gave an uncertainty."""
    return round(abs(amount_ul) * tolerance_share(figures))


def _left_at(session: LabSession, moment: datetime) -> Sequence[Behind]:
    """What stood in each batch's bottle at a moment. A batch is there from its mixing on, and so is what was drawn for it."""
    every = session.exec(select(Batch).order_by(col(Batch.number))).all()
    mixed_by = {batch.number for batch in every if batch.mixed_at < moment}
    left = {batch.id: batch.volume_ul for batch in every if batch.number in mixed_by}
    beside_mixing = (BatchEntryKind.MIXED, BatchEntryKind.DRAWN)
    changes = session.exec(
        select(BatchEntry.batch_id, func.sum(BatchEntry.change_ul))
        .where(col(BatchEntry.kind).not_in(beside_mixing), col(BatchEntry.entered_at) < moment)
        .group_by(col(BatchEntry.batch_id))
    ).all()
    drawn = session.exec(
        select(BatchEntry.batch_id, BatchEntry.into_batch_number, func.sum(BatchEntry.change_ul))
        .where(BatchEntry.kind == BatchEntryKind.DRAWN)
        .group_by(col(BatchEntry.batch_id), col(BatchEntry.into_batch_number))
    ).all()
    for batch_id, amount in [*changes, *_discarded_otherwise(session, moment)]:
        left[batch_id] = left.get(batch_id, 0) + int(amount)
    for batch_id, into, amount in drawn:
        if into in mixed_by:
            left[batch_id] = left.get(batch_id, 0) + int(amount)
    return [
        Behind(
            f"batch {batch.number}, {batch.name}", left[batch.id], address=f"/chemistry/batches/{batch.id}"
        )
        for batch in every
        if left.get(batch.id)
    ]


def _discarded_otherwise(session: LabSession, moment: datetime) -> Sequence[tuple[int, int]]:
    """What makes batches' ledgers at a moment as if each rest had gone when it was poured, and none whose pour was reversed."""
    reversal = aliased(WasteEntry)
    rows = session.exec(
        select(WasteEntry.batch_id, WasteEntry.discarded_ul, reversal.id)
        .outerjoin(reversal, col(reversal.reverses_id) == col(WasteEntry.id))
        .where(
            col(WasteEntry.discarded_ul) > 0,
            or_(
                and_(
                    col(reversal.id).is_(None),
                    col(WasteEntry.happened_at) < moment,
                    col(WasteEntry.entered_at) >= moment,
                ),
                and_(col(WasteEntry.entered_at) < moment, col(reversal.entered_at) >= moment),
            ),
        )
    ).all()
    return [
        (batch_id, -(discarded_ul or 0) if reversal_id is None else (discarded_ul or 0))
        for batch_id, discarded_ul, reversal_id in rows
        if batch_id is not None
    ]


def _is_of_this_class(span: Span) -> ColumnElement[bool]:
    """Whether a charge counts: for a class, one that another class's pour emptied meanwhile is left to that class."""
    if span.rotation_id is None:
        return true()
    another_s = select(WasteEntry.charge_id).where(
        col(WasteEntry.charge_id).is_not(None),
        col(WasteEntry.rotation_id) != span.rotation_id,
        is_standing(),
    )
    return or_(
        col(Charge.emptied_at).is_(None),
        col(Charge.emptied_at) >= span.ends_at,
        col(Charge.id).not_in(another_s),
    )


def _in_trays_at(session: LabSession, moment: datetime, span: Span) -> Sequence[Behind]:
    """What stood in each tray at a moment: everything poured into its charge by then.

    A pour that was written down late emptied its tray when it happened, not when it was entered.
    """
    emptied = select(WasteEntry.charge_id).where(
        col(WasteEntry.charge_id).is_not(None),
        WasteEntry.kind == WasteEntryKind.POUR,
        col(WasteEntry.happened_at) < moment,
        is_standing(),
    )
    rows = session.exec(
        select(Charge.id, Charge.solution, Place.name, func.sum(BatchEntry.change_ul))
        .join(BatchEntry, col(BatchEntry.charge_id) == col(Charge.id))
        .join(Place, col(Place.id) == col(Charge.place_id))
        .where(
            col(BatchEntry.entered_at) < moment,
            or_(col(Charge.emptied_at).is_(None), col(Charge.emptied_at) >= moment),
            col(Charge.id).not_in(emptied),
            _is_of_this_class(span),
        )
        .group_by(col(Charge.id), col(Charge.solution), col(Place.name))
        .order_by(col(Charge.id))
    ).all()
    return [
        Behind(f"{solution} in {tray}", -int(amount), address=f"/charges/{charge_id}")
        for charge_id, solution, tray, amount in rows
    ]


def _standing_line(
    name: str, side: Side, why: str, entries: Sequence[Behind], *, is_rare: bool = False
) -> Line:
    return Line(
        Term(name, side, sum(entry.amount_ul for entry in entries)),
        why,
        entries[:MOST_ENTRIES],
        len(entries),
        is_rare,
    )


def _mixed(session: LabSession, span: Span, figures: BalanceFigures) -> Line:
    within = _within(span, col(Batch.mixed_at))
    mixed_ul, count = session.exec(select(func.sum(Batch.volume_ul), func.count()).where(within)).one()
    drawn = session.exec(
        select(BatchEntry.into_batch_number, func.sum(BatchEntry.change_ul))
        .where(
            BatchEntry.kind == BatchEntryKind.DRAWN,
            col(BatchEntry.into_batch_number).in_(select(Batch.number).where(within)),
        )
        .group_by(col(BatchEntry.into_batch_number))
    ).all()
    of_batches = {number: -int(amount) for number, amount in drawn if number is not None}
    last = session.exec(
        select(Batch).where(within).order_by(col(Batch.number).desc()).limit(MOST_ENTRIES)
    ).all()
    amount = int(mixed_ul or 0) - sum(of_batches.values())
    return Line(
        Term("Mixed", Side.CAME_IN, amount, _by_reading(amount, figures)),
        "Volume of each batch, less what other batches gave for it, by its time of mixing.",
        [
            Behind(
                f"batch {batch.number}, {batch.name}{_less(of_batches.get(batch.number, 0))}",
                batch.volume_ul - of_batches.get(batch.number, 0),
                batch.mixed_at,
                batch.mixed_by,
                f"/chemistry/batches/{batch.id}",
            )
            for batch in last
        ],
        count,
    )


def _less(of_batches_ul: int) -> str:
    return f", {volume_words(of_batches_ul)} more of it from other batches" if of_batches_ul else ""


def _of_bottles(session: LabSession, span: Span) -> Line:
    """What went with a pour counts when it was poured, and not at all where the pour was reversed."""
    kit_of = col(Kit.id) == col(Bottle.kit_id)
    poured = session.exec(
        select(WasteEntry, Bottle, Kit)
        .join(Bottle, col(Bottle.id) == col(WasteEntry.bottle_id))
        .join(Kit, kit_of)
        .where(_within(span, col(WasteEntry.happened_at)), col(WasteEntry.discarded_ul) > 0, is_standing())
    ).all()
    # A pour and what it discards are written down at one moment.
    with_a_pour = (
        select(WasteEntry.id)
        .where(
            col(WasteEntry.bottle_id) == col(BottleEntry.bottle_id),
            col(WasteEntry.entered_at) == col(BottleEntry.entered_at),
        )
        .exists()
    )
    alone = session.exec(
        select(BottleEntry, Bottle, Kit)
        .join(Bottle, col(Bottle.id) == col(BottleEntry.bottle_id))
        .join(Kit, kit_of)
        .where(
            BottleEntry.kind == BottleEntryKind.DISCARDED,
            Bottle.measure == Measure.VOLUME,
            _within(span, col(BottleEntry.entered_at)),
            ~with_a_pour,
        )
    ).all()
    found = [
        (bottle, kit, entry.discarded_ul or 0, entry.happened_at, entry.entered_by)
        for entry, bottle, kit in poured
    ]
    found += [
        (bottle, kit, -entry.change, entry.entered_at, entry.entered_by) for entry, bottle, kit in alone
    ]
    return _standing_line(
        "Rests of bottles, discarded",
        Side.CAME_IN,
        "Solutions of kits that went from their bottle into the waste, by their bottle's ledger.",
        [
            Behind(f"{bottle.substance} of kit “{kit.name}”", amount, at, by, f"/stock/kits/{kit.id}")
            for bottle, kit, amount, at, by in sorted(found, key=lambda one: one[3], reverse=True)
        ],
        is_rare=True,
    )


def _poured_into_trays(session: LabSession, span: Span) -> Line:
    rows = session.exec(
        select(BatchEntry, Batch, Charge, Place)
        .join(Batch, col(Batch.id) == col(BatchEntry.batch_id))
        .join(Charge, col(Charge.id) == col(BatchEntry.charge_id))
        .join(Place, col(Place.id) == col(Charge.place_id))
        .where(_within(span, col(BatchEntry.entered_at)), _is_of_this_class(span))
        .order_by(col(BatchEntry.id).desc())
    ).all()
    return _standing_line(
        "Poured into trays",
        Side.CAME_IN,
        "What was poured from batches into the trays meanwhile.",
        [
            Behind(
                f"{charge.solution} of batch {batch.number} into {tray.name}",
                -entry.change_ul,
                entry.entered_at,
                entry.entered_by,
                f"/charges/{charge.id}",
            )
            for entry, batch, charge, tray in rows
        ],
    )


def list_water(session: LabSession, span: Span, *, at_most: int = MOST_ENTRIES) -> Sequence[WaterDrawn]:
    """Water drawn in a span, the latest first, with what took some of it back."""
    return session.exec(
        select(WaterDrawn)
        .where(_belongs(span, col(WaterDrawn.rotation_id), col(WaterDrawn.drawn_at)))
        .order_by(col(WaterDrawn.drawn_at).desc(), col(WaterDrawn.id).desc())
        .limit(at_most)
    ).all()


def _water(session: LabSession, span: Span, figures: BalanceFigures) -> Line:
    drawn_ul, count = session.exec(
        select(func.sum(WaterDrawn.drawn_ul), func.count()).where(
            _belongs(span, col(WaterDrawn.rotation_id), col(WaterDrawn.drawn_at))
        )
    ).one()
    amount = int(drawn_ul or 0)
    return Line(
        Term("Rinse water drawn", Side.CAME_IN, amount, _by_reading(amount, figures)),
        "As logged below; what stands in a rinse tray counts as drawn until it is poured away.",
        [
            Behind(_typed_words(water.typed, water.note), water.drawn_ul, water.drawn_at, water.entered_by)
            for water in list_water(session, span)
        ],
        count,
    )


def _typed_words(typed: str, note: str) -> str:
    return f"{typed} ({note})" if note else typed


def _is_ours(span: Span) -> ColumnElement[bool]:
    """Whether a pour came out of the trays and bottles that are balanced. Other waste came from elsewhere; a class is its trays."""
    if span.rotation_id is not None:
        return and_(
            or_(WasteEntry.source != Source.OTHER, col(WasteEntry.charge_id).is_not(None)),
            col(WasteEntry.batch_id).is_(None),
            col(WasteEntry.bottle_id).is_(None),
        )
    return or_(
        WasteEntry.source != Source.OTHER,
        col(WasteEntry.charge_id).is_not(None),
        col(WasteEntry.batch_id).is_not(None),
        col(WasteEntry.bottle_id).is_not(None),
    )


def _poured(session: LabSession, span: Span, figures: BalanceFigures) -> Sequence[Line]:
    wanted = (
        WasteEntry.kind == WasteEntryKind.POUR,
        _belongs(span, col(WasteEntry.rotation_id), col(WasteEntry.happened_at)),
        _is_ours(span),
        is_standing(),
    )
    unstated = case((WasteEntry.uncertainty_ul == 0, col(WasteEntry.change_ul)), else_=0)
    sums = session.exec(
        select(
            WasteContainer.stream_id,
            func.sum(WasteEntry.change_ul),
            func.sum(WasteEntry.uncertainty_ul),
            func.sum(unstated),
        )
        .join(WasteEntry, col(WasteEntry.container_id) == col(WasteContainer.id))
        .where(*wanted)
        .group_by(col(WasteContainer.stream_id))
        .order_by(col(WasteContainer.stream_id))
    ).all()
    lines = []
    for stream_id, amount, stated, unstated_ul in sums:
        into_it = (*wanted, WasteContainer.stream_id == stream_id)
        last = session.exec(
            select(WasteEntry, WasteContainer)
            .join(WasteContainer, col(WasteContainer.id) == col(WasteEntry.container_id))
            .where(*into_it)
            .order_by(col(WasteEntry.happened_at).desc(), col(WasteEntry.id).desc())
            .limit(MOST_ENTRIES)
        ).all()
        count = session.exec(
            select(func.count())
            .select_from(WasteEntry)
            .join(WasteContainer, col(WasteContainer.id) == col(WasteEntry.container_id))
            .where(*into_it)
        ).one()
        lines.append(
            Line(
                Term(
                    f"Poured into {get_stream(session, stream_id).name}",
                    Side.GONE,
                    int(amount),
                    int(stated) + _by_reading(int(unstated_ul), figures),
                ),
                "Pours of the waste ledger that nobody reversed, each with its own uncertainty where it was entered with one.",
                [
                    Behind(
                        f"{entry.typed} of {entry.source} into “{container.name}”",
                        entry.change_ul,
                        entry.happened_at,
                        entry.entered_by,
                        f"/waste/containers/{container.id}",
                    )
                    for entry, container in last
                ],
                count,
            )
        )
    return lines


def list_gone(session: LabSession, span: Span, *, at_most: int = MOST_ENTRIES) -> Sequence[LiquidGone]:
    """What went elsewhere in a span, the latest first, with what took some of it back."""
    return session.exec(
        select(LiquidGone)
        .where(_belongs(span, col(LiquidGone.rotation_id), col(LiquidGone.gone_at)))
        .order_by(col(LiquidGone.gone_at).desc(), col(LiquidGone.id).desc())
        .limit(at_most)
    ).all()


def _elsewhere(session: LabSession, span: Span, figures: BalanceFigures) -> Sequence[Line]:
    wanted = _belongs(span, col(LiquidGone.rotation_id), col(LiquidGone.gone_at))
    sums = session.exec(
        select(LiquidGone.went, func.sum(LiquidGone.gone_ul), func.count())
        .where(wanted)
        .group_by(col(LiquidGone.went))
        .order_by(col(LiquidGone.went))
    ).all()
    found = list_gone(session, span)
    return [
        Line(
            Term(went.capitalize(), Side.GONE, int(amount), _by_reading(int(amount), figures)),
            "As logged below.",
            [
                Behind(_typed_words(gone.typed, gone.note), gone.gone_ul, gone.gone_at, gone.entered_by)
                for gone in found
                if gone.went == went
            ],
            count,
        )
        for went, amount, count in sums
    ]


def _plates_by_box(session: LabSession, span: Span) -> dict[int, int]:
    """Plates that went through the trays, by the id of their box: a class's runs, or all that runs and tests took."""
    if span.rotation_id is None:
        return list_plates_used(session, after=span.starts_at, before=span.ends_at)
    rows = session.exec(
        select(Run.plate_box_id, func.count())
        .where(Run.rotation_id == span.rotation_id)
        .group_by(col(Run.plate_box_id))
    ).all()
    return dict(rows)


def _carried_out(session: LabSession, span: Span, figures: BalanceFigures) -> Line:
    used = _plates_by_box(session, span)
    entries = [
        Behind(
            f"{used[box.id]} of “{box.name}”",
            carried_out_ul(
                plates=used[box.id],
                plate_area_mm2=plate_area_mm2(width_um=box.width_um, height_um=box.height_um),
                rate_ul_per_m2=figures.carried_ul_per_m2,
            ),
            address=f"/stock/plate-boxes/{box.id}",
        )
        for box in list_plate_boxes(session)
        if box.id in used
    ]
    amount = sum(entry.amount_ul for entry in entries)
    return Line(
        Term("Carried out on plates", Side.GONE, amount, round(UNCERTAINTY * amount), is_assumed=True),
        f"Plates for runs and tests × both faces × {figures.carried_ul_per_m2 / 1000:g} mL/m², give or take half"
        f"{', assumed' if figures.assumed else ', set by the lab'}.",
        entries,
        len(entries),
    )


def _open_by_day(
    session: LabSession, span: Span, charges: Sequence[Charge], water: Sequence[WaterDrawn]
) -> Sequence[tuple[datetime, datetime]]:
    """For each day the time from the first to the last that is known of its trays and classes."""
    zone = get_lab(session).time_zone
    moments = [charge.poured_at for charge in charges]
    moments += [charge.emptied_at for charge in charges if charge.emptied_at is not None]
    moments += [drawn.drawn_at for drawn in water]
    for times in list_class_times(session, after=span.starts_at, before=span.ends_at):
        moments += times
    days: dict[date, list[datetime]] = {}
    for moment in moments:
        if span.starts_at <= moment < span.ends_at:
            days.setdefault(day_at(moment, zone), []).append(moment)
    return [(min(found), max(found)) for found in days.values()]


def _overlap_s(one: tuple[datetime, datetime], others: Iterable[tuple[datetime, datetime]]) -> int:
    seconds = [(min(one[1], other[1]) - max(one[0], other[0])).total_seconds() for other in others]
    return round(sum(lasts for lasts in seconds if lasts > 0))


def _evaporated(session: LabSession, span: Span, figures: BalanceFigures, now: datetime) -> Line:
    charges = session.exec(
        select(Charge).where(
            col(Charge.poured_at) < span.ends_at,
            or_(col(Charge.emptied_at).is_(None), col(Charge.emptied_at) > span.starts_at),
            _is_of_this_class(span),
        )
    ).all()
    water = session.exec(
        select(WaterDrawn).where(_belongs(span, col(WaterDrawn.rotation_id), col(WaterDrawn.drawn_at)))
    ).all()
    until = min(span.ends_at, now)
    open_at = span.open_at or _open_by_day(session, span, charges, water)

    def lost(volume_ul: int, stood: tuple[datetime, datetime]) -> int:
        # A tray holds its volume at the depth that is usual in the lab: mm³ ÷ µm · 1000 are mm².
        area_mm2 = volume_ul * 1000 // figures.tray_depth_um
        seconds = _overlap_s(stood, open_at)
        rate = figures.evaporated_ul_per_m2_h
        return min(volume_ul, evaporated_ul(rate_ul_per_m2_h=rate, area_mm2=area_mm2, seconds=seconds))

    entries = [
        Behind(
            f"{charge.solution}, {volume_words(charge.volume_ul)}",
            lost(
                charge.volume_ul,
                (max(charge.poured_at, span.starts_at), min(charge.emptied_at or until, until)),
            ),
            charge.poured_at,
            address=f"/charges/{charge.id}",
        )
        for charge in charges
    ]
    taken_back = {drawn.reverses_id for drawn in water}
    entries += [
        Behind(
            f"rinse water, {drawn.typed}",
            lost(drawn.drawn_ul, (drawn.drawn_at, _end_of_stretch(drawn.drawn_at, open_at, until))),
            drawn.drawn_at,
        )
        for drawn in water
        if drawn.drawn_ul > 0 and drawn.id not in taken_back
    ]
    entries = [entry for entry in entries if entry.amount_ul]
    amount = sum(entry.amount_ul for entry in entries)
    return Line(
        Term("Evaporated", Side.GONE, amount, round(UNCERTAINTY * amount), is_assumed=True),
        f"Volume ÷ a depth of {figures.tray_depth_um / 1000:g} mm × {figures.evaporated_ul_per_m2_h / 1000:g} mL an hour and square metre × "
        "the time in which trays stand open: from the day's first tray, water or class to the last, or the class itself. "
        f"Give or take half{', assumed' if figures.assumed else ', set by the lab'}.",
        entries[:MOST_ENTRIES],
        len(entries),
    )


def _end_of_stretch(
    moment: datetime, stretches: Iterable[tuple[datetime, datetime]], until: datetime
) -> datetime:
    """When the stretch ends in which a moment lies, at the latest `until`; the moment itself where it lies in none."""
    ends = [ends_at for starts_at, ends_at in stretches if starts_at <= moment <= ends_at]
    return min(max(ends, default=moment), max(until, moment))


def _count_plates(session: LabSession, span: Span) -> Plates:
    """By when each was entered, so that a note that came late is late in all of them; a class by the runs that name it."""
    runs, with_developer = session.exec(
        select(func.count(), func.count(col(Run.charge_id))).where(
            _within(span, col(Run.filed_at))
            if span.rotation_id is None
            else Run.rotation_id == span.rotation_id
        )
    ).one()
    if span.rotation_id is None:
        through = session.exec(
            select(func.count())
            .select_from(PlateThrough)
            .join(Charge, col(Charge.id) == col(PlateThrough.charge_id))
            .where(Charge.solution == Solution.DEVELOPER, _within(span, col(PlateThrough.entered_at)))
        ).one()
        by_kind = {
            kind: -int(total)
            for kind, total in session.exec(
                select(PlateEntry.kind, func.sum(PlateEntry.change))
                .where(_within(span, col(PlateEntry.entered_at)))
                .group_by(col(PlateEntry.kind))
            ).all()
        }
    else:
        through = with_developer
        for_runs = session.exec(
            select(func.sum(PlateEntry.change))
            .join(Run, col(Run.id) == col(PlateEntry.run_id))
            .where(Run.rotation_id == span.rotation_id)
        ).one()
        by_kind = {PlateEntryKind.RUN.value: -int(for_runs or 0)}
    return Plates(
        runs,
        with_developer,
        through,
        by_kind.get(PlateEntryKind.RUN, 0),
        by_kind.get(PlateEntryKind.TEST, 0),
    )


def _corrections(session: LabSession, span: Span) -> Sequence[Behind]:
    """What counts of batches changed meanwhile. It is part of the difference, for no entry says where it went.

    What came back with the reversal of its pour is no part of it.
    """
    pour = aliased(WasteEntry)
    came_back = (
        select(pour.id)
        .join(WasteEntry, col(WasteEntry.reverses_id) == col(pour.id))
        .where(
            col(pour.batch_id) == col(BatchEntry.batch_id),
            col(WasteEntry.entered_at) == col(BatchEntry.entered_at),
        )
        .exists()
    )
    rows = session.exec(
        select(BatchEntry, Batch)
        .join(Batch, col(Batch.id) == col(BatchEntry.batch_id))
        .where(
            BatchEntry.kind == BatchEntryKind.CORRECTION,
            _within(span, col(BatchEntry.entered_at)),
            ~came_back,
        )
        .order_by(col(BatchEntry.id).desc())
        .limit(MOST_ENTRIES)
    ).all()
    return [
        Behind(
            f"batch {batch.number}: {entry.note}",
            entry.change_ul,
            entry.entered_at,
            entry.entered_by,
            f"/chemistry/batches/{batch.id}",
        )
        for entry, batch in rows
    ]


def _in_containers(session: LabSession, span: Span) -> Sequence[tuple[str, int]]:
    """What the ledgers of all containers say of a span, by kind of entry."""
    rows = session.exec(
        select(WasteEntry.kind, func.sum(WasteEntry.change_ul))
        .where(_within(span, col(WasteEntry.happened_at)))
        .group_by(col(WasteEntry.kind))
        .order_by(col(WasteEntry.kind))
    ).all()
    return [(kind, int(amount)) for kind, amount in rows]


def reckon(session: LabSession, span: Span, now: datetime) -> Reckoning:
    """The balance of a span: of all bottles and trays over days, or of the trays of a class."""
    figures = get_figures(session)
    is_class = span.rotation_id is not None
    in_trays = "Sum of what was poured into each tray that was not emptied by then."
    lines = [
        _standing_line(
            "In trays at the beginning",
            Side.CAME_IN,
            in_trays,
            _in_trays_at(session, span.starts_at, span),
        )
    ]
    if is_class:
        lines.append(_poured_into_trays(session, span))
    else:
        in_bottles = "Sum of each batch's ledger by then."
        lines.insert(
            0,
            _standing_line(
                "In bottles of batches at the beginning",
                Side.CAME_IN,
                in_bottles,
                _left_at(session, span.starts_at),
            ),
        )
        lines += [_mixed(session, span, figures), _of_bottles(session, span)]
    lines += [
        _water(session, span, figures),
        *_poured(session, span, figures),
        *_elsewhere(session, span, figures),
        _carried_out(session, span, figures),
        _evaporated(session, span, figures, now),
    ]
    if not is_class:
        lines.append(
            _standing_line(
                "In bottles of batches at the end", Side.THERE, in_bottles, _left_at(session, span.ends_at)
            )
        )
    lines.append(
        _standing_line("In trays at the end", Side.THERE, in_trays, _in_trays_at(session, span.ends_at, span))
    )
    return Reckoning(
        balance(
            (line.term for line in lines),
            tolerance=tolerance_share(figures),
            tolerance_at_least_ul=figures.tolerance_ul,
        ),
        lines,
        _count_plates(session, span),
        () if is_class else _corrections(session, span),
        () if is_class else _in_containers(session, span),
    )


# Answers.


def list_answers(
    session: LabSession, first: date, last: date, rotation_id: int | None
) -> Sequence[BalanceAnswer]:
    """What was found out about a class, or about any days within a span, the latest first."""
    wanted = select(BalanceAnswer).order_by(col(BalanceAnswer.id).desc())
    if rotation_id is not None:
        return session.exec(wanted.where(BalanceAnswer.rotation_id == rotation_id)).all()
    return session.exec(
        wanted.where(
            col(BalanceAnswer.rotation_id).is_(None),
            col(BalanceAnswer.first_day) >= first,
            col(BalanceAnswer.last_day) <= last,
        )
    ).all()


def find_water(session: LabSession, tablet_id: str) -> WaterDrawn | None:
    return session.exec(select(WaterDrawn).where(WaterDrawn.tablet_id == tablet_id)).first()


def find_gone(session: LabSession, tablet_id: str) -> LiquidGone | None:
    return session.exec(select(LiquidGone).where(LiquidGone.tablet_id == tablet_id)).first()


def hold_water(session: LabSession, water_id: int) -> WaterDrawn:
    """The entry, kept from others until the transaction ends."""
    water = session.hold(WaterDrawn, water_id)
    if water is None:
        raise NotFound("There is no such entry in this lab. Choose one of the list under Balances.")
    return water


def hold_gone(session: LabSession, gone_id: int) -> LiquidGone:
    """The entry, kept from others until the transaction ends."""
    gone = session.hold(LiquidGone, gone_id)
    if gone is None:
        raise NotFound("There is no such entry in this lab. Choose one of the list under Balances.")
    return gone


def list_taken_back(
    session: LabSession, table: type[WaterDrawn] | type[LiquidGone], ids: Sequence[int]
) -> set[int]:
    """Which of these entries were taken back."""
    rows = session.exec(select(table.reverses_id).where(col(table.reverses_id).in_(ids))).all()
    return {reverses_id for reverses_id in rows if reverses_id is not None}


# Weighings.


def list_weighings(session: LabSession, container_id: int) -> Sequence[Weighing]:
    """The weighings of a container, the latest first."""
    return session.exec(
        select(Weighing).where(Weighing.container_id == container_id).order_by(col(Weighing.id).desc())
    ).all()


def hold_weighing(session: LabSession, container_id: int, weighing_id: int) -> Weighing:
    """The weighing, kept from others until the transaction ends."""
    weighing = session.hold(Weighing, weighing_id)
    if weighing is None or weighing.container_id != container_id:
        raise NotFound("There is no such weighing of this container. Choose one of the list.")
    return weighing


def find_last_weighing(session: LabSession) -> Weighing | None:
    """The lab's last weighing of any container: the next one is likely done on the same scale."""
    return session.exec(select(Weighing).order_by(col(Weighing.id).desc()).limit(1)).first()


def check_of(weighing: Weighing, container: WasteContainer) -> WeighCheck:
    """What a weighing says of the ledger as it was then, and of the container's fill line as it is."""
    found = weigh(
        gross_mg=weighing.gross_mg,
        tare_mg=weighing.tare_mg,
        density_ug_per_ul=weighing.density_ug_per_ul,
        is_density_assumed=weighing.density_assumed,
        step_mg=weighing.step_mg,
        ledger_ul=weighing.ledger_ul,
        entries_ul=weighing.entries_ul,
        size_ul=container.size_ul,
        fill_line_ul=container.fill_line_ul,
    )
    assert isinstance(found, WeighCheck)  # a weighing is only kept where gross is more than tare
    return found


def list_open_questions(session: LabSession) -> Sequence[tuple[WasteContainer, WeighCheck]]:
    """The containers in use whose last weighing asks something that nobody has answered, with what it says."""
    last = select(func.max(Weighing.id)).group_by(col(Weighing.container_id))
    rows = session.exec(
        select(Weighing, WasteContainer)
        .join(WasteContainer, col(WasteContainer.id) == col(Weighing.container_id))
        .where(col(Weighing.id).in_(last), Weighing.answer == "", col(WasteContainer.state).in_(IN_USE))
        .order_by(col(WasteContainer.id))
    ).all()
    checked = [(container, check_of(weighing, container)) for weighing, container in rows]
    return [(container, check) for container, check in checked if check.found is not Found.AGREES]


def sum_handled(session: LabSession, container_id: int) -> tuple[int, int]:
    """The sum of the uncertainties of a container's standing entries, and of their volumes, whichever way they went."""
    stated, handled = session.exec(
        select(func.sum(WasteEntry.uncertainty_ul), func.sum(func.abs(WasteEntry.change_ul))).where(
            WasteEntry.container_id == container_id,
            col(WasteEntry.kind).not_in((WasteEntryKind.CORRECTION, WasteEntryKind.COLLECTED)),
            is_standing(),
        )
    ).one()
    return int(stated or 0), int(handled or 0)


def list_unbalanced(session: LabSession) -> list[str]:
    """A sentence for each weighing that keeps another balance than its container's ledger had after the entry it names."""
    zone = get_lab(session).time_zone
    rows = session.exec(
        select(Weighing, WasteContainer, WasteEntry)
        .join(WasteContainer, col(WasteContainer.id) == col(Weighing.container_id))
        .outerjoin(WasteEntry, col(WasteEntry.id) == col(Weighing.last_entry_id))
        .order_by(col(Weighing.id))
    ).all()
    found = []
    for weighing, container, entry in rows:
        then = (0, 0) if entry is None else (entry.held_after_ul, entry.held_after_mg)
        is_its_own = entry is None or entry.container_id == container.id
        if not is_its_own or then != (weighing.ledger_ul, weighing.ledger_mg):
            found.append(
                f"The weighing of “{container.name}” of {moment_words(weighing.weighed_at, zone)} keeps "
                f"{volume_words(weighing.ledger_ul)} as its ledger, which said {volume_words(then[0])} then."
            )
    return found
