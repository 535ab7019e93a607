"""The stock pages over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date
from typing import Any

import pytest
from bs4 import BeautifulSoup
from sqlmodel import col, update

from server.data.session import LabSession
from server.stock.actions import correct_bottle, draw_from_bottle, draw_plates
from server.stock.models import PlateBox, PlateEntryKind, Substance
from server.stock.queries import list_bottles_of_kit
from tests.casts import MORNING
from tests.conftest import Visitor
from tests.reading import text_of, typed_in
from tests.stock import shelf

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
NEW_KIT: dict[str, Any] = {
    "kit_name": "kit 4",
    "stock_a": "1 L",
    "stock_b": "0.5 L",
    "bleach": "",
    "storage": "cool cupboard",
    "kit_arrived_on": "2027-02-16",
    "kit_expires_on": "",
}


def _rows(page: BeautifulSoup) -> list[str]:
    return [text_of(row) for row in page.select("tbody tr")]  # type: ignore[arg-type]


@pytest.fixture
def box_id(in_lab: InLab) -> int:
    with in_lab() as session:
        return shelf.box(session).id


@pytest.fixture
def kit_id(in_lab: InLab) -> int:
    with in_lab() as session:
        return shelf.kit(session).id


def test_an_empty_shelf_says_what_to_do(tomas: Visitor) -> None:
    text = text_of(tomas.page("/stock"))

    assert "0 plates left" in text
    assert "Take in a plate box below" in text
    assert "Take in a kit below" in text


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


def test_a_kit_is_taken_in_with_volumes_as_people_write_them(tomas: Visitor) -> None:
    text = text_of(tomas.submit("/stock/kits", **NEW_KIT))

    assert "stock A left 1 L stock B left 500 mL" in text
    assert "bleach left" not in text
    text = text_of(tomas.page("/stock"))
    assert "Working developer that can still be mixed 1 L" in text
    assert "twice the smaller of 1 L of A and 500 mL of B" in text


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("stock_a", "a litre", "Please write it like 250 mL"),
        ("stock_b", "1,500 mL", "could mean two things"),
        ("bleach", "-5 mL", "less than nothing"),
        ("kit_name", "x" * 61, "at most 60 characters"),
        ("kit_name", "  ", "fill this in"),
        ("kit_arrived_on", "", "fill this in"),
        ("kit_arrived_on", "0", "a date such as"),
        ("kit_expires_on", "9999-12-31", "between the years 2000 and 2199"),
        ("kit_expires_on", "2027-02-30", "a date such as"),
    ],
)
def test_a_kit_with_bad_input_is_shown_again_with_everything_typed(
    tomas: Visitor, field: str, typed: str, sentence: str
) -> None:
    kept = NEW_KIT | {field: typed}
    page = tomas.submit("/stock/kits", 422, **kept)

    assert sentence in text_of(page)
    assert {name: typed_in(page, name) for name in kept} == kept


def test_a_kit_without_volumes_is_refused(tomas: Visitor) -> None:
    page = tomas.submit("/stock/kits", 409, **(NEW_KIT | {"stock_a": "", "stock_b": ""}))

    assert "at least one bottle" in text_of(page)


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


def test_a_discard_sent_twice_is_taken_once(tomas: Visitor, in_lab: InLab, kit_id: int) -> None:
    with in_lab() as session:
        bottle_id = list_bottles_of_kit(session, kit_id)[0].id
    spilled: dict[str, Any] = {
        "discard_bottle_id": bottle_id,
        "discard_volume": "50 mL",
        "discard_note": "spilled",
    }
    tomas.submit(f"/stock/kits/{kit_id}/discards", **spilled)

    assert "a moment ago" in text_of(tomas.submit(f"/stock/kits/{kit_id}/discards", 409, **spilled))
    assert "stock A left 950 mL" in text_of(tomas.page(f"/stock/kits/{kit_id}"))


def test_the_ledger_of_a_bottle_adds_up_to_what_is_left(tomas: Visitor, in_lab: InLab) -> None:
    with in_lab() as session:
        bleach_only = shelf.kit(session, "kit 9", stock_a_ul=0, stock_b_ul=0)
        bleach = shelf.bottle(session, bleach_only, Substance.BLEACH).id
    kit = f"/stock/kits/{bleach_only.id}"
    tomas.submit(f"{kit}/discards", discard_bottle_id=bleach, discard_volume="120 mL", discard_note="cloudy")
    page = tomas.submit(f"{kit}/corrections", bottle_id=bleach, measured="0.375 L", reason="measured")
    when = "Tue 16 Feb 2027, 08:00"

    assert _rows(page) == [
        f"{when} arrived +500 mL 500 mL Tomas",
        f"{when} discarded −120 mL 380 mL cloudy Tomas",
        f"{when} correction −5 mL 375 mL measured Tomas",
    ]
    assert "The entries add up to 375 mL, which is what is left" in text_of(page)


@pytest.mark.parametrize(
    ("form", "fields", "wrong"),
    [
        ("discards", {"discard_volume": "0 mL", "discard_note": "cloudy"}, "discard_volume"),
        ("discards", {"discard_volume": "some", "discard_note": "cloudy"}, "discard_volume"),
        ("corrections", {"measured": "380 pints", "reason": "measured"}, "measured"),
        ("corrections", {"measured": "380 mL", "reason": ""}, "reason"),
    ],
)
def test_bad_input_about_a_bottle_is_shown_again(
    tomas: Visitor, kit_id: int, form: str, fields: dict[str, str], wrong: str
) -> None:
    field = "discard_bottle_id" if form == "discards" else "bottle_id"
    options = tomas.page(f"/stock/kits/{kit_id}").select(f"#{field} option")
    page = tomas.submit(f"/stock/kits/{kit_id}/{form}", 422, **fields, **{field: str(options[1]["value"])})

    assert page.select_one(f"#{wrong}-fault") is not None
    assert {name: typed_in(page, name) for name in fields} == fields
    assert page.select_one(f"#{field} option[selected]")["value"] == options[1]["value"]  # type: ignore[index]


def test_more_than_a_bottle_holds_is_not_discarded(tomas: Visitor, kit_id: int) -> None:
    bottle = tomas.page(f"/stock/kits/{kit_id}").select("#bottle_id option")[0]["value"]
    page = tomas.submit(
        f"/stock/kits/{kit_id}/discards", 409, discard_bottle_id=bottle, discard_volume="1.1 L"
    )
    assert "holds 1 L, not 1.1 L" in text_of(page)
    page = tomas.submit(
        f"/stock/kits/{kit_id}/corrections", 409, bottle_id=bottle, measured="1 L", reason="measured"
    )

    assert "nothing to correct" in text_of(page)


def test_expired_and_used_up_things_are_told_apart(tomas: Visitor, in_lab: InLab) -> None:
    with in_lab() as session:
        shelf.box(session, "old box", expires_on=date(2027, 2, 15))
        shelf.kit(session, "old kit", expires_on=date(2027, 2, 15), stock_b_ul=0, bleach_ul=0)
    text = text_of(tomas.page("/stock"))

    assert "30 plates left, 0 of them in boxes that are not expired" in text
    assert "expired Mon 15 Feb 2027: plate box “old box”" in text
    assert "short of plates: 0 plates may be used, the last delivery brought 30 plates" in text
    assert "short of stock A: 0 mL may be used" in text


@pytest.mark.parametrize("address", ["/stock", "/stock/plate-boxes/1", "/stock/kits/1"])
def test_students_never_see_the_stock(tablet: Visitor, address: str) -> None:
    assert "for the lab's staff" in text_of(tablet.page(address, 403))


@pytest.mark.parametrize(
    "form",
    [
        "kits", "plate-boxes", "kits/1/discards", "kits/1/corrections", "plate-boxes/1/opening",
        "plate-boxes/1/tests", "plate-boxes/1/losses", "plate-boxes/1/corrections",
    ],
)  # fmt: skip
def test_students_never_change_the_stock(tablet: Visitor, form: str) -> None:
    tablet.submit(f"/stock/{form}", 403)


def test_another_labs_box_and_kit_are_not_here(petra: Visitor, box_id: int, kit_id: int) -> None:
    petra.page(f"/stock/plate-boxes/{box_id}", 404)
    petra.page(f"/stock/kits/{kit_id}", 404)
    petra.submit(f"/stock/plate-boxes/{box_id}/tests", 404, test_plates="1")


def test_the_terms_account_names_the_box_whose_plates_are_missing(tomas: Visitor, in_lab: InLab) -> None:
    """Worked by hand: bought 90; 71 runs, 9 tests and 2 dropped are 82; counted 6, so 2 are missing, both of box 8."""
    with in_lab() as session:
        boxes = [shelf.box(session, f"box {number}").id for number in (7, 8, 9)]
        used = (
            (boxes[0], 28, PlateEntryKind.RUN),
            (boxes[0], 2, PlateEntryKind.LOST),
            (boxes[1], 25, PlateEntryKind.RUN),
            (boxes[1], 1, PlateEntryKind.TEST),
            (boxes[2], 18, PlateEntryKind.RUN),
            (boxes[2], 8, PlateEntryKind.TEST),
        )
        for box_id, plates, kind in used:
            draw_plates(session, box_id, plates=plates, kind=kind, by="Tomas", now=MORNING)
    assert "0 plates are missing" in text_of(tomas.page("/stock/account"))

    tomas.submit(f"/stock/plate-boxes/{boxes[1]}/corrections", counted="2", reason="term end")

    page = tomas.page("/stock/account")
    assert "2 plates are missing" in text_of(page)
    assert "= 90 − 71 − 9 − 2 − 6 = 2" in text_of(page)
    assert "box 8 30 25 1 0 2 2" in _rows(page)
    assert "All boxes 90 71 9 2 6 2" in _rows(page)


def test_the_terms_account_judges_what_is_unexplained_of_a_solution(tomas: Visitor, in_lab: InLab) -> None:
    """Worked by hand: 2 L bought, 1.55 L mixed, 0.40 L measured: 50 mL or 2.5 % are unexplained, within 5 %."""
    with in_lab() as session:
        kit = shelf.kit(session, stock_a_ul=2_000_000)
        stock_a, stock_b = (
            shelf.bottle(session, kit, kind) for kind in (Substance.STOCK_A, Substance.STOCK_B)
        )
        draw_from_bottle(session, stock_a.id, volume_ul=1_550_000, batch_number=1, by="Tomas", now=MORNING)
        for bottle, measured_ul in ((stock_a, 400_000), (stock_b, 900_000)):
            correct_bottle(
                session, bottle.id, measured_ul=measured_ul, reason="term end", by="Tomas", now=MORNING
            )

    rows = _rows(tomas.page("/stock/account"))

    assert "stock A 2 L 1.55 L 0 mL 400 mL 50 mL (2.5 %) within 5 %" in rows
    assert "stock B 1 L 0 mL 0 mL 900 mL 100 mL (10.0 %) more than 5 %: ask" in rows


def test_an_account_without_stock_says_what_to_do(tomas: Visitor) -> None:
    assert "Take the first one in under Stock" in text_of(tomas.page("/stock/account"))
