"""Logging beside the ledgers, answering and weighing: what is kept, and what is refused."""

from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import select

from server.balances.actions import (
    answer_difference,
    answer_weighing,
    log_gone,
    set_figures,
    take_back_gone,
    take_back_water,
    weigh_container,
)
from server.balances.models import BalanceAnswer, BalanceFigures, Elsewhere, LiquidGone, WaterDrawn, Weighing
from server.balances.queries import get_figures, list_answers, reckon, span_of_days
from server.containers.models import WasteContainer, WasteEntry
from server.core.container_life import ContainerState
from server.data.session import LabSession
from server.refusal import NotFound, Refusal
from server.stations.models import Bath
from tests.balances.liquids import gone, water
from tests.casts import MORNING
from tests.containers.bench import LITRE, Bench

TODAY = date(2027, 2, 16)
A_MINUTE = timedelta(minutes=1)


def _weigh(session: LabSession, container: WasteContainer, **changed: Any) -> Weighing:
    given: dict[str, Any] = {
        "gross_mg": 10_200_000, "tare_mg": 1_200_000, "step_mg": 10_000, "density_ug_per_ul": None, "by": "Tomas",
        "now": MORNING,
    }  # fmt: skip
    return weigh_container(session, container.id, **(given | changed))


def test_the_same_form_twice_is_the_same_water(session: LabSession) -> None:
    first = water(session, LITRE, tablet_id="a-form-of-the-test")
    again = water(session, LITRE, tablet_id="a-form-of-the-test")

    assert again.id == first.id
    assert len(session.exec(select(WaterDrawn)).all()) == 1
    with pytest.raises(Refusal, match="logged already, as 1000000 uL"):
        water(session, 2 * LITRE, tablet_id="a-form-of-the-test")


def test_the_same_form_twice_is_the_same_spill(session: LabSession) -> None:
    first = gone(session, LITRE, Elsewhere.SPILLED)
    assert gone(session, LITRE, Elsewhere.SPILLED).id == first.id
    with pytest.raises(Refusal, match="logged already, as 1000000 uL spilled"):
        gone(session, LITRE, Elsewhere.DRAINED)

    assert len(session.exec(select(LiquidGone)).all()) == 1


def test_what_is_still_to_come_is_not_logged(session: LabSession) -> None:
    with pytest.raises(Refusal, match="Tue 16 Feb 2027, 08:01 is still to come"):
        water(session, LITRE, at=MORNING + A_MINUTE, now=MORNING)
    with pytest.raises(Refusal, match="still to come"):
        log_gone(
            session, went=Elsewhere.SPILLED, volume_ul=LITRE, typed="1 L", rotation_id=None, gone_at=MORNING + A_MINUTE,
            note="", tablet_id="a-spill-to-come", by="Tomas", now=MORNING,
        )  # fmt: skip


def test_water_is_drawn_for_a_published_class_only(session: LabSession, bench: Bench) -> None:
    rotation = bench.publish(session, "First", MORNING, plates=6)
    assert water(session, LITRE, rotation_id=rotation.id).rotation_id == rotation.id
    rotation.state = "planned"
    session.flush()

    with pytest.raises(Refusal, match="not published"):
        water(session, 2 * LITRE, rotation_id=rotation.id)
    with pytest.raises(Refusal, match="not published"):
        log_gone(
            session, went=Elsewhere.SPILLED, volume_ul=LITRE, typed="1 L", rotation_id=rotation.id, gone_at=MORNING,
            note="", tablet_id="a-spill-of-a-class", by="Tomas", now=MORNING,
        )  # fmt: skip


def test_an_entry_is_taken_back_once_and_stays(session: LabSession) -> None:
    drawn, spilled = water(session, LITRE), gone(session, LITRE, Elsewhere.SPILLED)
    take_back_water(session, drawn.id, reason="typed twice", by="Mira", now=MORNING + A_MINUTE)
    take_back_gone(session, spilled.id, reason="it was water", by="Mira", now=MORNING + A_MINUTE)
    session.flush()
    back, unspilled = session.exec(select(WaterDrawn)).all()[1], session.exec(select(LiquidGone)).all()[1]

    assert (back.drawn_ul, back.reverses_id, back.drawn_at) == (-LITRE, drawn.id, MORNING)
    assert (unspilled.gone_ul, unspilled.reverses_id, unspilled.note) == (-LITRE, spilled.id, "it was water")
    for undo, entry_id in (
        (take_back_water, drawn.id),
        (take_back_water, back.id),
        (take_back_gone, spilled.id),
        (take_back_gone, unspilled.id),
    ):
        with pytest.raises(Refusal, match="taken back already"):
            undo(session, entry_id, reason="again", by="Mira", now=MORNING)
    with pytest.raises(NotFound):
        take_back_water(session, 999, reason="none", by="Mira", now=MORNING)
    with pytest.raises(NotFound):
        take_back_gone(session, 999, reason="none", by="Mira", now=MORNING)


def test_an_answer_is_kept_with_the_difference_and_changes_no_ledger(session: LabSession) -> None:
    water(session, LITRE)
    answer_difference(
        session, first=TODAY, last=TODAY, rotation_id=None, seen_ul=LITRE, seen_at=MORNING, answer="it stands in the wash tray",
        by="Tomas", now=MORNING,
    )  # fmt: skip
    session.flush()
    kept = session.exec(select(BalanceAnswer)).one()

    assert (kept.difference_ul, kept.answer, kept.answered_by) == (
        LITRE,
        "it stands in the wash tray",
        "Tomas",
    )
    assert len(session.exec(select(WaterDrawn)).all()) == 1
    assert session.exec(select(WasteEntry)).all() == []
    assert list_answers(session, TODAY - timedelta(days=9), TODAY, None) == [kept]
    assert list_answers(session, TODAY + timedelta(days=1), TODAY + timedelta(days=9), None) == []


def test_an_answer_to_a_difference_that_has_changed_is_asked_back(session: LabSession) -> None:
    water(session, LITRE)
    with pytest.raises(Refusal, match="went from 900 mL to 1 L"):
        answer_difference(
            session, first=TODAY, last=TODAY, rotation_id=None, seen_ul=900_000, seen_at=MORNING, answer="x", by="Tomas", now=MORNING
        )  # fmt: skip


def test_a_difference_is_answered_while_trays_stand_open_and_dry_up(
    session: LabSession, bench: Bench
) -> None:
    bench.charge(session, Bath.DEVELOPER)
    bench.publish(session, "First", MORNING + timedelta(hours=4), plates=6)
    seen_at, later = MORNING + timedelta(hours=1), MORNING + timedelta(hours=2)
    seen_ul, later_ul = (
        reckon(session, span_of_days(session, TODAY, TODAY), at).balance.difference_ul
        for at in (seen_at, later)
    )
    assert seen_ul != later_ul

    def _answer() -> None:
        answer_difference(
            session, first=TODAY, last=TODAY, rotation_id=None, seen_ul=seen_ul, seen_at=seen_at, answer="it dries up",
            by="Tomas", now=later,
        )  # fmt: skip

    _answer()
    water(session, LITRE, at=later)
    with pytest.raises(Refusal, match="Load it again"):
        _answer()


def test_a_class_s_answer_is_the_class_s(session: LabSession, bench: Bench) -> None:
    rotation = bench.publish(session, "First", MORNING, plates=6)
    answer_difference(
        session, first=TODAY, last=TODAY, rotation_id=rotation.id, seen_ul=0, seen_at=MORNING, answer="nothing was wet", by="Tomas",
        now=MORNING,
    )  # fmt: skip
    session.flush()

    assert [one.answer for one in list_answers(session, TODAY, TODAY, rotation.id)] == ["nothing was wet"]
    assert list_answers(session, TODAY, TODAY, None) == []


def test_figures_are_assumed_until_the_lab_sets_them(session: LabSession) -> None:
    assert get_figures(session).assumed
    for carried in (60_000, 70_000):
        set_figures(
            session, carried_ul_per_m2=carried, evaporated_ul_per_m2_h=1, tray_depth_um=2, tolerance_ppm=3, tolerance_ul=4
        )  # fmt: skip
    kept = session.exec(select(BalanceFigures)).one()

    assert not kept.assumed
    assert (kept.carried_ul_per_m2, kept.tolerance_ppm) == (70_000, 3)


def test_a_weighing_keeps_what_the_ledger_says_and_the_tare_becomes_the_container_s(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=9 * LITRE)
    weighing = _weigh(session, carboy)

    assert (weighing.ledger_ul, weighing.ledger_mg) == (9 * LITRE, 9_000_000)
    assert (weighing.density_ug_per_ul, weighing.density_assumed) == (1000, True)
    assert weighing.entries_ul == 450_000
    assert carboy.tare_mg == 1_200_000
    assert (carboy.held_ul, carboy.held_mg) == (9 * LITRE, 9_000_000)


def test_a_density_that_was_measured_is_not_assumed(session: LabSession, bench: Bench) -> None:
    weighing = _weigh(session, bench.rinse_carboy(session, held_ul=9 * LITRE), density_ug_per_ul=1050)

    assert (weighing.density_ug_per_ul, weighing.density_assumed) == (1050, False)


def test_estimates_in_a_ledger_widen_what_a_weighing_may_differ_by(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=9 * LITRE)
    entry = session.exec(select(WasteEntry)).one()
    entry.uncertainty_ul = 1_800_000
    session.flush()

    assert _weigh(session, carboy).entries_ul == 1_800_000


def test_a_button_pressed_twice_weighs_once(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=9 * LITRE)
    first = _weigh(session, carboy)

    assert _weigh(session, carboy, now=MORNING + A_MINUTE).id == first.id
    assert _weigh(session, carboy, now=MORNING + A_MINUTE, gross_mg=10_300_000).id != first.id
    assert _weigh(session, carboy, now=MORNING + 3 * A_MINUTE, gross_mg=10_300_000).id > first.id + 1
    bench.rinse(session, carboy.id, LITRE, tablet_id="in-between")
    assert len(session.exec(select(Weighing)).all()) == 3


def test_what_was_poured_in_between_is_weighed_anew(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=9 * LITRE)
    first = _weigh(session, carboy)
    bench.rinse(session, carboy.id, LITRE, tablet_id="in-between")

    assert _weigh(session, carboy).id != first.id


def test_a_container_that_is_gone_or_lighter_than_empty_is_not_weighed(
    session: LabSession, bench: Bench
) -> None:
    carboy = bench.rinse_carboy(session, held_ul=9 * LITRE)
    with pytest.raises(Refusal, match="weighs more than empty"):
        _weigh(session, carboy, gross_mg=1_200_000)
    carboy.state = ContainerState.COLLECTED
    session.flush()
    with pytest.raises(Refusal, match="was collected"):
        _weigh(session, carboy)


def test_a_weighing_is_answered_once(session: LabSession, bench: Bench) -> None:
    carboy = bench.rinse_carboy(session, held_ul=9 * LITRE)
    weighing = _weigh(session, carboy, gross_mg=13_200_000)
    answer_weighing(session, carboy.id, weighing.id, answer="the tare was another can's")

    assert weighing.answer == "the tare was another can's"
    with pytest.raises(Refusal, match="has its answer already"):
        answer_weighing(session, carboy.id, weighing.id, answer="or not")
    with pytest.raises(NotFound):
        answer_weighing(session, carboy.id + 1, weighing.id, answer="elsewhere")
