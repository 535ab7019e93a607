"""Logging what comes in and goes beside the ledgers, weighing containers, and keeping what was found out about a difference.

Nothing here changes a ledger to make a balance close.
"""

from datetime import date, datetime, timedelta

from server.balances.models import BalanceAnswer, BalanceFigures, Elsewhere, LiquidGone, WaterDrawn, Weighing
from server.balances.queries import (
    find_gone,
    find_water,
    get_figures,
    hold_gone,
    hold_water,
    hold_weighing,
    list_taken_back,
    list_weighings,
    reckon,
    span_of_class,
    span_of_days,
    sum_handled,
    tolerance_share,
)
from server.containers.queries import find_last_entry, get_stream, lock_container
from server.core.container_life import GONE
from server.core.moments import moment_words
from server.core.units import volume_words
from server.core.weigh_check import entries_tolerance_ul
from server.data.session import LabSession
from server.people.queries import get_lab
from server.refusal import Refusal
from server.rotations.queries import get_published

# A button that was pressed twice weighs once.
SAME_WEIGHING = timedelta(minutes=1)


def _refuse_to_come(session: LabSession, at: datetime, now: datetime) -> None:
    if at > now:
        raise Refusal(
            f"{moment_words(at, get_lab(session).time_zone)} is still to come. Write the time at which it happened."
        )


def log_water(
    session: LabSession,
    *,
    volume_ul: int,
    typed: str,
    rotation_id: int | None,
    drawn_at: datetime,
    note: str,
    tablet_id: str,
    by: str,
    now: datetime,
) -> WaterDrawn:
    """Log water that was filled into rinse trays, for a class or for none. The same `tablet_id` again is the same water."""
    _refuse_to_come(session, drawn_at, now)
    if rotation_id is not None:
        get_published(session, rotation_id)
    entered = find_water(session, tablet_id)
    if entered is not None:
        if (entered.drawn_ul, entered.rotation_id) == (volume_ul, rotation_id):
            return entered
        raise Refusal(
            f"This form was logged already, as {entered.typed}. If that is wrong, take it back; log the other with a fresh form."
        )
    water = WaterDrawn(
        tablet_id=tablet_id,
        rotation_id=rotation_id,
        drawn_ul=volume_ul,
        typed=typed,
        note=note,
        drawn_at=drawn_at,
        entered_at=now,
        entered_by=by,
    )
    session.add(water)
    session.flush()  # its id is told
    return water


def log_gone(
    session: LabSession,
    *,
    went: Elsewhere,
    volume_ul: int,
    typed: str,
    rotation_id: int | None,
    gone_at: datetime,
    note: str,
    tablet_id: str,
    by: str,
    now: datetime,
) -> LiquidGone:
    """Log liquid of the trays that came into no waste container. The same `tablet_id` again is the same liquid."""
    _refuse_to_come(session, gone_at, now)
    if rotation_id is not None:
        get_published(session, rotation_id)
    entered = find_gone(session, tablet_id)
    if entered is not None:
        if (entered.went, entered.gone_ul, entered.rotation_id) == (went, volume_ul, rotation_id):
            return entered
        raise Refusal(
            f"This form was logged already, as {entered.typed} {entered.went}. If that is wrong, take it back; "
            "log the other with a fresh form."
        )
    gone = LiquidGone(
        tablet_id=tablet_id,
        rotation_id=rotation_id,
        went=went,
        gone_ul=volume_ul,
        typed=typed,
        note=note,
        gone_at=gone_at,
        entered_at=now,
        entered_by=by,
    )
    session.add(gone)
    session.flush()  # its id is told
    return gone


def _refuse_taken_back(entry: WaterDrawn | LiquidGone, session: LabSession) -> None:
    if entry.reverses_id is not None or list_taken_back(session, type(entry), [entry.id]):
        raise Refusal("This entry was taken back already. Look at the list; nothing was changed.")


def take_back_water(session: LabSession, water_id: int, *, reason: str, by: str, now: datetime) -> None:
    """Take water back with an entry of its own; the first entry stays."""
    water = hold_water(session, water_id)
    _refuse_taken_back(water, session)
    session.add(
        WaterDrawn(
            tablet_id=f"takes-back-{water.id}",
            rotation_id=water.rotation_id,
            drawn_ul=-water.drawn_ul,
            typed=f"taken back: {water.typed}",
            note=reason,
            reverses_id=water.id,
            drawn_at=water.drawn_at,
            entered_at=now,
            entered_by=by,
        )
    )


def take_back_gone(session: LabSession, gone_id: int, *, reason: str, by: str, now: datetime) -> None:
    """Take liquid that went elsewhere back with an entry of its own; the first entry stays."""
    gone = hold_gone(session, gone_id)
    _refuse_taken_back(gone, session)
    session.add(
        LiquidGone(
            tablet_id=f"takes-back-{gone.id}",
            rotation_id=gone.rotation_id,
            went=gone.went,
            gone_ul=-gone.gone_ul,
            typed=f"taken back: {gone.typed}",
            note=reason,
            reverses_id=gone.id,
            gone_at=gone.gone_at,
            entered_at=now,
            entered_by=by,
        )
    )


def answer_difference(
    session: LabSession,
    *,
    first: date,
    last: date,
    rotation_id: int | None,
    seen_ul: int,
    seen_at: datetime,
    answer: str,
    by: str,
    now: datetime,
) -> BalanceAnswer:
    """Keep what was found out about the difference of some days or of a class. It changes no ledger.

    `seen_ul` is the difference that was read at `seen_at`; where entries have changed it since, the answer may be to another question. What
    open trays lose by the minute changes nothing of it.
    """
    span = span_of_days(session, first, last) if rotation_id is None else span_of_class(session, rotation_id)
    difference_ul = reckon(session, span, min(seen_at, now)).balance.difference_ul
    if difference_ul != seen_ul:
        raise Refusal(
            f"The difference went from {volume_words(seen_ul)} to {volume_words(difference_ul)} since you opened the page. "
            "Load it again and look whether your answer still holds."
        )
    kept = BalanceAnswer(
        rotation_id=rotation_id,
        first_day=first,
        last_day=last,
        difference_ul=difference_ul,
        answer=answer,
        answered_at=now,
        answered_by=by,
    )
    session.add(kept)
    return kept


def set_figures(
    session: LabSession,
    *,
    carried_ul_per_m2: int,
    evaporated_ul_per_m2_h: int,
    tray_depth_um: int,
    tolerance_ppm: int,
    tolerance_ul: int,
) -> BalanceFigures:
    """Set the lab's own figures for what no entry tells, and from which difference on is asked."""
    figures = get_figures(session)
    figures.carried_ul_per_m2, figures.evaporated_ul_per_m2_h = carried_ul_per_m2, evaporated_ul_per_m2_h
    figures.tray_depth_um = tray_depth_um
    figures.tolerance_ppm, figures.tolerance_ul = tolerance_ppm, tolerance_ul
    figures.assumed = False
    session.add(figures)
    session.flush()  # a second transaction at once meets the one row per lab here
    return figures


def weigh_container(
    session: LabSession,
    container_id: int,
    *,
    gross_mg: int,
    tare_mg: int,
    step_mg: int,
    density_ug_per_ul: int | None,
    by: str,
    now: datetime,
) -> Weighing:
    """Keep what a container weighs beside what its ledger says now; the tare becomes the container's.

    Without a density that was measured the stream's own is taken.
    """
    container = lock_container(session, container_id)
    if container.state in GONE:
        raise Refusal(
            f"“{container.name}” was collected; its filling can't be weighed any more. Weigh the next one."
        )
    if gross_mg <= tare_mg:
        raise Refusal("With what is in it a container weighs more than empty. Check gross and tare.")
    stream = get_stream(session, container.stream_id)
    weighed = (gross_mg, tare_mg, density_ug_per_ul or stream.density_ug_per_ul)
    latest = next(iter(list_weighings(session, container_id)), None)
    entry = find_last_entry(session, container_id)
    if (
        latest is not None
        and now - latest.weighed_at <= SAME_WEIGHING
        and (latest.gross_mg, latest.tare_mg, latest.density_ug_per_ul) == weighed
        and latest.last_entry_id == (None if entry is None else entry.id)
    ):
        return latest
    container.tare_mg = tare_mg
    stated_ul, handled_ul = sum_handled(session, container_id)
    weighing = Weighing(
        container_id=container_id,
        gross_mg=gross_mg,
        tare_mg=tare_mg,
        step_mg=step_mg,
        density_ug_per_ul=weighed[2],
        density_assumed=density_ug_per_ul is None and stream.density_assumed,
        last_entry_id=None if entry is None else entry.id,
        ledger_ul=container.held_ul,
        ledger_mg=container.held_mg,
        entries_ul=entries_tolerance_ul(
            stated_ul=stated_ul, handled_ul=handled_ul, share=tolerance_share(get_figures(session))
        ),
        weighed_at=now,
        weighed_by=by,
    )
    session.add(weighing)
    session.flush()  # the database refuses an impossible weight here
    return weighing


def answer_weighing(session: LabSession, container_id: int, weighing_id: int, *, answer: str) -> None:
    """Keep what was found out about a weighing that differs from its ledger. It changes no ledger."""
    weighing = hold_weighing(session, container_id, weighing_id)
    if weighing.answer:
        raise Refusal("This weighing has its answer already. Weigh again, and write there what is new.")
    weighing.answer = answer
