"""The pages of kits over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.data.session import LabSession
from server.kits.models import BLEACH
from server.kits.queries import list_bottles_of_kit
from tests.conftest import Visitor
from tests.kits import shelf
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


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
def kit_id(in_lab: InLab) -> int:
    with in_lab() as session:
        return shelf.kit(session).id


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
        bleach = shelf.bottle(session, bleach_only, BLEACH).id
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


@pytest.mark.parametrize("address", ["/stock/kits", "/stock/kits/1"])
def test_students_never_see_the_kits(tablet: Visitor, address: str) -> None:
    assert "for the lab's staff" in text_of(tablet.page(address, 403))


@pytest.mark.parametrize("form", ["kits", "kits/1/discards", "kits/1/corrections"])
def test_students_never_change_the_kits(tablet: Visitor, form: str) -> None:
    tablet.submit(f"/stock/{form}", 403)


def test_another_labs_kit_is_not_here(petra: Visitor, kit_id: int) -> None:
    petra.page(f"/stock/kits/{kit_id}", 404)
