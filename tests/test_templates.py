"""Templates compile, are used, and follow the rules that keep pages titled, whole and safe."""

import re
from pathlib import Path

import pytest
from bs4 import BeautifulSoup

from server.web.show import ROOT, TEMPLATES

FOLDER = ROOT / "templates"
ALL = sorted(str(file.relative_to(FOLDER)) for file in FOLDER.rglob("*.html"))
PARTS = [name for name in ALL if Path(name).name.startswith("_")]
SHARED = {
    "base.html",
    "parts/fields.html",
    "parts/finding.html",
    "parts/label.html",
    "parts/label_sheet.html",
    "parts/pictograms.html",
    "parts/ending.html",
    "parts/group_fields.html",
    "parts/ledger.html",
    "parts/line_fields.html",
    "parts/reasons.html",
}
PAGES = [name for name in ALL if name not in PARTS and name not in SHARED]


def _source(name: str) -> str:
    return (FOLDER / name).read_text()


@pytest.mark.parametrize("name", ALL)
def test_it_compiles(name: str) -> None:
    assert TEMPLATES.env.get_template(name)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_has_a_title(name: str) -> None:
    assert re.search(r"{% block title %}.+?{% endblock", _source(name), re.DOTALL)


@pytest.mark.parametrize("name", PARTS)
def test_a_part_has_one_root_with_its_own_name(name: str) -> None:
    markup = BeautifulSoup(re.sub(r"{%.*?%}|{#.*?#}", "", _source(name), flags=re.DOTALL), "html.parser")
    roots = [node for node in markup.children if getattr(node, "name", None)]

    assert len(roots) == 1
    assert str(roots[0]["id"]).startswith(Path(name).stem.removeprefix("_").replace("_", "-"))  # type: ignore[index]


@pytest.mark.parametrize("name", ALL)
def test_nothing_in_it_needs_inline_script_or_style(name: str) -> None:
    """The content security policy refuses them, so they would silently do nothing."""
    assert not re.search(
        r"<style|\sstyle=|\son[a-z]+=|hx-on|<script(?![^>]*\ssrc=)|javascript:", _source(name)
    )


@pytest.mark.parametrize("name", ALL)
def test_only_drawings_of_our_own_are_put_in_unescaped(name: str) -> None:
    assert set(re.findall(r"{{\s*([^}|]+?)\s*\|\s*safe", _source(name))) <= {"page.class_link_code"}


@pytest.mark.parametrize("name", ALL)
def test_a_form_that_writes_keeps_what_was_typed(name: str) -> None:
    """It is sent by htmx, so that a refusal appears above the form and the form stays as it is."""
    forms = re.findall(r"<form[^>]*method=\"post\"[^>]*>", _source(name))
    own_way = {'action="/sign-out"', "data-outbox", "data-dark"}

    assert [
        form for form in forms if "hx-boost" not in form and not any(way in form for way in own_way)
    ] == []


def test_every_template_is_used_and_every_used_one_is_there() -> None:
    code = "\n".join(file.read_text() for file in (ROOT / "server").rglob("*.py"))
    markup = "\n".join(_source(name) for name in ALL)
    named = set(re.findall(r'"([a-z_]+(?:/[a-z_]+)?\.html)"', code + markup))

    assert named == set(ALL)
