"""The chemistry pages as tests fill them in."""

from bs4 import BeautifulSoup

from tests.conftest import Visitor
from tests.reading import typed_in


def options(page: BeautifulSoup, field: str) -> list[tuple[str, str]]:
    return [(str(option["value"]), option.text) for option in page.select(f"#{field} option")]


def mix(visitor: Visitor, status: int = 200, **changed: str) -> BeautifulSoup:
    """Fill in the form as the page offers it, with the volume."""
    page = visitor.page("/chemistry")
    fields = {
        "bottle_a_id": options(page, "bottle_a_id")[0][0],
        "bottle_b_id": options(page, "bottle_b_id")[0][0],
        "volume": "600 mL",
        "mixed_at": typed_in(page, "mixed_at"),
    }
    return visitor.submit("/chemistry/developer", status, **(fields | changed))


def mix_bleach(visitor: Visitor, status: int = 200, **changed: str) -> BeautifulSoup:
    page = visitor.page("/chemistry")
    fields = {
        "bottle_id": options(page, "bottle_id")[0][0],
        "bleach_volume": "400 mL",
        "bleach_mixed_at": typed_in(page, "bleach_mixed_at"),
    }
    return visitor.submit("/chemistry/bleach", status, **(fields | changed))
