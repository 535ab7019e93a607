"""The pages of balances and weighings, over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup
from sqlmodel import select

from server.balances.models import BalanceFigures, LiquidGone, WaterDrawn, Weighing
from server.containers.models import Stream, WasteContainer
from server.data.session import LabSession
from tests.casts import MORNING
from tests.conftest import Running, Visitor
from tests.containers.bench import LITRE, Bench
from tests.runs.room import fill_room

InLab = Callable[[], AbstractContextManager[LabSession]]
DAY: dict[str, Any] = {"first": "2027-02-16", "last": "2027-02-16"}
TODAY = "/waste/balances/days/2027-02-16/2027-02-16"


def _text(page: BeautifulSoup, selector: str = "main") -> str:
    found = page.select_one(selector)
    assert found is not None, selector
    return " ".join(found.get_text(" ").split())


def _water(**changed: object) -> dict[str, Any]:
    given: dict[str, Any] = {
        "tablet_id": "water-of-the-test", "what": "water", "volume": "1 L", "times": "4", "on_day": "2027-02-16",
        "clock": "08:00", "note": "",
    }  # fmt: skip
    return {**DAY, **given, **changed}


def _weights(**changed: object) -> dict[str, Any]:
    return {"gross": "10.2 kg", "tare": "1.2 kg", "step": "10 g", "density": "", **changed}


@pytest.fixture
def carboy_id(in_lab: InLab, bench: Bench) -> int:
    """A carboy of 20 L with 9 L of rinse in it."""
    with in_lab() as session:
        return bench.rinse_carboy(session, held_ul=9 * LITRE).id


def test_a_lab_where_nothing_was_entered_has_no_difference(tomas: Visitor) -> None:
    page = tomas.page("/waste/balances")

    assert _text(page, ".figure") == "0 mL came in and has no entry: 0.0 % of 0 mL nothing was entered"
    assert "No rotation is published yet." in _text(page)


def test_four_trays_filled_are_drawn_and_asked_about_until_they_are_poured(
    tomas: Visitor, in_lab: InLab, carboy_id: int
) -> None:
    """The carboy has nine litres in it, which were drawn from somewhere."""
    page = tomas.submit("/waste/balances/entries", **_water())

    assert "water, 4 × 1 L +4 L Tomas" in _text(page)
    assert "5 L went, or is there, more than came in" in _text(page, ".figure")
    with in_lab() as session:
        drawn = session.exec(select(WaterDrawn)).one()
        assert (drawn.drawn_ul, drawn.typed, drawn.drawn_at) == (4 * LITRE, "4 × 1 L", MORNING)
    page = tomas.submit(
        "/waste/balances/entries", **_water(tablet_id="more-of-the-test", volume="5 L", times="1")
    )
    assert _text(page, ".figure") == "0 mL came in and has no entry: 0.0 % of 9 L within the tolerance"
    assert f"/waste/containers/{carboy_id}" in str(page)


def test_each_line_opens_to_its_entries(tomas: Visitor, carboy_id: int) -> None:
    page = tomas.page(TODAY)
    line = next(one for one in page.select(".balance details") if "Poured into Rinse" in one.get_text())

    assert "9000000 uL of rinse into “Rinse 1” , Tue 16 Feb 2027, 08:00, Tomas" in " ".join(
        line.get_text(" ").split()
    )
    link = line.select_one("a")
    assert link is not None
    assert link["href"] == f"/waste/containers/{carboy_id}"


def test_a_faulty_entry_keeps_what_was_typed(tomas: Visitor, in_lab: InLab) -> None:
    page = tomas.submit(
        "/waste/balances/entries", 422, **_water(volume="one jug", clock="09:00", note="tray 2 leaks")
    )

    field = page.select_one("#volume")
    assert field is not None
    assert field["value"] == "one jug"
    assert "is not a volume" in _text(page, "#volume-fault")
    assert page.select_one("#note") is not None
    assert page.select("#note")[0]["value"] == "tray 2 leaks"
    with in_lab() as session:
        assert session.exec(select(WaterDrawn)).all() == []


@pytest.mark.parametrize(
    ("changed", "field", "sentence"),
    [
        ({"clock": "08:01"}, "clock", "still to come"),
        ({"on_day": "2027-03-28", "clock": "02:30"}, "clock", "the clocks skip 02:30"),
        ({"times": "0"}, "times", "1 or more"),
        ({"volume": "100 L", "times": "100"}, "volume", "more than any lab holds"),
        ({"what": "wine"}, "what", "one of the list"),
        ({"volume": "0 mL"}, "volume", "more than nothing"),
    ],
)
def test_what_cannot_be_logged_is_said_beside_its_field(
    tomas: Visitor, changed: dict[str, Any], field: str, sentence: str
) -> None:
    page = tomas.submit("/waste/balances/entries", 422, **_water(**changed))

    assert sentence in _text(page, f"#{field}-fault")


def test_a_form_without_its_days_comes_back_with_today(tomas: Visitor) -> None:
    page = tomas.submit("/waste/balances/entries", 422, what="water")

    assert "Balance: Tue 16 Feb 2027" in _text(page)


def test_a_spill_is_logged_and_taken_back(tomas: Visitor, in_lab: InLab) -> None:
    page = tomas.submit(
        "/waste/balances/entries", **_water(what="spilled", volume="500 mL", times="1", note="tray 3")
    )
    assert "spilled, 500 mL (tray 3) −500 mL Tomas" in _text(page)
    with in_lab() as session:
        gone_id = session.exec(select(LiquidGone)).one().id

    page = tomas.submit(
        "/waste/balances/entries/taken-back", 422, **DAY, entry_id=f"gone-{gone_id}", reason=""
    )
    assert "fill this in" in _text(page, "#reason-fault")
    page = tomas.submit(
        "/waste/balances/entries/taken-back", **DAY, entry_id=f"gone-{gone_id}", reason="it was rinse water"
    )
    assert "taken back: 500 mL (it was rinse water) +500 mL" in _text(page)
    assert page.select_one("#entry_id") is None


def test_water_is_taken_back(tomas: Visitor, in_lab: InLab) -> None:
    tomas.submit("/waste/balances/entries", **_water())
    with in_lab() as session:
        water_id = session.exec(select(WaterDrawn)).one().id
    page = tomas.submit(
        "/waste/balances/entries/taken-back", **DAY, entry_id=f"water-{water_id}", reason="typed twice"
    )

    assert "taken back: 4 × 1 L (typed twice) −4 L" in _text(page)


def test_an_answer_stands_beside_its_difference(tomas: Visitor) -> None:
    tomas.submit("/waste/balances/entries", **_water())
    page = tomas.submit(
        "/waste/balances/answers", 422, **DAY, seen_ul="4000000", seen_at=MORNING.isoformat(), answer=""
    )
    assert "fill this in" in _text(page, "#answer-fault")
    page = tomas.submit(
        "/waste/balances/answers",
        **DAY,
        seen_ul="4000000",
        seen_at=MORNING.isoformat(),
        answer="it stands in the wash trays",
    )

    assert (
        "Tue 16 Feb 2027, a difference of 4 L: it stands in the wash trays (Tomas, Tue 16 Feb 2027, 08:00)"
        in _text(page)
    )
    assert "◆" not in _text(page)
    assert "ask" in _text(page, ".figure")
    assert "it stands in the wash trays" in _text(tomas.page("/waste/balances/days/2027-02-01/2027-02-28"))
    assert "it stands in" not in _text(tomas.page("/waste/balances/days/2027-02-17/2027-02-28"))


def test_days_are_chosen(tomas: Visitor) -> None:
    answer = tomas.get("/waste/balances", params={"first": "2027-02-01", "last": "2027-02-28"})
    one_day = tomas.get("/waste/balances", params={"first": "2027-02-01", "last": ""})

    assert answer.url.path == "/waste/balances/days/2027-02-01/2027-02-28"
    assert one_day.url.path == "/waste/balances/days/2027-02-01/2027-02-01"
    assert "Mon 1 Feb 2027 to Sun 28 Feb 2027" in _text(BeautifulSoup(answer.text, "html.parser"), "h1")
    refused = tomas.page("/waste/balances?first=2027-02-10&last=2027-02-01", 422)
    assert "2027-02-10 or a later day" in _text(refused, "#last-fault")


def test_a_class_has_a_balance_of_its_own(tomas: Visitor, in_lab: InLab, bench: Bench) -> None:
    with in_lab() as session:
        rotation_id = bench.publish(session, "First hologram", MORNING, plates=6).id
        bench.publish(session, "Beside it", MORNING + timedelta(minutes=10), plates=6)
    page = tomas.submit(
        "/waste/balances/entries", **_water(class_id=rotation_id, rotation_id=rotation_id, times="1")
    )

    assert _text(page, "h1") == "Balance: First hologram, Tuesday"
    assert "Rinse water drawn 1 L" not in _text(page, ".figure")
    assert "Another class had the room at the same time" in _text(page)
    assert f"/waste/balances/classes/{rotation_id}" in str(tomas.page("/waste/balances"))
    answered = tomas.submit(
        "/waste/balances/answers",
        **DAY,
        class_id=rotation_id,
        seen_ul="1000000",
        seen_at=MORNING.isoformat(),
        answer="in the wash tray",
    )
    assert "First hologram, Tuesday, a difference of 1 L: in the wash tray" in _text(answered)


def test_runs_that_name_no_developer_are_told(
    tomas: Visitor, tablet: Visitor, in_lab: InLab, server: Running
) -> None:
    with in_lab() as session:
        room = fill_room(session)
    note: dict[str, Any] = {
        "plate_box_id": room.plate_box_id,
        "place_id": room.station_id,
        "incident": "none",
    }
    tablet.submit(
        "/tablet/runs", tablet_id="00000000-0000-4000-8000-000000000001", charge_id=room.charge_id, **note
    )
    assert "Runs, developer and boxes agree on 1 plate." in _text(tomas.page(TODAY))
    tablet.submit("/tablet/runs", tablet_id="00000000-0000-4000-8000-000000000002", **note)

    assert "1 of 2 runs name no developer" in _text(tomas.page(TODAY))
    assert server


def test_the_lab_sets_its_own_figures(tomas: Visitor, in_lab: InLab) -> None:
    figures: dict[str, Any] = {
        "carried_ml_per_m2": "80", "evaporated_ml_per_m2_h": "120.5", "tray_depth_mm": "12", "tolerance_percent": "2.5",
        "tolerance": "100 mL",
    }  # fmt: skip
    assert "assumed" in _text(tomas.page("/waste/balances/figures"), ".note")
    page = tomas.submit("/waste/balances/figures", 422, **{**figures, "tray_depth_mm": "0"})
    assert "1 or more" in _text(page, "#tray_depth_mm-fault")
    page = tomas.submit("/waste/balances/figures", **figures)

    assert "set by the lab" in _text(page, ".note")
    assert "112 and 185 mL an hour" in _text(page)
    with in_lab() as session:
        kept = session.exec(select(BalanceFigures)).one()
        assert (kept.carried_ul_per_m2, kept.evaporated_ul_per_m2_h, kept.tray_depth_um) == (
            80_000,
            120_500,
            12_000,
        )
        assert (kept.tolerance_ppm, kept.tolerance_ul) == (25_000, 100_000)


def test_a_weighing_that_agrees_is_kept(tomas: Visitor, in_lab: InLab, carboy_id: int) -> None:
    assert "Nobody has weighed it yet." in _text(tomas.page(f"/waste/containers/{carboy_id}/weighings"))
    page = tomas.submit(f"/waste/containers/{carboy_id}/weighings", **_weights())

    assert "9 L by weight; its ledger said 9 L then, Tue 16 Feb 2027, 08:00 agrees" in _text(page, ".figure")
    assert page.select("#tare")[0]["value"] == "1.2 kg"
    assert "Answer the question" not in _text(page)
    with in_lab() as session:
        kept = session.exec(select(Weighing)).one()
        assert (kept.gross_mg, kept.tare_mg, kept.step_mg) == (10_200_000, 1_200_000, 10_000)


def test_a_weight_that_cannot_be_in_the_can_raises_the_alarm_and_is_answered(
    tomas: Visitor, in_lab: InLab, carboy_id: int
) -> None:
    """Worked by hand: 23.45 − 1.20 = 22.25 kg; at 1.05 kg/L 21.19 L, over 90 % of 20 L."""
    page = tomas.submit(
        f"/waste/containers/{carboy_id}/weighings", **_weights(gross="23.45 kg", density="1.05")
    )
    assert "21.19 L" in _text(page, ".figure")
    assert "alarm" in _text(page, ".figure")
    assert "the density or the tare is wrong" in _text(page, ".note.stop")
    with in_lab() as session:
        weighing_id = session.exec(select(Weighing)).one().id
        held = session.exec(select(WasteContainer).where(WasteContainer.id == carboy_id)).one().held_ul
        assert held == 9 * LITRE

    assert "“Rinse 1” was weighed. 23.45 kg − 1.2 kg" in _text(tomas.page("/waste"))

    address = f"/waste/containers/{carboy_id}/weighings/{weighing_id}/answer"
    assert "fill this in" in _text(tomas.submit(address, 422, answer=""), "#answer-fault")
    page = tomas.submit(address, answer="two cans stood on the scale")
    assert "Answer: two cans stood on the scale" in _text(page)
    assert "Answer the question" not in _text(page)


@pytest.mark.parametrize(
    ("changed", "field", "sentence"),
    [
        ({"gross": "23.45"}, "gross", "23.45 kg or 23.45 g"),
        ({"tare": "10.2 kg"}, "tare", "weighs less than with what is in it"),
        ({"tare": "0 g"}, "tare", "more than nothing"),
        ({"density": "1050"}, "density", "3 or less"),
        ({"step": ""}, "step", "fill this in"),
    ],
)
def test_a_faulty_weighing_is_told_beside_its_field(
    tomas: Visitor, carboy_id: int, changed: dict[str, Any], field: str, sentence: str
) -> None:
    page = tomas.submit(f"/waste/containers/{carboy_id}/weighings", 422, **_weights(**changed))

    assert sentence in _text(page, f"#{field}-fault")


def test_the_container_s_page_says_why_it_has_its_fill_line(
    tomas: Visitor, in_lab: InLab, carboy_id: int
) -> None:
    page = tomas.page(f"/waste/containers/{carboy_id}")

    assert f"/waste/containers/{carboy_id}/weighings" in str(page)
    assert "fill line of the lab lowest" in _text(page, "#headspace")
    for share in ("90 % 18 L", "94 % 18.8 L", "97.07 %", "98.75 %"):
        assert share in _text(page, "#headspace")
    assert "is good for 1.2 at most" in _text(page, "#headspace")

    with in_lab() as session:
        session.exec(select(WasteContainer)).one().fill_line_ul = 19 * LITRE
        for stream in session.exec(select(Stream)).all():
            stream.density_ug_per_ul = 1250
    page = tomas.page(f"/waste/containers/{carboy_id}")
    assert "above what carriage by road allows" in _text(page, "#headspace .state.stop")
    assert "Use one that is marked for it." in _text(page, "#headspace")


def test_the_overview_of_waste_leads_to_the_balances(tomas: Visitor) -> None:
    assert tomas.page("/waste").select_one('a[href="/waste/balances"]') is not None
