"""A kit in a real browser: its bottles line by line, and its safety data sheet as a file."""

from pathlib import Path

from playwright.sync_api import expect

from tests.browser.conftest import Open


def test_a_kit_is_taken_in_line_by_line_and_its_sheet_is_kept_and_given_back(
    opened: Open, tmp_path: Path
) -> None:
    sheet = tmp_path / "soda.pdf"
    sheet.write_bytes(b"%PDF-1.4\nnothing in it\n%%EOF\n")
    page = opened("tomas", width=800)
    page.goto("/stock/kits")
    page.get_by_label("Name of the kit").fill("powders 2")
    page.get_by_label("Substance, line 4").fill("washing soda")
    page.get_by_label("Amount, line 4").fill("250")
    page.get_by_role("button", name="Take in the kit").click()
    expect(page.locator("td.wrong .fault")).to_contain_text("no unit")
    page.locator("td.wrong input").fill("250 g")
    page.get_by_role("button", name="Take in the kit").click()
    expect(page.get_by_role("heading", name="powders 2", level=1)).to_be_visible()

    page.get_by_label("Its file").set_input_files(sheet)
    page.get_by_role("button", name="Keep the SDS").click()
    link = page.get_by_role("link", name="soda.pdf")
    with page.expect_download() as given:
        link.click()

    assert given.value.suggested_filename == "soda.pdf"
    assert Path(given.value.path()).read_bytes() == sheet.read_bytes()
