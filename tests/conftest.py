"""A real database per test, one real server over real HTTP, and the cast.

SQLite by default; with STILLROOM_DATABASE_URL every test runs on that PostgreSQL server instead, in databases of its own.
With STILLROOM_NO_SKIPS a test that would be skipped fails.
"""

import gc
import os
import shutil
import tempfile
import threading
import uuid
from collections.abc import Callable, Collection, Generator, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

import httpx
import pytest
import uvicorn
from bs4 import BeautifulSoup
from fastapi import FastAPI
from hypothesis import HealthCheck, settings
from sqlalchemy import create_engine, make_url, text
from sqlmodel import SQLModel

from server.app import create_app
from server.data.schema import migrate
from server.data.session import Database, LabSession
from server.people.access import COOKIE
from server.settings import Settings
from tests.casts import MORNING, TOKENS, Cast, fill

# A slow machine is no fault of a property: nothing here is judged by the clock. The full run tries the same examples each time.
settings.register_profile(
    "stillroom",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=bool(os.environ.get("CI")),
)
settings.load_profile("stillroom")

Made = TypeVar("Made")

MEMORY = Path("/dev/shm")  # noqa: S108 - a folder of one's own is made in it
ROOM_BYTES = 2 * 1024**3
POSTGRESQL = os.environ.get("STILLROOM_DATABASE_URL", "")
# Several runs may share one server.
EMPTY, FILLED = (f"stillroom_{kind}_{uuid.uuid4().hex[:8]}" for kind in ("empty", "filled"))


def pytest_collection_finish() -> None:
    """What was imported and collected stays to the end: nobody need look through it for rubbish again and again."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    if report.skipped and os.environ.get("STILLROOM_NO_SKIPS"):
        report.outcome = "failed"
        report.longrepr = f"skipped where nothing may be skipped: {report.longrepr}"
    return report


def _on_server(statement: str) -> None:
    engine = create_engine(Settings(database_url=POSTGRESQL).url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(statement))
    engine.dispose()


Rows = Mapping[str, Sequence[Mapping[str, Any]]]


def _rows_of(database: Database) -> Rows:
    """Every row of every table."""
    with database.engine.connect() as connection:
        return {
            table.name: [dict(row) for row in connection.execute(table.select()).mappings()]
            for table in SQLModel.metadata.sorted_tables
        }


@dataclass(frozen=True)
class Template:
    """A database to begin with: its name, its rows, and what was returned by whoever wrote them."""

    name: str
    rows: Rows
    made: Any


@dataclass(frozen=True)
class Databases:
    """Makes databases: `empty()` migrated and without rows, `filled()` with the cast in it, `prepared()` with more.

    All are copies of a template. Copying takes a PostgreSQL server long, so there a used one begins anew: its rows are deleted,
    the template's written, and the counters of its ids set.
    """

    folder: Path
    cast: Cast
    filling: Template
    spare: list[str] = field(default_factory=list)
    furnished: dict[Callable[[Database, Cast], Any], Template] = field(default_factory=dict)

    def _copy(self, template: str) -> str:
        name = f"stillroom_{uuid.uuid4().hex[:12]}"
        if POSTGRESQL:
            _on_server(f"CREATE DATABASE {name} TEMPLATE {template}")
        else:
            shutil.copy(self.folder / template, self.folder / name)
        return _address(self.folder, name)

    def empty(self) -> str:
        return self._copy(EMPTY)

    def filled(self) -> str:
        return self._from(self.filling)

    def prepared(self, prepare: Callable[[Database, Cast], Made]) -> tuple[str, Made]:
        """A filled database with what `prepare` writes into it, and what that returns. It is prepared once for all tests."""
        if prepare not in self.furnished:
            url = self._copy(FILLED)
            database = Database(url, connections=2)
            made = prepare(database, self.cast)
            rows = _rows_of(database)
            database.engine.dispose()
            self.furnished[prepare] = Template(Path(make_url(url).database or "").name, rows, made)
        template = self.furnished[prepare]
        return self._from(template), template.made

    def _from(self, template: Template) -> str:
        if not POSTGRESQL:
            return self._copy(template.name)
        url = self.spare.pop() if self.spare else self._copy(EMPTY)
        tables = SQLModel.metadata.sorted_tables
        engine = create_engine(url)
        # All in three journeys to the server: a schema has many tables, and most tests wrote to few.
        deleted = ";".join(f"DELETE FROM {table.name}" for table in reversed(tables))
        counted = ", ".join(
            f"setval(pg_get_serial_sequence('{table.name}', 'id'), (SELECT coalesce(max(id), 0) + 1 FROM {table.name}), false)"
            for table in tables
        )
        with engine.begin() as connection:
            connection.exec_driver_sql(deleted)
            for table in tables:
                if template.rows[table.name]:
                    connection.execute(table.insert(), list(template.rows[table.name]))
            connection.exec_driver_sql(f"SELECT {counted}")
        engine.dispose()
        return url

    def put_back(self, url: str) -> None:
        """A database with rows that a test has used."""
        if POSTGRESQL:
            self.spare.append(url)
        else:
            self.drop(url)

    def drop(self, url: str) -> None:
        name = make_url(url).database or ""
        if POSTGRESQL:
            _on_server(f"DROP DATABASE {name} WITH (FORCE)")
        else:
            for ending in ("", "-wal", "-shm"):
                Path(name + ending).unlink(missing_ok=True)


def _address(folder: Path, name: str) -> str:
    if POSTGRESQL:
        return make_url(Settings(database_url=POSTGRESQL).url).set(database=name).render_as_string(False)
    return f"sqlite:///{folder / name}"


def _folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """In memory where there is room for it: no test asks whether a disk keeps what was written to it."""
    if MEMORY.is_dir() and shutil.disk_usage(MEMORY).free > ROOM_BYTES:
        return Path(tempfile.mkdtemp(prefix="stillroom-", dir=MEMORY))
    return tmp_path_factory.mktemp("databases")


@pytest.fixture(scope="session")
def databases(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Databases]:
    folder = _folder(tmp_path_factory)
    for name in (EMPTY, FILLED):
        if POSTGRESQL:
            _on_server(f"CREATE DATABASE {name}")
        migrate(Settings(database_url=_address(folder, name)))
    filled = Database(_address(folder, FILLED), connections=2)
    cast = fill(filled)
    rows = _rows_of(filled)
    filled.engine.dispose()
    made = Databases(folder, cast, Template(FILLED, rows, None))
    gc.freeze()
    yield made
    for name in (EMPTY, FILLED, *(template.name for template in made.furnished.values())):
        made.drop(_address(folder, name))
    for url in made.spare:
        made.drop(url)
    shutil.rmtree(folder)


@pytest.fixture
def cast(databases: Databases) -> Cast:
    return databases.cast


@pytest.fixture
def prepared(request: pytest.FixtureRequest, databases: Databases) -> Iterator[tuple[str, Any]]:
    """The address of a database of the test's own with the cast in it, furnished where the test is marked with what furnishes it,
    and what that returned.
    """
    marker = request.node.get_closest_marker("furnished")
    url, made = (databases.filled(), None) if marker is None else databases.prepared(*marker.args)
    yield url, made
    databases.put_back(url)


@pytest.fixture
def furnished(prepared: tuple[str, Any]) -> Any:
    """What furnished the test's database returned."""
    return prepared[1]


@pytest.fixture
def database(prepared: tuple[str, Any]) -> Iterator[Database]:
    """The test's own database."""
    database = Database(prepared[0], connections=6)
    yield database
    database.engine.dispose()


@pytest.fixture
def in_lab(database: Database, cast: Cast) -> Callable[[], AbstractContextManager[LabSession]]:
    """What opens a transaction in the cellar lab that is committed at its end."""
    return lambda: database.writing(cast.lab_id)


@pytest.fixture
def session(database: Database, cast: Cast) -> Iterator[LabSession]:
    """A session in the cellar lab for tests of actions and queries; what it writes is never committed.

    On SQLite it holds the only right to write: tests over HTTP use `in_lab` instead.
    """
    with database.writing(cast.lab_id) as session:
        yield session
        session.rollback()


class Clock:
    """The server's clock, which a test may set."""

    def __init__(self) -> None:
        self.instant = MORNING

    def __call__(self) -> datetime:
        return self.instant


@dataclass(frozen=True)
class Running:
    """The one server of the test run."""

    app: FastAPI
    address: str
    clock: Clock
    answering: Collection[Any]

    def finish(self) -> None:
        """Wait until no answer is on its way and nothing goes on after one: then a database may go."""
        for _ in range(1200):
            if not self.answering and not self.app.state.tasks._tasks:
                return
            threading.Event().wait(0.05)
        pytest.fail("the server is still at work a minute after its test")


@pytest.fixture(scope="session")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    clock = Clock()
    # Whoever presses Plan is answered with the finished plan; tests of watching a search shorten this.
    settings = Settings(data_folder=tmp_path_factory.mktemp("server"), plan_seconds=2, answer_within_s=60)
    app = create_app(settings, clock=clock)
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="error"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive(), "the server did not start"
        threading.Event().wait(0.01)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield Running(app, f"http://127.0.0.1:{port}", clock, server.server_state.tasks)
    server.should_exit = True
    thread.join(timeout=10)


@pytest.fixture
def server(running: Running, database: Database) -> Iterator[Running]:
    """The server on this test's database, at the cast's morning."""
    running.app.state.database = database
    running.clock.instant = MORNING
    yield running
    running.finish()


class Visitor(httpx.Client):
    """Somebody's browser: follows redirects, sends what a browser sends with a form, and reads pages."""

    def page(self, address: str, status: int = 200) -> BeautifulSoup:
        answer = self.get(address)
        assert answer.status_code == status, f"{address} answered {answer.status_code}: {words(answer)[:600]}"
        return BeautifulSoup(answer.text, "html.parser")

    def submit(self, address: str, status: int = 200, **fields: object) -> BeautifulSoup:
        """Send a form and read the page that comes after it."""
        answer = self.post(address, data=fields)
        assert answer.status_code == status, f"{address} answered {answer.status_code}: {words(answer)[:600]}"
        return BeautifulSoup(answer.text, "html.parser")


def words(answer: httpx.Response) -> str:
    """What a person reads on the page."""
    return " ".join(BeautifulSoup(answer.text, "html.parser").get_text(" ").split())


def _visitor(server: Running, name: str = "") -> Iterator[Visitor]:
    with Visitor(
        base_url=server.address,
        headers={"Origin": server.address},
        cookies={COOKIE: TOKENS[name]} if name else {},
        follow_redirects=True,
        timeout=60,
        trust_env=False,
    ) as visitor:
        yield visitor


@pytest.fixture
def stranger(server: Running) -> Iterator[Visitor]:
    yield from _visitor(server)


@pytest.fixture
def mira(server: Running) -> Iterator[Visitor]:
    """The cellar lab's instructor."""
    yield from _visitor(server, "mira")


@pytest.fixture
def tomas(server: Running) -> Iterator[Visitor]:
    """The cellar lab's technician."""
    yield from _visitor(server, "tomas")


@pytest.fixture
def tablet(server: Running) -> Iterator[Visitor]:
    """The tablet of G1 of “Tuesday”."""
    yield from _visitor(server, "tablet")


@pytest.fixture
def other_tablet(server: Running) -> Iterator[Visitor]:
    """The tablet of G2 of “Tuesday”."""
    yield from _visitor(server, "other_tablet")


@pytest.fixture
def noor(server: Running) -> Iterator[Visitor]:
    """The attic lab's instructor."""
    yield from _visitor(server, "noor")


@pytest.fixture
def petra(server: Running) -> Iterator[Visitor]:
    """The attic lab's technician."""
    yield from _visitor(server, "petra")


@pytest.fixture
def other_lab_tablet(server: Running) -> Iterator[Visitor]:
    yield from _visitor(server, "other_lab_tablet")
