"""The papers are true: decisions have their headings, the README its two commands, and no word of where it was written."""

import re
from dataclasses import fields
from pathlib import Path

import pytest

from server.core.planning import Group, Place, Step, check, plan, read_class_file
from server.web.show import ROOT

DECISIONS = sorted((ROOT / "docs" / "decisions").glob("*.md"))
HEADINGS = ["Decision", "Context", "Consequences", "Alternatives", "Checked by"]


@pytest.mark.parametrize("file", DECISIONS, ids=lambda file: file.stem)
def test_a_decision_has_its_five_headings(file: Path) -> None:
    assert re.findall(r"^## (.+)$", file.read_text(), re.MULTILINE) == HEADINGS


def test_decisions_are_numbered_without_gaps() -> None:
    assert [int(file.name[:4]) for file in DECISIONS] == list(range(1, len(DECISIONS) + 1))


def test_the_readme_s_commands_are_one_line_each() -> None:
    text = (ROOT / "README.md").read_text()

    for name in ("demo", "tests"):
        found = re.search(rf"<!-- {name} -->\n```sh\n(.+)\n```", text)
        assert found is not None
        assert found.group(1).startswith("python3 -m venv .venv && ")


def test_every_word_of_the_glossary_stands_there_once() -> None:
    rows = re.findall(r"^\| ([^|]+?) \|", (ROOT / "docs" / "glossary.md").read_text(), re.MULTILINE)
    words = [word for row in rows[2:] for word in row.split(", ")]

    assert len(words) == len(set(words))


def test_every_decision_s_test_is_there() -> None:
    named = {
        name for file in DECISIONS for name in re.findall(r"`(tests/[\w/]+(?:\.py)?)`", file.read_text())
    }

    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []


def test_nothing_names_a_package_host() -> None:
    hosts = re.compile("|".join(("pypi" + r"\.org", "npmjs" + r"\.", "pythonhosted" + r"\.")), re.IGNORECASE)
    folders = ("server", "templates", "static/css", "static/js", "tests", "migrations", "docs")
    written = [
        file
        for file in (
            *ROOT.glob("*.*"),
            *(file for folder in folders for file in (ROOT / folder).rglob("*.*")),
        )
        if file.suffix in {".md", ".toml", ".py", ".html", ".css", ".js", ".json"}
    ]

    assert ROOT / "README.md" in written
    assert [file for file in written if hosts.search(file.read_text(encoding="utf-8"))] == []


def test_the_class_file_in_the_papers_is_planned() -> None:
    text = (ROOT / "docs" / "class-file.md").read_text()
    example = re.search(r"```json\n(.+?)```", text, re.DOTALL)
    assert example is not None
    problem = read_class_file(example.group(1))
    answer = plan(problem, seconds=2, seed=1)

    assert answer.status == "optimal"
    assert check(problem, answer) == ()


def test_every_key_of_a_class_file_is_explained() -> None:
    text = (ROOT / "docs" / "class-file.md").read_text()
    explained = set(re.findall(r"`(?:\w+\[\]\.)?(\w+)`", text))

    for shape in (Place, Step, Group):
        own = {field.name for field in fields(shape)} - {"name"}
        assert own <= explained
