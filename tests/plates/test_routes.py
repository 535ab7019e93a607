"""The pages of plate boxes over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup
from sqlmodel import col, update

from server.data.session import LabSession
from server.plates.models import PlateBox
from tests.casts import MORNING
from tests.conftest import Running, Visitor
from tests.plates import shelf
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


NEW_BOX: dict[str, Any] = {
    "box_name": "box 7",
    "plates": "30",
    "width_mm": "63.5",
    "height_mm": "63",
    "dose_uj_per_cm2": "600",
    "sees": "red blue",
    "lot": "4711-b",
    "kept": "in a fridge",
    "storage": "upper shelf",
    "store_at_most_celsius": "10",
    "warm_up_minutes": "90",
    "emulsion_faces": "toward the label",
    "box_stands": "on edge, plates upright",
    "lead_days": "35",
    "box_arrived_on": "2027-02-16",
    "box_expires_on": "2027-03-01",
}


def _rows(page: BeautifulSoup) -> list[str]:
    return [text_of(row) for row in page.select("tbody tr")]


@pytest.fixture
def box_id(in_lab: InLab) -> int:
    with in_lab() as session:
        return shelf.box(session).id


def test_a_plate_box_is_taken_in_and_its_page_tells_the_safelight(tomas: Visitor) -> None:
    text = text_of(tomas.submit("/stock/plate-boxes", **NEW_BOX))

    assert "30 plates left" in text
    assert "63.5 × 63 mm" in text
    assert "Safelight green" in text
    assert "1 h 30 min" in text
    assert "sealed" in text
    assert "13 days left" in text
    assert "in a fridge, upper shelf; the pack asks for at most 10 °C" in text
    assert "faces toward the label; the box stands on edge, plates upright" in text
    assert "Lot 4711-b Order took 35 days" in text
    assert "too warm" not in text
    text = text_of(tomas.page("/stock"))
    assert (
        "box 7 30 sealed Mon 1 Mar 2027 13 days left 63.5 × 63 mm red and blue green 600 µJ/cm² 1 h 30 min"
        in text
    )
    assert "expires Mon 1 Mar 2027: plate box “box 7” , 30 plates left" in text


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("box_name", "", "fill this in"),
        ("plates", "thirty", "whole number"),
        ("plates", "0", "1 or more"),
        ("width_mm", "6 cm", "Please write a number"),
        ("width_mm", "0", "1 or more"),
        ("dose_uj_per_cm2", "-600", "1 or more"),
        ("warm_up_minutes", "1e3", "whole number"),
        ("box_expires_on", "March", "a date such as 2027-06-30, or a month"),
        ("box_expires_on", "2027-03", "only a month"),
        ("lead_days", "", "fill this in"),
        ("store_at_most_celsius", "cold", "whole number"),
    ],
)
def test_a_box_with_bad_input_is_shown_again_with_everything_typed(
    tomas: Visitor, field: str, typed: str, sentence: str
) -> None:
    page = tomas.submit("/stock/plate-boxes", 422, **(NEW_BOX | {field: typed}))

    assert sentence in text_of(page)
    kept = NEW_BOX | {field: typed}
    chosen = {"sees", "kept", "emulsion_faces", "box_stands"}
    assert {name: typed_in(page, name) for name in kept if name not in chosen} == {
        name: value for name, value in kept.items() if name not in chosen
    }
    assert page.select_one("#kept option[selected]")["value"] == "in a fridge"  # type: ignore[index]
    assert page.select_one("#sees option[selected]")["value"] == "red blue"  # type: ignore[index]


def test_what_the_plates_see_must_be_chosen(tomas: Visitor) -> None:
    page = tomas.submit("/stock/plate-boxes", 422, **(NEW_BOX | {"sees": ""}))
    fault = page.select_one("#sees-fault")

    assert fault is not None
    assert "fill this in" in fault.text


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ("first day", "Mon 1 Mar 2027: the pack says Mar 2027, its first day counts"),
        ("last day", "Wed 31 Mar 2027: the pack says Mar 2027, its last day counts"),
    ],
)
def test_a_month_on_the_pack_is_decided_and_the_page_says_how(
    tomas: Visitor, counts: str, words: str
) -> None:
    asked = NEW_BOX | {"box_expires_on": "2027-03", "month_counts": counts}

    assert words in text_of(tomas.submit("/stock/plate-boxes", **asked))


@pytest.mark.parametrize(
    ("kept", "words"),
    [
        ("in a fridge", "Warm-up 1 h"),
        ("in a freezer", "Warm-up 1 h 30 min"),
        ("at room temperature", "Warm-up none"),
    ],
)
def test_a_box_warms_as_long_as_its_keeping_asks_for_where_nothing_is_typed(
    tomas: Visitor, kept: str, words: str
) -> None:
    """Photographic practice: an hour from the fridge, an hour and a half from the freezer."""
    page = tomas.submit("/stock/plate-boxes", **(NEW_BOX | {"kept": kept, "warm_up_minutes": ""}))

    assert words in text_of(page)


def test_a_box_kept_warmer_than_its_pack_asks_for_says_so(tomas: Visitor) -> None:
    page = tomas.submit("/stock/plate-boxes", **(NEW_BOX | {"kept": "at room temperature"}))

    assert "The pack asks for at most 10 °C, but the box is kept at room temperature" in text_of(page)


def test_the_days_an_order_takes_are_proposed_from_the_last_box(tomas: Visitor) -> None:
    assert typed_in(tomas.page("/stock/plate-boxes"), "lead_days") == "42"
    tomas.submit("/stock/plate-boxes", **NEW_BOX)

    assert typed_in(tomas.page("/stock/plate-boxes"), "lead_days") == "35"


def test_a_cold_box_is_opened_once_its_warm_up_is_said(tomas: Visitor, box_id: int) -> None:
    address = f"/stock/plate-boxes/{box_id}"
    page = tomas.submit(f"{address}/opening", 409)
    assert "A cold plate gathers dew" in text_of(page)
    page = tomas.submit(f"{address}/opening", warmed_up="true")

    assert "open since Tue 16 Feb 2027, 08:00" in text_of(page)
    assert page.select_one("form[action$='/opening']") is None
    assert "open already" in text_of(tomas.submit(f"{address}/opening", 409, warmed_up="true"))


def test_a_box_goes_out_of_the_cold_is_opened_sealed_and_put_back(
    tomas: Visitor, server: Running, box_id: int
) -> None:
    address = f"/stock/plate-boxes/{box_id}"
    text = text_of(tomas.submit(f"{address}/warming", handled_at="08:00"))
    assert "out of the cold, warm from 09:00 on" in text
    server.clock.instant = MORNING + timedelta(minutes=59)
    assert "is warm from 09:00 on. Wait" in text_of(tomas.submit(f"{address}/opening", 409))
    server.clock.instant = MORNING + timedelta(hours=3)
    page = tomas.submit(f"{address}/opening", opened_at="9:05")
    assert "open since Tue 16 Feb 2027, 09:05" in text_of(page)
    assert "Seal it first" in text_of(tomas.submit(f"{address}/cooling", 409))
    page = tomas.submit(f"{address}/sealing", handled_at="10.30")
    assert "sealed again Tue 16 Feb 2027, 10:30 , out of the cold and warm" in text_of(page)
    page = tomas.submit(f"{address}/cooling", handled_at="")
    assert "sealed again Tue 16 Feb 2027, 10:30 , in the cold" in text_of(page)

    assert _rows(page)[:4] == [
        "Tue 16 Feb 2027, 08:00 taken out of the cold Tomas",
        "Tue 16 Feb 2027, 09:05 opened Tomas",
        "Tue 16 Feb 2027, 10:30 sealed Tomas",
        "Tue 16 Feb 2027, 11:00 put back into the cold Tomas",
    ]
    assert "A cold plate gathers dew" in text_of(tomas.submit(f"{address}/opening", 409))


@pytest.mark.parametrize(
    ("form", "field"), [("opening", "opened_at"), ("sealing", "handled_at"), ("warming", "handled_at")]
)
def test_a_time_that_is_none_is_shown_again(tomas: Visitor, box_id: int, form: str, field: str) -> None:
    if form == "sealing":
        tomas.submit(f"/stock/plate-boxes/{box_id}/opening", warmed_up="true")
    page = tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", 422, **{field: "26:00"})

    assert "a time such as 09:40" in text_of(page)
    assert typed_in(page, field) == "26:00"


def test_light_flags_the_open_box_and_a_clear_fog_test_lifts_the_flag(
    tomas: Visitor, server: Running, in_lab: InLab, box_id: int
) -> None:
    with in_lab() as session:
        shelf.box(session, "box 8")
    tomas.submit(f"/stock/plate-boxes/{box_id}/opening", warmed_up="true")
    server.clock.instant = MORNING + timedelta(hours=3)
    text = text_of(tomas.submit("/stock/light-incidents", lit_at="10:42", light_note="door opened"))
    assert (
        "Tue 16 Feb 2027, 10:42, the whole lab door opened. Logged by Tomas. box 7 , 30 left: fog test wanted"
        in text
    )
    assert "box 8" not in text
    assert "box 7 : light incident at 10:42" in text_of(tomas.page("/stock"))
    assert "light incident Tue 16 Feb 2027, 10:42, while the box was open" in text_of(
        tomas.page(f"/stock/plate-boxes/{box_id}")
    )

    page = tomas.submit(
        f"/stock/plate-boxes/{box_id}/fog-tests", fog_plates="2", result="clear", fog_note="at the lid"
    )

    assert "while the box was open" not in text_of(page)
    assert "Tue 16 Feb 2027, 11:00 fog test of 2 plates: clear at the lid Tomas" in _rows(page)
    assert "Tue 16 Feb 2027, 11:00 fog test −2 28 at the lid Tomas" in _rows(page)
    assert "light incident" not in text_of(tomas.page("/stock/plate-boxes")).replace("Light incidents", "")
    assert "box 7 , 28 left: fog test clear" in text_of(tomas.page("/stock/light-incidents"))


def test_a_fogged_box_says_that_its_rest_is_for_tests(tomas: Visitor, box_id: int) -> None:
    address = f"/stock/plate-boxes/{box_id}"
    page = tomas.submit(f"{address}/fog-tests", fog_plates="1", result="fogged")

    assert "not offered for runs any more" in text_of(page)
    assert "fogged, for tests only" in text_of(tomas.page("/stock"))
    assert "29 plates left, 0 of them" in text_of(tomas.page("/stock"))
    assert "Write which plates were tested now" in text_of(
        tomas.submit(f"{address}/fog-tests", 409, fog_plates="2", result="clear")
    )


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"fog_plates": "1", "result": ""}, "fill this in"),
        ({"fog_plates": "0", "result": "clear"}, "1 or more"),
        ({"fog_plates": "1", "result": "hazy"}, "one of the list"),
    ],
)
def test_a_fog_test_needs_its_plates_and_its_result(
    tomas: Visitor, box_id: int, typed: dict[str, str], sentence: str
) -> None:
    page = tomas.submit(f"/stock/plate-boxes/{box_id}/fog-tests", 422, **typed)

    assert sentence in text_of(page)
    assert typed_in(page, "fog_plates") == typed["fog_plates"]


def test_light_at_a_time_that_is_none_is_shown_again(tomas: Visitor) -> None:
    page = tomas.submit("/stock/light-incidents", 422, lit_at="yesterday", light_note="door")

    assert "a time such as 09:40" in text_of(page)
    assert (typed_in(page, "lit_at"), typed_in(page, "light_note")) == ("yesterday", "door")


def test_the_ledger_of_a_box_adds_up_to_what_is_left(tomas: Visitor, box_id: int) -> None:
    address = f"/stock/plate-boxes/{box_id}"
    tomas.submit(f"{address}/tests", test="test strip", test_plates="3", test_note="at S1")
    tomas.submit(f"{address}/losses", loss="dropped", lost_plates="2")
    page = tomas.submit(f"{address}/corrections", counted="24", reason="counted at the end of term")
    when = "Tue 16 Feb 2027, 08:00"

    assert _rows(page) == [
        f"{when} opened Tomas",
        f"{when} counted: 24 plates counted at the end of term Tomas",
        f"{when} arrived +30 30 Tomas",
        f"{when} test strip −3 27 at S1 Tomas",
        f"{when} lost: dropped −2 25 Tomas",
        f"{when} correction −1 24 counted at the end of term Tomas",
    ]
    assert "The entries add up to 24, which is what is left" in text_of(page)


def test_a_balance_that_is_not_its_ledgers_sum_is_shown(tomas: Visitor, in_lab: InLab, box_id: int) -> None:
    with in_lab() as session:
        session.execute(update(PlateBox).where(col(PlateBox.id) == box_id).values(plates_left=31))

    assert "The entries add up to 30, but 31 stands above" in text_of(
        tomas.page(f"/stock/plate-boxes/{box_id}")
    )


@pytest.mark.parametrize(
    ("form", "fields", "wrong", "sentence"),
    [
        ("tests", {"test": "test strip", "test_plates": "many"}, "test_plates", "whole number"),
        ("tests", {"test": "", "test_plates": "2"}, "test", "fill this in"),
        ("tests", {"test": "fog test", "test_plates": "2"}, "test", "one of the list"),
        ("losses", {"loss": "other", "lost_plates": "2", "lost_note": ""}, "loss", "what happened"),
        ("losses", {"loss": "", "lost_plates": "2", "lost_note": "gone"}, "loss", "fill this in"),
        ("losses", {"loss": "dropped", "lost_plates": "0"}, "lost_plates", "1 or more"),
        ("corrections", {"counted": "-1", "reason": "counted"}, "counted", "0 or more"),
        ("corrections", {"counted": "24", "reason": ""}, "reason", "fill this in"),
        ("corrections", {"counted": "24", "reason": " "}, "reason", "fill this in"),
        ("losses", {"loss": "other", "lost_plates": "2", "lost_note": " "}, "loss", "what happened"),
    ],
)
def test_bad_input_about_a_box_is_shown_again(
    tomas: Visitor, box_id: int, form: str, fields: dict[str, str], wrong: str, sentence: str
) -> None:
    page = tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", 422, **fields)
    fault = page.select_one(f"#{wrong}-fault")

    assert fault is not None
    assert sentence in fault.text
    typed = {name: text for name, text in fields.items() if name not in {"test", "loss"}}
    assert {name: typed_in(page, name) for name in typed} == typed


@pytest.mark.parametrize(
    ("form", "fields", "sentence"),
    [
        ("tests", {"test": "test strip", "test_plates": "31"}, "holds 30 plates, not 31"),
        ("losses", {"loss": "dropped", "lost_plates": "31"}, "holds 30 plates, not 31"),
        ("corrections", {"counted": "30", "reason": "counted"}, "nothing to correct"),
    ],
)
def test_what_the_box_cannot_give_is_refused(
    tomas: Visitor, box_id: int, form: str, fields: dict[str, str], sentence: str
) -> None:
    assert sentence in text_of(tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", 409, **fields))
    assert "30 plates left" in text_of(tomas.page(f"/stock/plate-boxes/{box_id}"))


@pytest.mark.parametrize(
    ("form", "kind", "choice"),
    [
        ("tests", "test", {"test": "test strip"}),
        ("losses", "lost", {"loss": "dropped"}),
        ("fog-tests", "fog", {"result": "clear"}),
    ],
)
def test_plates_sent_twice_are_taken_once(
    tomas: Visitor, box_id: int, form: str, kind: str, choice: dict[str, Any]
) -> None:
    taken: dict[str, Any] = {f"{kind}_plates": "2", f"{kind}_note": "at S1", **choice}
    tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", **taken)
    page = tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", 409, **taken)

    assert "The same was entered a moment ago" in text_of(page)
    tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", **(taken | {f"{kind}_note": "once more"}))
    assert "box 7 26" in text_of(tomas.page("/stock"))


@pytest.mark.parametrize("address", ["/stock/plate-boxes", "/stock/plate-boxes/1", "/stock/light-incidents"])
def test_students_never_see_the_plate_boxes(tablet: Visitor, address: str) -> None:
    assert "for the lab's staff" in text_of(tablet.page(address, 403))


@pytest.mark.parametrize(
    "form",
    [
        "plate-boxes", "light-incidents",
        *(f"plate-boxes/1/{form}" for form in ("opening", "sealing", "warming", "cooling", "fog-tests", "tests", "losses", "corrections")),
    ],
)  # fmt: skip
def test_students_never_change_the_plate_boxes(tablet: Visitor, form: str) -> None:
    tablet.submit(f"/stock/{form}", 403)


def test_another_labs_box_is_not_here(petra: Visitor, box_id: int) -> None:
    petra.page(f"/stock/plate-boxes/{box_id}", 404)
    petra.submit(f"/stock/plate-boxes/{box_id}/tests", 404, test="test strip", test_plates="1")
