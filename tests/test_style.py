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
