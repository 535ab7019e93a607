"""The chemistry pages as tests fill them in."""

from bs4 import BeautifulSoup

from tests.conftest import Visitor


def options(page: BeautifulSoup, field: str) -> list[tuple[str, str]]:
    return [(str(option["value"]), option.text) for option in page.select(f"#{field} option")]


def filled(page: BeautifulSoup, **changed: object) -> dict[str, object]:
    """The mixing form as the page offers it; a field that stands in every line is a list."""
    [form] = page.select("#mix-form")
    names = [str(field["name"]) for field in form.select("[name]")]
    values: dict[str, list[str]] = {name: [] for name in names}
    for field in form.select("select"):
        first = field.select_one("option[selected]") or field.select_one("option")
        values[str(field["name"])].append(str(first["value"]) if first else "")
    for field in form.select("input"):
        if field.get("type") != "checkbox":
            values[str(field["name"])].append(str(field.get("value", "")))
    in_lines = {"component", "source", "measured", "also_source", "also_measured"}
    return {
        name: found if name in in_lines else found[0] for name, found in values.items() if found
    } | changed


def mix(visitor: Visitor, status: int = 200, at: str = "/chemistry", **changed: object) -> BeautifulSoup:
    """Fill in the form as the page offers it, with the volume."""
    fields = filled(visitor.page(at), **({"volume": "600 mL"} | changed))
    return visitor.submit("/chemistry/mix", status, **fields)


def mix_bleach(visitor: Visitor, status: int = 200, **changed: object) -> BeautifulSoup:
    return mix(visitor, status, "/chemistry/mix?recipe=bleach", **({"volume": "400 mL"} | changed))
