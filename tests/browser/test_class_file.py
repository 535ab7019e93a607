"""Taking in a class file with a real browser."""

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Open
from tests.casts import Cast

pytestmark = pytest.mark.browser

FILE = (
    b'{"name": "One look", "periods": [[0, 600]], "places": [{"name": "A", "capacity": 1}],'
    b' "steps": [{"name": "look", "at": ["A"], "seconds": 60}], "groups": [{"name": "X", "passes": 1}]}'
)


def test_a_chosen_file_is_seen_before_it_is_taken_in(opened: Open, cast: Cast) -> None:
    page = opened("mira", width=800)
    page.goto("/class-file")
    chosen = page.get_by_label("File", exact=True)

    chosen.set_input_files({"name": "class.json", "mimeType": "application/json", "buffer": FILE[:-1]})
    expect(page.locator("#class_file")).to_have_value(FILE[:-1].decode())
    page.locator("[name=day]").fill("2027-02-23")
    page.locator("[name=starts]").fill("10:00")
    page.get_by_role("button", name="Take it in").click()

    expect(page.locator("#class_file-fault")).to_contain_text("not JSON")
    expect(page.locator("#class_file")).to_have_value(FILE[:-1].decode())
    page.get_by_label("File", exact=True).set_input_files(
        {"name": "class.json", "mimeType": "application/json", "buffer": FILE}
    )
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("heading", name="One look", level=1)).to_be_visible()
    assert cast.section_id
