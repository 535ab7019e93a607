"""Lint, format, strict types and template checks, in the same command as the tests."""

import subprocess
import sys
from pathlib import Path

import pytest

from server.web.show import ROOT

BINARIES = Path(sys.executable).parent


@pytest.mark.parametrize(
    "command",
    [
        ["ruff", "check", "."],
        ["ruff", "format", "--check", "."],
        ["mypy"],
        ["djlint", "--lint", "templates"],
    ],
    ids=" ".join,
)
def test_it_finds_nothing(command: list[str]) -> None:
    found = subprocess.run(
        [str(BINARIES / command[0]), *command[1:]], cwd=ROOT, capture_output=True, text=True, check=False
    )

    assert found.returncode == 0, found.stdout + found.stderr


@pytest.mark.parametrize("file", sorted((ROOT / "static" / "css").glob("*.css")), ids=lambda file: file.name)
def test_every_block_of_a_style_sheet_is_closed_before_the_next_comment(file: Path) -> None:
    """A browser skips everything behind a block that stays open, and says nothing."""
    depth, faults = 0, []
    for number, line in enumerate(file.read_text().splitlines(), 1):
        if line.startswith("/*") and depth:
            faults.append(number)
        depth += line.count("{") - line.count("}")

    assert (faults, depth) == ([], 0)
