"""The pages of kits over HTTP."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.core.recipe import Measure
from server.data.session import LabSession
from server.kits.actions import draw_from_bottle
from server.kits.forms import NewBottle
from server.kits.models import BLEACH
from server.kits.queries import get_bottle, list_bottles_of_kit
from tests.casts import MORNING
from tests.conftest import Visitor, words
from tests.kits import shelf
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


NEW_KIT: dict[str, Any] = {
    "kit_name": "kit 4",
    "storage": "cool cupboard",
    "store_from": "2",
    "store_to": "8",
    "makes": "2 L",
    "lead_days": "21",
    "kit_arrived_on": "2027-02-16",
    "kit_expires_on": "",
}
# Two solutions, a powder with everything that can stand on it, and a proposed name without anything beside it.
BOTTLES: dict[str, Any] = {
    "substance": ["stock A", "stock B", "bleach", "washing soda"],
    "amount": ["1 L", "0.5 L", "", "250 g"],
    "formula": ["", "", "", "Na2CO3.10H2O"],
    "purity": ["", "", "", "99.5"],
    "density": ["", "", "", ""],
    "lot": ["", "", "", "L-204"],
    "hazards": ["", "", "", "irritates eyes"],
}
PDF = b"%PDF-1.4\nnothing in it\n%%EOF\n"


def _rows(page: BeautifulSoup) -> list[str]:
    return [text_of(row) for row in page.select("tbody tr")]


@pytest.fixture
def kit_id(in_lab: InLab) -> int:
    with in_lab() as session:
        return shelf.kit(session).id


def _with(column: str, line: int, typed: str) -> dict[str, Any]:
    """The bottles with one cell changed."""
    return BOTTLES | {column: [typed if at == line else before for at, before in enumerate(BOTTLES[column])]}


def test_a_kit_is_taken_in_with_everything_that_stands_on_it(tomas: Visitor) -> None:
    page = tomas.submit("/stock/kits", **NEW_KIT, **BOTTLES)
    text = text_of(page)

    assert "stock A left 1 L stock B left 500 mL washing soda left 250 g" in text
    assert "bleach left" not in text
    assert "cool cupboard, 2 °C to 8 °C" in text
    assert "The pack says it makes 2 L of working developer" in text
    assert "From order to arrival it took 21 days" in text
    assert "washing soda 250 g Na2CO3·10H2O, 99.5 % L-204 irritates eyes missing not opened yet" in _rows(
        page
    )
    assert typed_in(tomas.page("/stock/kits"), "lead_days") == "21"


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("kit_name", "x" * 61, "at most 60 characters"),
        ("kit_name", "  ", "fill this in"),
        ("makes", "2 pints", "not a unit of volume"),
        ("lead_days", "two weeks", "whole number"),
        ("store_to", "cold", "Please write a number"),
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
    page = tomas.submit("/stock/kits", 422, **kept, **BOTTLES)

    assert sentence in text_of(page)
    assert {name: typed_in(page, name) for name in kept} == kept
    assert typed_in(page, "substance-3") == "washing soda"
    assert typed_in(page, "hazards-3") == "irritates eyes"


@pytest.mark.parametrize(
    ("column", "line", "typed", "sentence"),
    [
        ("amount", 0, "a litre", "Please write it like 250 mL or 20 g"),
        ("amount", 0, "500", "no unit"),
        ("amount", 1, "1,500 mL", "could mean two things"),
        ("amount", 1, "-5 mL", "less than nothing"),
        ("amount", 3, "0 g", "more than nothing"),
        ("amount", 3, "", "how much"),
        ("substance", 3, "", "what it holds"),
        ("formula", 3, "NA2CO3", "no element"),
        ("purity", 3, "101", "100 or less"),
        ("density", 3, "thick", "Please write a number"),
    ],
)
def test_a_bottle_with_bad_input_is_shown_again_with_everything_typed(
    tomas: Visitor, column: str, line: int, typed: str, sentence: str
) -> None:
    page = tomas.submit("/stock/kits", 422, **NEW_KIT, **_with(column, line, typed))
    fault = page.select_one("td.wrong .fault")

    assert fault is not None
    assert sentence in fault.text
    assert typed_in(page, "lot-3") == "L-204"
    assert "No kit is on the shelf" in text_of(page)


def test_two_bottles_of_one_substance_are_told_apart_where_one_is_chosen(tomas: Visitor) -> None:
    pair = {
        "substance": ["stock A", "stock A", "bleach", "washing soda"],
        "amount": ["1 L", "1 L", "", "250 g"],
    }
    page = tomas.submit("/stock/kits", **NEW_KIT, **(BOTTLES | pair))
    offered = [option.text for option in page.select("#discard_bottle_id option")]

    assert len(set(offered)) == len(offered)


def test_more_bottles_than_a_kit_has_are_asked_back(tomas: Visitor) -> None:
    many = {column: [cells[0]] * 31 for column, cells in BOTTLES.items()}

    assert "at most 30 bottles" in text_of(tomas.submit("/stock/kits", 422, **NEW_KIT, **many))


def test_a_kit_without_a_bottle_is_refused(tomas: Visitor) -> None:
    assert "at least one bottle" in text_of(tomas.submit("/stock/kits", 409, **NEW_KIT))


def test_temperatures_the_wrong_way_round_are_refused(tomas: Visitor) -> None:
    page = tomas.submit("/stock/kits", 409, **(NEW_KIT | {"store_from": "9"}), **BOTTLES)

    assert "coldest it may stand is warmer" in text_of(page)


def test_a_powder_is_discarded_in_grams_and_never_in_millilitres(tomas: Visitor, in_lab: InLab) -> None:
    kit = f"/stock/kits/{_powder(in_lab)[0]}"
    bottle_id = _powder(in_lab, "kit 10")[1]
    page = tomas.submit(
        f"{kit}/discards", 409, discard_bottle_id=bottle_id, discard_amount="20 mL", discard_note="damp"
    )
    assert "is weighed: write it like 20 g" in text_of(page)
    tomas.submit(f"{kit}/discards", discard_bottle_id=bottle_id, discard_amount="20.5 g", discard_note="damp")

    with in_lab() as session:
        assert get_bottle(session, bottle_id).left == 229_500


def _powder(in_lab: InLab, name: str = "kit 9") -> tuple[int, int]:
    """A kit of one jar, and the jar."""
    with in_lab() as session:
        kit = shelf.kit(session, name, contents=[NewBottle("metol", 250_000, Measure.MASS)])
        return kit.id, shelf.bottle(session, kit, "metol").id


def test_a_bottle_is_opened_once(tomas: Visitor, in_lab: InLab) -> None:
    kit_id, bottle_id = _powder(in_lab)
    page = tomas.submit(f"/stock/kits/{kit_id}/opening", opened_bottle_id=bottle_id)

    assert "opened Tue 16 Feb 2027, 08:00" in text_of(page)
    assert page.select_one("form[action$='/opening']") is None
    again = tomas.submit(f"/stock/kits/{kit_id}/opening", 409, opened_bottle_id=bottle_id)
    assert "open already" in text_of(again)


def test_what_stands_on_a_bottle_can_be_written_down_later(tomas: Visitor, in_lab: InLab) -> None:
    kit_id, bottle_id = _powder(in_lab)
    address = f"/stock/kits/{kit_id}/descriptions"
    tomas.submit(address, described_bottle_id=bottle_id, lot="M-17", formula="C7H9NO", purity="99.5")
    page = tomas.submit(address, described_bottle_id=bottle_id, hazards="may cause an allergic skin reaction")

    assert (
        "metol 250 g C7H9NO, 99.5 % M-17 may cause an allergic skin reaction missing not opened yet"
        in _rows(page)
    )
    assert "Nothing was written" in text_of(tomas.submit(address, 409, described_bottle_id=bottle_id))
    wrong = tomas.submit(address, 422, described_bottle_id=bottle_id, purity="0", lot="M-18")
    assert "more than 0" in text_of(wrong)
    assert typed_in(wrong, "lot") == "M-18"


def test_what_is_in_a_bottle_is_settled_by_the_first_batch(tomas: Visitor, in_lab: InLab) -> None:
    kit_id, bottle_id = _powder(in_lab)
    with in_lab() as session:
        draw_from_bottle(session, bottle_id, amount=5_000, batch_number=1, by="Tomas", now=MORNING)
    address = f"/stock/kits/{kit_id}/descriptions"

    page = tomas.submit(address, 409, described_bottle_id=bottle_id, purity="90")
    assert "stay as they are" in text_of(page)
    assert "M-17" in text_of(tomas.submit(address, described_bottle_id=bottle_id, lot="M-17"))


def test_an_empty_bottle_is_put_away_and_its_rest_is_an_entry(tomas: Visitor, in_lab: InLab) -> None:
    kit_id, bottle_id = _powder(in_lab)
    away: dict[str, Any] = {"used_up_bottle_id": bottle_id, "rest": "discarded", "used_up_note": "damp"}
    wrong = tomas.submit(f"/stock/kits/{kit_id}/used-up", 422, **(away | {"used_up_note": " "}))
    assert "fill this in" in text_of(wrong)
    page = tomas.submit(f"/stock/kits/{kit_id}/used-up", **away)

    assert "used up Tue 16 Feb 2027, 08:00" in text_of(page)
    assert "Tue 16 Feb 2027, 08:00 discarded −250 g 0 g damp Tomas" in _rows(page)
    assert "used up already" in text_of(tomas.submit(f"/stock/kits/{kit_id}/used-up", 409, **away))


def test_a_sheet_is_kept_for_every_bottle_and_given_out_as_a_download(tomas: Visitor, kit_id: int) -> None:
    address = f"/stock/kits/{kit_id}/sheets"
    given = {"sheet_bottle_id": "0", "sheet_link": "https://sds.example/kit-4"}
    answer = tomas.post(
        address, data=given, files={"sheet_file": ("C:\\sheets\\kit 4 <b>.exe", PDF, "text/html")}
    )
    page = BeautifulSoup(answer.text, "html.parser")
    links = page.select("td a")

    assert [link["href"] for link in links] == ["https://sds.example/kit-4", f"{address}/1"] * 3
    assert links[0]["rel"] == ["noopener", "noreferrer"]
    assert links[1].text == "kit 4 <b>.exe"
    kept = tomas.get(f"{address}/1")
    assert kept.content == PDF
    assert kept.headers["content-type"] == "application/pdf"
    assert kept.headers["x-content-type-options"] == "nosniff"
    assert kept.headers["content-disposition"].startswith('attachment; filename="kit 4 _b_.exe.pdf"')


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"<script>alert(1)</script>", "is no PDF, whatever its name says"),
        (b"%PDF-1.4 cut off in the middle", "is no PDF, whatever its name says"),
        (PDF[:-6] + b" " * 900_000 + b"%%EOF", "larger than 0.9 MB"),
    ],
)
def test_what_is_no_sheet_is_not_kept(tomas: Visitor, kit_id: int, content: bytes, sentence: str) -> None:
    answer = tomas.post(
        f"/stock/kits/{kit_id}/sheets",
        data={"sheet_bottle_id": "0"},
        files={"sheet_file": ("sheet.pdf", content, "application/pdf")},
    )

    assert answer.status_code == 409
    assert sentence in words(answer)
    assert "missing" in text_of(tomas.page(f"/stock/kits/{kit_id}"))


@pytest.mark.parametrize(
    "link",
    ["javascript:alert(1)", "data:text/html,x", "//sds.example", "https://", "file:///sheet", "http://a b"],
)
def test_only_addresses_on_the_web_become_links(tomas: Visitor, kit_id: int, link: str) -> None:
    page = tomas.submit(f"/stock/kits/{kit_id}/sheets", 422, sheet_bottle_id="0", sheet_link=link)

    assert "begins with https://" in text_of(page)
    assert typed_in(page, "sheet_link") == link


def test_a_sheet_needs_a_link_or_a_file_and_a_bottle_of_the_kit(tomas: Visitor, kit_id: int) -> None:
    address = f"/stock/kits/{kit_id}/sheets"

    assert "choose its file" in text_of(tomas.submit(address, 409, sheet_bottle_id="0"))
    tomas.submit(address, 404, sheet_bottle_id="999", sheet_link="https://sds.example")
    tomas.page(f"{address}/1", 404)


def test_a_discard_sent_twice_is_taken_once(tomas: Visitor, in_lab: InLab, kit_id: int) -> None:
    with in_lab() as session:
        bottle_id = list_bottles_of_kit(session, kit_id)[0].id
    spilled: dict[str, Any] = {
        "discard_bottle_id": bottle_id,
        "discard_amount": "50 mL",
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
    tomas.submit(f"{kit}/discards", discard_bottle_id=bleach, discard_amount="120 mL", discard_note="cloudy")
    page = tomas.submit(f"{kit}/corrections", bottle_id=bleach, measured="0.375 L", reason="measured")
    when = "Tue 16 Feb 2027, 08:00"

    assert _rows(page)[1:] == [
        f"{when} arrived +500 mL 500 mL Tomas",
        f"{when} discarded −120 mL 380 mL cloudy Tomas",
        f"{when} correction −5 mL 375 mL measured Tomas",
    ]
    assert "The entries add up to 375 mL, which is what is left" in text_of(page)


@pytest.mark.parametrize(
    ("form", "fields", "wrong"),
    [
        ("discards", {"discard_amount": "0 mL", "discard_note": "cloudy"}, "discard_amount"),
        ("discards", {"discard_amount": "some", "discard_note": "cloudy"}, "discard_amount"),
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
        f"/stock/kits/{kit_id}/discards",
        409,
        discard_bottle_id=bottle,
        discard_amount="1.1 L",
        discard_note="spilled",
    )
    assert "holds 1 L, not 1.1 L" in text_of(page)
    page = tomas.submit(
        f"/stock/kits/{kit_id}/corrections", 409, bottle_id=bottle, measured="1 L", reason="measured"
    )

    assert "nothing to correct" in text_of(page)


@pytest.mark.parametrize("address", ["/stock/kits", "/stock/kits/1", "/stock/kits/1/sheets/1"])
def test_students_never_see_the_kits(tablet: Visitor, address: str) -> None:
    assert "for the lab's staff" in text_of(tablet.page(address, 403))


@pytest.mark.parametrize(
    "form",
    [
        "kits",
        "kits/1/discards",
        "kits/1/corrections",
        "kits/1/opening",
        "kits/1/used-up",
        "kits/1/descriptions",
        "kits/1/sheets",
    ],
)
def test_students_never_change_the_kits(tablet: Visitor, form: str) -> None:
    tablet.submit(f"/stock/{form}", 403)


def test_another_labs_kit_is_not_here(petra: Visitor, kit_id: int) -> None:
    petra.page(f"/stock/kits/{kit_id}", 404)
