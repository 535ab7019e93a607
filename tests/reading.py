"""Reading a page as a person does."""

from bs4 import BeautifulSoup


def text_of(page: BeautifulSoup) -> str:
    """The words of the page, without its markup and line breaks."""
    return " ".join(page.get_text(" ").split())


def typed_in(page: BeautifulSoup, field: str) -> str:
    """What stands in a field."""
    found = page.select_one(f"#{field}")
    assert found is not None
    return str(found.get("value", ""))
