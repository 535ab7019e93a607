"""The command `stillroom`, run as people run it."""

import json
import os
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from sqlalchemy import update
from sqlmodel import create_engine

from server.chemistry.models import Batch
from server.containers.models import WasteContainer
from server.core.planning import check, read_class_file
from server.core.planning.answer import Plan, Unplaced, Visit
from server.plates.models import PlateBox
from server.web.show import ROOT

INSTANCES = sorted((ROOT / "tests" / "core" / "planning" / "instances").glob("*.json"))


def _environment() -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("STILLROOM_")}
    return {**kept, "PYTHONUNBUFFERED": "1"}


def _stillroom(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "server", *words]
    return subprocess.run(
        command, cwd=ROOT, env=_environment(), capture_output=True, text=True, check=False, timeout=120
    )


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def _serving(*words: str) -> Iterator[str]:
    """The running command; what it printed up to the line that ends its greeting."""
    command = [sys.executable, "-m", "server", *words]
    with subprocess.Popen(
        command, cwd=ROOT, env=_environment(), stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            assert process.stdout is not None
            told = ""
            while not re.search(r"Stop with|set-up\?code=", told):
                line = process.stdout.readline()
                assert line, told
                told += line
            yield told
        finally:
            process.terminate()
            process.wait(timeout=20)


def _visit(address: str) -> httpx.Client:
    transport = httpx.HTTPTransport(retries=5)
    return httpx.Client(
        base_url=address,
        headers={"Origin": address},
        follow_redirects=True,
        transport=transport,
        trust_env=False,
        timeout=30,
    )


@pytest.mark.parametrize("file", INSTANCES, ids=lambda file: file.stem)
def test_every_shipped_class_file_is_planned_and_the_plan_is_valid(file: Path) -> None:
    told = _stillroom("plan", str(file), "--seconds", "2", "--json")
    answer = json.loads(told.stdout)

    assert set(answer) == {"status", "makespan_s", "bound_s", "visits", "unplaced", "reasons", "whiteboard_s"}
    plan = Plan(
        status=answer["status"],
        makespan_s=answer["makespan_s"],
        bound_s=answer["bound_s"],
        visits=tuple(
            Visit(one["group"], one["pass"], one["step"], one["place"], one["start_s"], one["end_s"])
            for one in answer["visits"]
        ),
        unplaced=tuple(Unplaced(one["group"], one["pass"]) for one in answer["unplaced"]),
        reasons=tuple(answer["reasons"]),
        whiteboard_s=answer["whiteboard_s"],
    )

    assert check(read_class_file(file.read_text()), plan) == ()


def test_the_class_files_of_labs_and_of_published_shops_are_there() -> None:
    names = {file.stem for file in INSTANCES}

    assert {"shop-ft06-optimum-55", "shop-la01-optimum-666", "typical-8-groups-2-stations"} <= names
    assert len(names) >= 8


def test_the_table_for_the_wall_names_the_finish() -> None:
    told = _stillroom("plan", str(ROOT / "tests/core/planning/instances/small-4-groups-1-station.json"))

    assert told.returncode == 0
    assert "Finish" in told.stdout
    assert "It ends at" in told.stdout
    assert "G4" in told.stdout


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "line 1"),
        ('{"name": "x"}', "periods"),
        ("[]", ""),
        (
            (
                '{"name": "x", "periods": [[0, -5]], "places": [{"name": "S1", "capacity": 1}],'
                ' "steps": [{"name": "a", "at": ["S1"], "seconds": 5}], "groups": [{"name": "G1", "passes": 1}]}'
            ),
            "periods",
        ),
    ],
)
def test_a_bad_class_file_leaves_with_status_2_and_one_line(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "class.json"
    file.write_text(text)
    told = _stillroom("plan", str(file))

    assert told.returncode == 2
    assert told.stdout == ""
    assert said in told.stderr
    assert len(told.stderr.strip().splitlines()) == 1


def test_a_missing_class_file_leaves_with_status_2_and_one_line(tmp_path: Path) -> None:
    told = _stillroom("plan", str(tmp_path / "none.json"))

    assert (told.returncode, len(told.stderr.strip().splitlines())) == (2, 1)


def test_the_demo_prints_its_sign_ins_and_a_second_start_keeps_the_data(tmp_path: Path) -> None:
    port = str(_free_port())
    with _serving("demo", "--data", str(tmp_path / "data"), "--port", port) as told:
        assert str(tmp_path / "data") in told
        address = re.search(r"Open +(\S+)", told).group(1)  # type: ignore[union-attr]
        email, password = re.search(r"Instructor +(\S+) +password: (.+)", told).groups()  # type: ignore[union-attr]
        with _visit(address) as visit:
            page = visit.post("/sign-in", data={"email": email, "password": password, "next": "/people"})
            assert "Tuesday morning" in page.text
            visit.post("/people/sections", data={"name": "Kept over night"})
            assert "First hologram" in visit.get("/rotations").text
        technician, password = re.search(r"Technician +(\S+) +password: (.+)", told).groups()  # type: ignore[union-attr]
        with _visit(address) as visit:
            page = visit.post("/sign-in", data={"email": technician, "password": password, "next": "/waste"})
            assert "Rinse 1" in page.text
        link = re.search(r"Students +(\S+)", told).group(1)  # type: ignore[union-attr]
        with _visit(address) as visit:
            assert "G1" in visit.get(link).text

    with _serving("demo", "--data", str(tmp_path / "data"), "--port", port) as again:
        assert again == told
        with _visit(address) as visit:
            page = visit.post(
                "/sign-in", data={"email": email, "password": "green light only", "next": "/people"}
            )
            assert "Kept over night" in page.text

    engine = create_engine(f"sqlite:///{tmp_path / 'data' / 'stillroom.sqlite3'}")
    assert "equals its ledger" in _stillroom("audit", "--data", str(tmp_path / "data")).stdout
    with engine.begin() as connection:
        connection.execute(update(PlateBox).values(plates_left=PlateBox.plates_left + 1))
        connection.execute(update(Batch).values(left_ul=Batch.left_ul - 1000))
        connection.execute(update(WasteContainer).values(held_ul=WasteContainer.held_ul + 1000))
    engine.dispose()
    found = _stillroom("audit", "--data", str(tmp_path / "data"))

    assert found.returncode == 1
    for name in ("Box 1", "atch 1", "Rinse 1"):
        assert name in found.stdout


def test_a_new_server_is_set_up_with_the_code_it_prints(tmp_path: Path) -> None:
    port = _free_port()
    with _serving("serve", "--data", str(tmp_path), "--port", str(port)) as told:
        link = re.search(r"(http://\S+)/set-up\?code=(\S+)", told)
        assert link is not None
        with _visit(link.group(1)) as visit:
            assert "Set up your lab" in visit.get("/").text
            lab = {
                "lab_name": "Cellar lab", "time_zone": "Europe/Berlin", "name": "Mira", "email": "mira@lab.example",
                "password": "correct horse battery",
            }  # fmt: skip
            refused = visit.post("/set-up", data={"code": "WRONGCODE", **lab})
            assert refused.status_code == 409
            assert "not known or was used" in refused.text
            page = visit.post("/set-up", data={"code": link.group(2), **lab})
            assert "Cellar lab" in page.text
            again = visit.post("/set-up", data={"code": link.group(2), **lab, "email": "x@lab.example"})
            assert again.status_code == 409


def test_a_taken_port_is_said_in_a_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        told = _stillroom("serve", "--data", str(tmp_path), "--port", str(taken.getsockname()[1]))

    assert told.returncode == 1
    assert "Choose another port" in told.stderr
    assert "Traceback" not in told.stderr
