"""Labels on paper: exactly so large, with nothing cut, and a code that a phone reads."""

import re
from base64 import b64encode
from collections.abc import Iterator
from itertools import combinations

import pytest
import zxingcpp
from numpy import array, uint8
from playwright.sync_api import Page

from server.core.label_sheets import FORMATS, Format
from server.data.session import Database
from server.kits.queries import list_every_bottle
from tests.browser.conftest import Open
from tests.casts import Cast
from tests.test_access import Walk, walk_through

pytestmark = [pytest.mark.browser, pytest.mark.furnished.with_args(walk_through)]

MM_PER_PX, MM_PER_POINT = 25.4 / 96, 25.4 / 72
# Chromium rounds a page to whole pixels.
A_PIXEL_MM = 0.27

EDGES = """() => [...document.querySelectorAll('.label-edge')].map(edge => {
    const box = edge.getBoundingClientRect();
    return [box.left, box.top + scrollY, box.width, box.height];
})"""
ROWS = """() => [...document.querySelectorAll('g.label')].map(label => {
    const edge = label.querySelector('.label-edge').getBBox();
    return [...label.querySelectorAll('text')].map(text => {
        const box = text.getBBox();
        return {words: text.textContent, room: Number(text.dataset.room), width: text.getComputedTextLength(),
            box: [box.x, box.y, box.x + box.width, box.y + box.height], high: box.height,
            inside: box.x >= 0 && box.y >= 0 && box.x + box.width <= edge.width && box.y + box.height <= edge.height};
    });
})"""
GREYS = """async (picture) => {
    const image = new Image();
    image.src = 'data:image/png;base64,' + picture;
    await image.decode();
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [image.width, image.height];
    const pen = canvas.getContext('2d');
    pen.drawImage(image, 0, 0);
    const dots = pen.getImageData(0, 0, image.width, image.height).data;
    return [...Array(image.height).keys()].map(y =>
        [...Array(image.width).keys()].map(x => dots[(y * image.width + x) * 4]));
}"""


@pytest.fixture
def walk(furnished: Walk) -> Walk:
    return furnished


def _sheet(one: Format, *, first: int = 1) -> str:
    return f"/labels/sheet?format={one.key}&first={first}&batch_ids=1&batch_ids=2&charge_ids=1&bottle_ids=1"


def _papers(page: Page) -> list[tuple[float, float]]:
    """The pages of the printed file, in millimetres."""
    written = page.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([0-9.]+) ([0-9.]+)\s*\]", written)
    return [(float(width) * MM_PER_POINT, float(height) * MM_PER_POINT) for width, height in boxes]


def test_every_sheet_is_printed_in_its_own_size_with_labels_where_they_stand(
    opened: Open, walk: Walk
) -> None:
    page = opened("mira")
    for one in FORMATS:
        page.emulate_media(media="null")
        page.goto(_sheet(one, first=one.labels))
        papers = _papers(page)

        assert len(papers) == 1 + -(-3 // one.labels), one.name
        for width, height in papers:
            assert width == pytest.approx(one.page_width_um / 1000, abs=A_PIXEL_MM), one.name
            assert height == pytest.approx(one.page_height_um / 1000, abs=A_PIXEL_MM), one.name
        page.emulate_media(media="print")
        edges = page.evaluate(EDGES)
        assert len(edges) == 4
        for _left, _top, width, height in edges:
            assert width * MM_PER_PX == pytest.approx(one.width_um / 1000, abs=0.02), one.name
            assert height * MM_PER_PX == pytest.approx(one.height_um / 1000, abs=0.02), one.name
        last = one.left_um + (one.columns - 1) * (one.width_um + one.gap_x_um)
        assert edges[0][0] * MM_PER_PX == pytest.approx(last / 1000, abs=0.02), one.name
        assert edges[1][0] * MM_PER_PX == pytest.approx(one.left_um / 1000, abs=0.02), one.name


def _faults(page: Page, one: Format) -> Iterator[str]:
    for rows in page.evaluate(ROWS):
        if not rows:
            yield f"{one.name}: a label says nothing"
        for row in rows:
            if row["width"] > row["room"] or not row["inside"]:
                yield f"{one.name}: “{row['words']}” sticks out"
        for upper, lower in combinations(rows, 2):
            # A box of letters reaches a little over their size, above and below.
            if lower["box"][1] < upper["box"][3] - 0.1 * upper["high"]:
                yield f"{one.name}: “{upper['words']}” and “{lower['words']}” meet"


def test_no_row_of_a_label_is_wider_than_its_room_or_meets_another(opened: Open, walk: Walk) -> None:
    page = opened("mira")
    found: list[str] = []
    for one in FORMATS:
        page.goto(_sheet(one))
        found += _faults(page, one)

    assert found == []


def test_long_names_and_many_hazards_are_on_the_label_or_named_above_it(
    opened: Open, walk: Walk, database: Database, cast: Cast
) -> None:
    with database.writing(cast.lab_id) as session:
        for bottle, kit in list_every_bottle(session):
            kit.name = "WWWW delivery of the winter term with a name that goes on " + str(kit.id)
            bottle.lot = "LOT-2027-00000000000001"
            bottle.hazards = "H272, H301, H312, H314, H317, H330, H334, H340, H350, H360FD, H372, H410; keep away from sulfites"
    page = opened("mira")
    found: list[str] = []
    said = 0
    for one in FORMATS:
        page.goto(_sheet(one))
        found += _faults(page, one)
        on_labels = "".join(page.locator("g.label text").all_text_contents()).replace(" ", "")
        above = "".join(page.locator(".note").all_text_contents()).replace(" ", "")
        for words in ("May cause cancer.", "Fatal if inhaled.", "Causes severe skin burns and eye damage."):
            plain = words.replace(" ", "").rstrip(".")
            assert plain in on_labels or plain in above, one.name
            said += plain in on_labels

    assert found == []
    assert said


@pytest.mark.parametrize(
    ("kind", "opens"), [("batches", "Batch 1"), ("charges", "Batch 1"), ("bottles", "Kit 1")]
)
def test_a_phone_reads_the_code_and_opens_the_page(opened: Open, walk: Walk, kind: str, opens: str) -> None:
    page = opened("mira")
    page.goto(f"/labels/{kind}/1")
    picture = page.locator(".label-code").screenshot(type="png")
    greys = page.evaluate(GREYS, b64encode(picture).decode())
    found = zxingcpp.read_barcode(array(greys, dtype=uint8))
    assert found is not None
    assert found.text.startswith(page.url.split("/labels")[0])
    page.goto(found.text)

    assert opens in page.locator("h1").inner_text()


def test_what_is_for_the_screen_is_not_on_the_paper(opened: Open, walk: Walk) -> None:
    page = opened("mira")
    page.goto(_sheet(FORMATS[0]))
    page.emulate_media(media="print")

    assert page.locator("main").inner_text().strip().splitlines()[0] == "Working developer"
    assert page.locator(".label-paper").bounding_box()["x"] == 0  # type: ignore[index]


def test_labels_are_chosen_printed_and_entered(opened: Open, walk: Walk) -> None:
    page = opened("mira", width=800)
    page.goto("/labels")
    page.get_by_role("button", name="Show the sheet").click()
    page.get_by_role("heading", name="4 labels on A4, 2 × 4, 99.1 × 67.7 mm").wait_for()
    page.get_by_role("button", name="They are printed and stuck on").click()
    page.get_by_role("heading", name="Labels", exact=True).wait_for()

    assert page.locator(".state.well").count() == 4
    assert page.get_by_label("First free label").input_value() == "5"
