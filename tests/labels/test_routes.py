"""The pages of labels over HTTP. The cellar lab's clock shows 08:00 when a test begins."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest
import segno

from server.charges.actions import pour_charge, top_up_charge
from server.chemistry.actions import check_batch
from server.core.recipe import Basis, Measure
from server.data.session import LabSession
from server.recipes.actions import add_recipe, write_edition
from server.recipes.forms import NewComponent
from server.recipes.models import Solution, Water
from server.stations.actions import add_tray_line
from server.stations.queries import list_trays_of_line
from tests.casts import MORNING
from tests.chemistry import mixing
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
        mixing.developer(session, stand_s=300)


@pytest.fixture
def poured(server: Running, tomas: Visitor, mixed: None) -> None:
    """A charge of batch 1, which has stood, is in the developer tray; the clock shows 08:05."""
    server.clock.instant = MORNING + timedelta(minutes=5)
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
        "From 300 mL stock B (kit 4).", "Made Tue 16 Feb 2027, 08:00, by Tomas; ready 08:05.", "600 mL made.", "Cellar lab",
        "Ends Tue 16 Feb 2027, 14:00 (Europe/Berlin)", "Caustic: burns skin and eyes. See the SDS of each ingredient.",
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


@pytest.mark.parametrize("address", ["/labels/batches/1", "/labels/sheet?batch_ids=1"])
def test_a_code_that_no_phone_reaches_is_told_before_it_is_printed(
    tomas: Visitor, mixed: None, address: str
) -> None:
    sentence = "which the code would open. Open this page by the address that the tablets use"
    elsewhere = tomas.get(address, headers={"Host": "lab.example"})

    assert sentence in text_of(tomas.page(address))
    assert elsewhere.status_code == 200
    assert sentence not in elsewhere.text


def test_what_was_printed_is_kept_and_the_next_sheet_begins_behind_it(
    server: Running, tomas: Visitor, poured: None
) -> None:
    page = tomas.page("/labels")
    assert [box["id"] for box in page.select("input[checked]")] == ["batch_ids-1", "charge_ids-1"]
    page = tomas.submit("/labels/sheet", format="a4-2x2", first=4, batch_ids=1, charge_ids=1)

    assert "labelled printed Tue 16 Feb 2027, 08:05, by Tomas." in text_of(page)
    assert page.select("input[checked]") == []
    assert page.select("#format option[selected]")[0]["value"] == "a4-2x2"
    assert typed_in(page, "first") == "2"


def test_a_batch_tells_whether_a_label_was_printed_for_it(tomas: Visitor, poured: None) -> None:
    assert "no label has been printed for it yet" in text_of(tomas.page("/chemistry/batches/1"))
    tomas.submit("/labels/sheet", format="a4-2x2", first=1, batch_ids=1)

    assert "Label printed Tue 16 Feb 2027, 08:05." in text_of(tomas.page("/chemistry/batches/1"))


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


def test_a_batch_may_stand_in_a_larger_bottle_and_a_tray_may_not(tomas: Visitor, poured: None) -> None:
    assert tomas.page("/labels/batches/1").select("#vessel_ul")
    assert not tomas.page("/labels/charges/1").select("#vessel_ul")


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
    fitting = tomas.page("/labels/sheet?format=a4-2x4&batch_ids=1&vessel_ul=5 L").select("main details a")
    assert (fitting[0].text, str(fitting[0]["href"])) == (
        "A4, 2 × 2, 99.1 × 139 mm",
        "/labels/sheet?format=a4-2x2&vessel_ul=5000000+%C2%B5L&batch_ids=1",
    )
    assert "smaller than" not in text_of(tomas.page(str(fitting[0]["href"])))
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
        ("batch_ids=x", "Please write a whole number, such as 12."),
        ("&".join(["batch_ids=1"] * 41), "Choose at most 40 labels at once."),
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


@pytest.fixture
def by_recipe(in_lab: InLab) -> None:
    """Batch 1 is mixed by the second edition of a recipe, from bottles with hazards, and its pH is 12.5; the tray was topped up from batch 2."""
    with in_lab() as session:
        of = shelf.kit(session, "kit 4")
        line = add_tray_line(session, name="line 1", capacity=3, light_zone_id=None, still_zone_id=None)
        shelf.bottle(session, of, "stock A").hazards = "H302, H317"
        strong = shelf.bottle(session, of, "stock B")
        strong.hazards, strong.lot = "H290 H314; keep off aluminium", "77-B"
        recipe = add_recipe(session, name="two-part developer", solution=Solution.DEVELOPER)
        for stand_s, note in ((300, ""), (600, "stands longer")):
            write_edition(
                session, recipe.id, [NewComponent("stock A", 1, Measure.PART), NewComponent("stock B", 1, Measure.PART)],
                volume_ul=1_000_000, start_ul=0, basis=Basis.MADE_UP_TO, water=Water.TAP, temperature_decicelsius=None,
                stand_s=stand_s, life_s=None, note=note, by="Tomas", now=MORNING,
            )  # fmt: skip
        first = mixing.developer(session, stand_s=600)
        check_batch(
            session,
            first.id,
            passed=True,
            ph_hundredths=1250,
            temperature_decicelsius=210,
            by="Tomas",
            now=MORNING,
        )
        second = mixing.developer(session, volume_ul=200_000)
        later = MORNING + timedelta(minutes=20)
        tray = list_trays_of_line(session, line.id)[0]
        charge = pour_charge(
            session, batch_id=first.id, place_id=tray.id, volume_ul=200_000, by="Tomas", now=later
        )
        top_up_charge(
            session, charge.id, batch_id=second.id, volume_ul=50_000, after_parts=1, by="Mira", now=later
        )


def test_a_label_names_recipe_strengths_hazards_and_the_measured_ph(tomas: Visitor, by_recipe: None) -> None:
    page = tomas.page("/labels/batches/1")
    text = text_of(page)

    for words in (
        "Two-part developer", "Working developer, first bath of the tray line.", "Recipe two-part developer, edition 2.",
        "stock A 500 mL/L: H302, H317.", "stock B 500 mL/L: H290, H314, keep off aluminium.", "Danger",
        "H314 Causes severe skin burns and eye damage.", "pH 12.5 at 21 °C: treat as corrosive.",
        "From 300 mL stock B (kit 4, lot 77-B).", "; ready 08:10.", "Signs: corrosion, exclamation mark.",
        "Classification of the mixture: ask your safety office.",
    ):  # fmt: skip
        assert words in text
    assert len(page.select("g.pictogram")) == 2


def test_a_tray_s_label_names_what_it_was_topped_up_with(tomas: Visitor, by_recipe: None) -> None:
    text = text_of(tomas.page("/labels/charges/1"))

    for words in (
        "developer, line 1, batches 1 and 2", "Ends 14:00", "Poured Tue 16 Feb 2027, 08:20, by Tomas: 200 mL of batch 1.",
        "Topped up Tue 16 Feb 2027, 08:20, by Mira: 50 mL of batch 2.", "pH 12.5 at 21 °C: treat as corrosive.",
    ):  # fmt: skip
        assert words in text
    assert text.count("stock A 500 mL/L: H302, H317.") == 2, (
        "in the drawing and below it, for both batches at once"
    )


def test_a_batch_that_failed_its_check_ends_then_on_its_label(
    in_lab: InLab, tomas: Visitor, by_recipe: None
) -> None:
    with in_lab() as session:
        check_batch(session, 1, passed=False, look="brown", by="Tomas", now=MORNING + timedelta(minutes=30))

    assert "Ends Tue 16 Feb 2027, 08:30 (Europe/Berlin)" in text_of(tomas.page("/labels/batches/1"))
