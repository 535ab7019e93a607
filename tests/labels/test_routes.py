"""The pages of labels over HTTP. The cellar lab's clock shows 08:00 when a test begins."""

from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest
import segno

from server.data.session import LabSession
from server.stations.actions import add_tray_line
from tests.chemistry import mixing_pages
from tests.conftest import Running, Visitor
from tests.kits import shelf
from tests.reading import text_of, typed_in

InLab = Callable[[], AbstractContextManager[LabSession]]


@pytest.fixture
def mixed(in_lab: InLab, tomas: Visitor) -> None:
    """Batch 1 is 600 mL of working developer in a bottle, of which nothing is poured yet."""
    with in_lab() as session:
        shelf.kit(session, "kit 4")
        add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)
    mixing_pages.mix(tomas)


@pytest.fixture
def poured(tomas: Visitor, mixed: None) -> None:
    """A charge of batch 1 stands in the developer tray."""
    page = tomas.page("/charges")
    tray = next(option for option in page.select("#place_id option") if "developer" in option.text)
    tomas.submit("/charges", batch_id=1, place_id=str(tray["value"]), charge_volume="200 mL")


def test_an_empty_lab_has_nothing_to_label(tomas: Visitor) -> None:
    text = text_of(tomas.page("/labels"))

    assert "No batch is alive." in text
    assert "Nothing stands in a tray." in text


def test_a_batch_s_label_says_what_it_is_and_how_long_it_lives(tomas: Visitor, mixed: None) -> None:
    text = text_of(tomas.page("/labels/batches/1"))

    for words in (
        "Working developer", "First bath of the tray line.", "Batch 1", "From 300 mL stock A (kit 4).",
        "From 300 mL stock B (kit 4).", "Made Tue 16 Feb 2027, 08:00, by Tomas.", "600 mL made.", "Cellar lab",
        "Ends Tue 16 Feb 2027, 14:00 (Europe/Berlin)", "Caustic: burns skin and eyes.", "See the SDS of stock A and of stock B",
        "Classification of the mixture: ask your safety office.",
        "A vessel for 600 mL asks for a label of at least 74 × 52 mm with pictograms of 16.1 mm.",
    ):  # fmt: skip
        assert words in text


def test_ingredients_whose_hazards_nobody_noted_refer_to_their_sheets(tomas: Visitor, mixed: None) -> None:
    text = text_of(tomas.page("/labels/batches/1"))

    assert "stock A 500 mL/L: hazards not noted, see its SDS." in text


def test_a_kit_s_bottle_has_a_label(tomas: Visitor, mixed: None) -> None:
    text = text_of(tomas.page("/labels/bottles/1"))

    assert "Stock A" in text
    assert "kit 4" in text
    assert "/stock/kits/1" in str(tomas.page("/labels/bottles/1"))


def test_what_was_printed_is_kept_and_the_next_sheet_begins_behind_it(
    server: Running, tomas: Visitor, poured: None
) -> None:
    page = tomas.page("/labels")
    assert [box["id"] for box in page.select("input[checked]")] == ["batch_ids-1", "charge_ids-1"]
    page = tomas.submit("/labels/sheet", format="a4-2x2", first=4, batch_ids=1, charge_ids=1)

    assert "labelled printed Tue 16 Feb 2027, 08:00, by Tomas." in text_of(page)
    assert page.select("input[checked]") == []
    assert page.select("#format option[selected]")[0]["value"] == "a4-2x2"
    assert typed_in(page, "first") == "2"


def test_nothing_printed_is_entered_without_a_label(tomas: Visitor, mixed: None) -> None:
    page = tomas.submit("/labels/sheet", 422, format="a4-2x2", first=1)

    assert "Choose at least one thing that gets a label." in text_of(page)


@pytest.mark.parametrize(
    ("query", "answer"),
    [
        ("asked=true", "It is for immediate use and needs no label"),
        ("asked=true&by_others=true", "It is not for immediate use and needs a label."),
        ("asked=true&past_the_shift=true", "It is not for immediate use and needs a label."),
    ],
)
def test_a_beaker_needs_a_label_unless_it_is_for_immediate_use(
    tomas: Visitor, query: str, answer: str
) -> None:
    """29 CFR 1910.1200(f)(8)."""
    assert answer in text_of(tomas.page(f"/labels?{query}"))
    assert "immediate use" not in text_of(tomas.page("/labels"))


def test_the_batch_s_own_page_leads_to_its_label(tomas: Visitor, mixed: None) -> None:
    page = tomas.page("/chemistry/batches/1")

    assert page.select_one("a[href='/labels/batches/1']") is not None


def test_a_tray_s_label_is_read_from_a_metre(tomas: Visitor, poured: None) -> None:
    """Capitals of 5 mm: name and end stand in letters of 7.14 mm."""
    page = tomas.page("/labels/charges/1")
    large = [str(text.text) for text in page.select("svg text") if float(str(text["font-size"])) > 7]

    assert " ".join(large) == "Working developer Ends 14:00"
    assert "at most 12 plates" in text_of(page)
    assert "Several people use this tray, so it is not for immediate use and carries a label." in text_of(
        page
    )


def test_a_sheet_begins_at_its_first_free_label(tomas: Visitor, poured: None) -> None:
    page = tomas.page("/labels/sheet?format=a4-2x4&first=8&batch_ids=1&charge_ids=1")

    assert "2 labels on A4, 2 × 4, 99.1 × 67.7 mm" in text_of(page)
    papers = page.select(".label-paper")
    assert [(paper["width"], paper["height"], paper["viewbox"]) for paper in papers] == [
        ("210.0mm", "297.0mm", "0 0 210.0 297.0")
    ] * 2
    assert [label["transform"] for label in page.select("g.label")] == [
        "translate(106.25 216.2)",
        "translate(4.65 13.1)",
    ]


def test_the_style_sheet_gives_every_format_its_paper(tomas: Visitor) -> None:
    answer = tomas.get("/labels/paper.css")

    assert answer.headers["content-type"].startswith("text/css")
    assert "@page a4-2x4 { size: 210mm 297mm; margin: 0; }" in answer.text
    assert "@page letter-2x5 { size: 215.9mm 279.4mm; margin: 0; }" in answer.text
    assert "@page one-105x74 { size: 105mm 74mm; margin: 0; }" in answer.text


def test_the_code_holds_the_batch_s_address(tomas: Visitor, mixed: None) -> None:
    """Each dark square of a code made anew from the address stands in the drawing, and no other."""
    path = str(tomas.page("/labels/batches/1").select(".label-code path")[0]["d"])
    address = f"{str(tomas.base_url).rstrip('/')}/chemistry/batches/1"
    rows = segno.make(address, micro=False).matrix
    wanted = {f"{x + 4} {y + 4}" for y, row in enumerate(rows) for x, dark in enumerate(row) if dark}

    assert {piece.split("h")[0] for piece in path.split("M")[1:]} == wanted
    assert "Batch 1, working developer" in text_of(tomas.page(address))


def test_a_label_that_is_smaller_than_the_bottle_asks_for_is_warned_of(tomas: Visitor, mixed: None) -> None:
    text = text_of(tomas.page("/labels/sheet?format=a4-2x4&batch_ids=1&vessel_ul=5 L"))

    assert "The label is smaller than 105 × 74 mm, which a vessel for 5 L asks for." in text
    assert "Formats that are large enough for every vessel here: A4, 2 × 2, 99.1 × 139 mm;" in text
    assert "smaller than" not in text_of(tomas.page("/labels/sheet?format=a4-2x2&batch_ids=1&vessel_ul=5 L"))


def test_what_finds_no_room_is_named_before_printing(tomas: Visitor, mixed: None) -> None:
    page = tomas.page("/labels/sheet?format=letter-3x10&batch_ids=1")

    assert "Left off for want of room:" in text_of(page)
    assert "There is no room for what must stand on it" in text_of(page)


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("format=a4-2x4", "Choose at least one thing that gets a label."),
        ("format=none&batch_ids=1", "Please choose one of the list."),
        ("first=0&batch_ids=1", "Please write 1 or more."),
        ("first=9&batch_ids=1", "A sheet of this format has 8 labels."),
        ("vessel_ul=much&batch_ids=1", "“much” is not a volume. Please write it like 250 mL or 0.25 L."),
        ("vessel_ul=0&batch_ids=1", "A bottle holds something."),
    ],
)
def test_a_sheet_that_can_t_be_drawn_is_asked_back(
    tomas: Visitor, mixed: None, query: str, sentence: str
) -> None:
    page = tomas.page(f"/labels/sheet?{query}", 422)

    assert sentence in text_of(page)
    assert typed_in(page, "first") == ("0" if "first=0" in query else "9" if "first=9" in query else "1")


def test_what_is_not_here_has_no_label(tomas: Visitor, petra: Visitor, poured: None) -> None:
    for address in (
        "/labels/batches/1",
        "/labels/charges/1",
        "/labels/sheet?batch_ids=1",
        "/labels/sheet?charge_ids=1",
        "/labels/bottles/1",
        "/labels/sheet?bottle_ids=1",
    ):
        tomas.page(address)
        petra.page(address, 404)


@pytest.mark.parametrize("address", ["", "/sheet", "/batches/1", "/charges/1", "/bottles/1", "/paper.css"])
def test_students_print_no_labels(tablet: Visitor, address: str) -> None:
    assert "for the lab's staff" in text_of(tablet.page(f"/labels{address}", 403))
