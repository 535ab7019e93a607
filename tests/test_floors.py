"""The house keeps its floors, rooms and mirrors."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest
from fastapi.routing import APIRoute

from server.app import FEATURES
from server.people import access
from server.web.show import ROOT

SERVER = ROOT / "server"
ROOMS = [
    *sorted(file.parent.name for file in SERVER.glob("*/models.py")),
    "chances",
    "forecasts",
    "pours",
    "registers",
    "questions",
    "shelves",
    "stock",
    "today",
    "transfers",
    "waste",
    "waste_labels",
]
ROUTES = [route for feature in FEATURES for route in feature.routes if isinstance(route, APIRoute)]
LONGEST_ROUTE = 10


def _sources(*folders: str) -> list[Path]:
    return sorted(file for folder in folders for file in (ROOT / folder).rglob("*.py"))


def test_the_import_contracts_hold() -> None:
    command = [str(Path(sys.executable).with_name("lint-imports")), "--no-cache"]
    found = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)

    assert found.returncode == 0, found.stdout


def test_the_top_level_holds_exactly_what_it_should() -> None:
    """What is kept of a working copy; a copy without its history is only asked whether all is there."""
    wanted = {
        "README.md", "DEVELOPERS.md", "pyproject.toml",
        "server", "templates", "static", "tests", "migrations", "docs",
    }  # fmt: skip
    command = ["git", "ls-files"]
    kept = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False).stdout.splitlines()

    assert wanted <= {file.name for file in ROOT.iterdir()}
    assert {name.split("/")[0] for name in kept if not name.startswith(".")} <= wanted


@pytest.mark.parametrize("room", ROOMS)
def test_every_room_has_its_templates_and_tests(room: str) -> None:
    assert list((ROOT / "templates" / room).glob("*.html")), f"templates/{room} is missing"
    assert list((ROOT / "tests" / room).glob("test_*.py")), f"tests/{room} is missing"


def test_only_the_data_floor_ends_a_transaction() -> None:
    ending = [
        f"{file.relative_to(ROOT)}:{node.lineno}"
        for file in _sources("server")
        if file.parent.name != "data"
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in {"commit", "rollback"}
    ]

    assert ending == []


def test_no_route_queries_the_database_itself() -> None:
    asking = [
        str(file.relative_to(ROOT))
        for file in SERVER.glob("*/routes.py")
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.ImportFrom) and node.module in {"sqlmodel", "sqlalchemy"}
    ]

    assert asking == []


def test_no_route_is_longer_than_ten_lines() -> None:
    long = []
    for file in SERVER.glob("*/routes.py"):
        for node in ast.parse(file.read_text()).body:
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.decorator_list:
                body = node.body[1:] if ast.get_docstring(node) else node.body
                lines = (body[-1].end_lineno or 0) - body[0].lineno + 1
                if lines > LONGEST_ROUTE:
                    long.append(f"{file.parent.name}.{node.name}: {lines} lines")

    assert long == []


def test_every_flush_says_why() -> None:
    silent = [
        f"{file.relative_to(ROOT)}:{number}"
        for file in _sources("server")
        for number, line in enumerate(file.read_text().splitlines(), start=1)
        if ".flush()" in line and "  # " not in line
    ]

    assert silent == []


@pytest.mark.parametrize("route", ROUTES, ids=lambda route: f"{min(route.methods)} {route.path}")
def test_every_route_states_its_role_in_its_signature(route: APIRoute) -> None:
    roles = {access.anyone, access.member, access.technician, access.instructor, access.student}
    stated = [dependency.call for dependency in route.dependant.dependencies if dependency.call in roles]

    assert len(stated) == 1


def test_every_route_has_a_name_of_its_own() -> None:
    names = [route.name for route in ROUTES]

    assert len(names) == len(set(names))
    assert all("." in name for name in names)
