"""Reading a page as a person does."""

from bs4 import BeautifulSoup, Tag


def text_of(page: Tag) -> str:
    """The words of a page or of a part of it, without markup and line breaks."""
    return " ".join(page.get_text(" ").split())


def typed_in(page: BeautifulSoup, field: str) -> str:
    """What stands in a field."""
    found = page.select_one(f"#{field}")
    assert found is not None
    return str(found.get("value", ""))
