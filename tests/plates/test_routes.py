"""The pages of plate boxes over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from bs4 import BeautifulSoup
from sqlmodel import col, update

from server.data.session import LabSession
from server.plates.models import PlateBox
from tests.conftest import Visitor
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
    "warm_up_minutes": "90",
    "box_arrived_on": "2027-02-16",
    "box_expires_on": "2027-03-01",
}


def _rows(page: BeautifulSoup) -> list[str]:
    return [text_of(row) for row in page.select("tbody tr")]  # type: ignore[arg-type]


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
    text = text_of(tomas.page("/stock"))
    assert (
        "box 7 30 Mon 1 Mar 2027 13 days left 63.5 × 63 mm red and blue green 600 µJ/cm² 1 h 30 min sealed"
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
        ("box_expires_on", "March", "a date such as"),
    ],
)
def test_a_box_with_bad_input_is_shown_again_with_everything_typed(
    tomas: Visitor, field: str, typed: str, sentence: str
) -> None:
    page = tomas.submit("/stock/plate-boxes", 422, **(NEW_BOX | {field: typed}))

    assert sentence in text_of(page)
    kept = NEW_BOX | {field: typed}
    assert {name: typed_in(page, name) for name in kept if name != "sees"} == {
        name: value for name, value in kept.items() if name != "sees"
    }
    assert page.select_one("#sees option[selected]")["value"] == "red blue"  # type: ignore[index]


def test_what_the_plates_see_must_be_chosen(tomas: Visitor) -> None:
    page = tomas.submit("/stock/plate-boxes", 422, **(NEW_BOX | {"sees": ""}))
    fault = page.select_one("#sees-fault")

    assert fault is not None
    assert "fill this in" in fault.text


def test_a_box_is_opened_once_its_warm_up_is_said(tomas: Visitor, box_id: int) -> None:
    address = f"/stock/plate-boxes/{box_id}"
    page = tomas.submit(f"{address}/opening", 422)
    assert "A cold plate gathers dew" in text_of(page)
    page = tomas.submit(f"{address}/opening", warmed_up="true")

    assert "opened Tue 16 Feb 2027, 08:00" in text_of(page)
    assert page.select_one("form[action$='/opening']") is None
    assert "open already" in text_of(tomas.submit(f"{address}/opening", 409, warmed_up="true"))


def test_the_ledger_of_a_box_adds_up_to_what_is_left(tomas: Visitor, box_id: int) -> None:
    address = f"/stock/plate-boxes/{box_id}"
    tomas.submit(f"{address}/tests", test_plates="3", test_note="fog test")
    tomas.submit(f"{address}/losses", lost_plates="2", lost_note="dropped")
    page = tomas.submit(f"{address}/corrections", counted="24", reason="counted at the end of term")
    when = "Tue 16 Feb 2027, 08:00"

    assert _rows(page) == [
        f"{when} arrived +30 30 Tomas",
        f"{when} test −3 27 fog test Tomas",
        f"{when} lost −2 25 dropped Tomas",
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
        ("tests", {"test_plates": "many", "test_note": "fog test"}, "test_plates", "whole number"),
        ("losses", {"lost_plates": "2", "lost_note": ""}, "lost_note", "fill this in"),
        ("losses", {"lost_plates": "0", "lost_note": "dropped"}, "lost_plates", "1 or more"),
        ("corrections", {"counted": "-1", "reason": "counted"}, "counted", "0 or more"),
        ("corrections", {"counted": "24", "reason": ""}, "reason", "fill this in"),
        ("corrections", {"counted": "24", "reason": " "}, "reason", "fill this in"),
        ("losses", {"lost_plates": "2", "lost_note": " "}, "lost_note", "fill this in"),
    ],
)
def test_bad_input_about_a_box_is_shown_again(
    tomas: Visitor, box_id: int, form: str, fields: dict[str, str], wrong: str, sentence: str
) -> None:
    page = tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", 422, **fields)
    fault = page.select_one(f"#{wrong}-fault")

    assert fault is not None
    assert sentence in fault.text
    assert {name: typed_in(page, name) for name in fields} == fields


@pytest.mark.parametrize(
    ("form", "fields", "sentence"),
    [
        ("tests", {"test_plates": "31"}, "holds 30 plates, not 31"),
        ("losses", {"lost_plates": "31", "lost_note": "dropped"}, "holds 30 plates, not 31"),
        ("corrections", {"counted": "30", "reason": "counted"}, "nothing to correct"),
    ],
)
def test_what_the_box_cannot_give_is_refused(
    tomas: Visitor, box_id: int, form: str, fields: dict[str, str], sentence: str
) -> None:
    assert sentence in text_of(tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", 409, **fields))
    assert "30 plates left" in text_of(tomas.page(f"/stock/plate-boxes/{box_id}"))


@pytest.mark.parametrize(("form", "kind"), [("tests", "test"), ("losses", "lost")])
def test_plates_sent_twice_are_taken_once(tomas: Visitor, box_id: int, form: str, kind: str) -> None:
    taken: dict[str, Any] = {f"{kind}_plates": "2", f"{kind}_note": "fog test"}
    tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", **taken)
    page = tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", 409, **taken)

    assert "The same was entered a moment ago" in text_of(page)
    tomas.submit(f"/stock/plate-boxes/{box_id}/{form}", **(taken | {f"{kind}_note": "second fog test"}))
    assert "box 7 26" in text_of(tomas.page("/stock"))


@pytest.mark.parametrize("address", ["/stock/plate-boxes", "/stock/plate-boxes/1"])
def test_students_never_see_the_plate_boxes(tablet: Visitor, address: str) -> None:
    assert "for the lab's staff" in text_of(tablet.page(address, 403))


@pytest.mark.parametrize("form", ["", "/1/opening", "/1/tests", "/1/losses", "/1/corrections"])
def test_students_never_change_the_plate_boxes(tablet: Visitor, form: str) -> None:
    tablet.submit(f"/stock/plate-boxes{form}", 403)


def test_another_labs_box_is_not_here(petra: Visitor, box_id: int) -> None:
    petra.page(f"/stock/plate-boxes/{box_id}", 404)
    petra.submit(f"/stock/plate-boxes/{box_id}/tests", 404, test_plates="1")
