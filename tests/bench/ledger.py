"""What a container's pages cost with a ledger of a million entries beside what they cost with a thousand.

Each ledger has a database and a server process of its own; the two are asked in turn over HTTP on this machine, so that whatever else
the machine does meets both. On SQLite, and on the PostgreSQL server that STILLROOM_DATABASE_URL names if it names one.
"""

import os
import time
from collections import defaultdict
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

import httpx
from sqlalchemy import Engine, create_engine, make_url, text

from server.containers.actions import add_usual_streams, set_out_container
from server.containers.models import Source
from server.containers.queries import list_streams, list_unbalanced
from server.data.schema import migrate
from server.data.session import Database
from server.settings import Settings
from tests.bench.pages import browser_of, serving
from tests.casts import MORNING, fill
from tests.prep.days import furnish, publish_rounds

SHORT, LONG = 1_000, 1_000_000
WARM, REQUESTS = 20, 200
SIZE_UL = 2_000_000_000
MINUTES_APART = 5
OF_CLASS = 50

# Of ten entries eight pours in a row, one that takes the last of them back, and one pour that was only estimated; the last fifty come
# from last week's class.
ENTRIES = """
INSERT INTO waste_entry (
    lab_id, id, tablet_id, container_id, kind, source, change_ul, change_mg, typed, method, uncertainty_ul,
    held_after_ul, held_after_mg, rotation_id, reverses_id, over_line_reason, note, happened_at, entered_at, entered_by
)
WITH RECURSIVE numbers (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM numbers WHERE n < {entries}),
entries AS (
    SELECT
        n,
        CASE WHEN n % 10 = 9 THEN -1000 ELSE 1000 END AS change,
        1000 * (8 * (n / 10) + CASE WHEN n % 10 = 9 THEN 7 ELSE n % 10 END) AS held,
        {instant} AS at
    FROM numbers
)
SELECT
    {lab}, n, 'bench-' || n, {container}, CASE WHEN n % 10 = 9 THEN 'correction' ELSE 'pour' END, 'rinse',
    change, change, '1 mL', CASE WHEN n % 10 = 0 THEN 'estimate' ELSE 'graduate' END, 500,
    held, held, CASE WHEN n > {entries} - {of_class} THEN {rotation} END, CASE WHEN n % 10 = 9 THEN n - 1 END, '', '', at, at, 'Tomas'
FROM entries
"""
EVENTS = """
INSERT INTO container_event (lab_id, container_id, state, note, happened_at, noted_by)
WITH RECURSIVE numbers (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM numbers WHERE n < {entries} / 10)
SELECT {lab}, {container}, CASE WHEN n % 2 = 0 THEN 'open' ELSE 'closed' END, '', {instant}, 'Tomas' FROM numbers
"""
HOLDS = """
UPDATE waste_container SET state = 'open', held_ul = entry.held_after_ul, held_mg = entry.held_after_mg, estimated_ul = {estimated},
    first_pour_at = (SELECT min(happened_at) FROM waste_entry)
FROM waste_entry AS entry WHERE entry.id = {entries} AND waste_container.id = {container}
"""

Times = dict[str, list[float]]


@dataclass(frozen=True)
class Ledger:
    """A database with a ledger in it, and the addresses of the pages that are measured on it."""

    url: str
    pages: Mapping[str, str]


def _instant(engine: Engine, entries: int) -> str:
    """The instant of entry n in the database's own words: the last one happened this morning."""
    if engine.dialect.name == "sqlite":
        return f"strftime('%Y-%m-%d %H:%M:%S.000000', '{MORNING:%Y-%m-%d %H:%M:%S}', ((n - {entries}) * {MINUTES_APART}) || ' minutes')"
    return f"timestamptz '{MORNING.isoformat()}' + (n - {entries}) * interval '{MINUTES_APART} minutes'"


def _filled(url: str, entries: int) -> Ledger:
    settings = Settings(database_url=url)
    migrate(settings)
    database = Database(settings.url)
    cast = fill(database)
    with database.writing(cast.lab_id) as session:
        add_usual_streams(session)
        rinse = next(stream for stream in list_streams(session) if stream.takes == Source.RINSE)
        carboy = set_out_container(
            session, stream_id=rinse.id, name="Rinse 1", size_ul=SIZE_UL, by="Tomas", now=MORNING
        )
        furnish(session)
        rotation_id = publish_rounds(
            session, cast.section_id, name="last week", starts_at=MORNING - timedelta(days=7)
        )
    words = {
        "lab": cast.lab_id, "container": carboy.id, "entries": entries, "estimated": 1_000 * (entries // 10),
        "rotation": rotation_id, "of_class": OF_CLASS,
        "instant": _instant(database.engine, entries),
    }  # fmt: skip
    with database.engine.begin() as connection:
        for statement in (ENTRIES, EVENTS, HOLDS):
            connection.execute(text(statement.format(**words)))
    _tidied(database.engine)
    with database.reading(cast.lab_id) as session:
        assert list_unbalanced(session) == []
    database.engine.dispose()
    return Ledger(
        url,
        {
            "the container": f"/waste/containers/{carboy.id}",
            "older entries": f"/waste/containers/{carboy.id}?before={entries // 2}",
            "the overview": "/waste",
            "its life": f"/waste/containers/{carboy.id}/life",
            "the register": "/waste/register",
            "of one container": "/waste/register?container=Rinse+1",
            "Today": "/",
            "logging a pour": f"/waste/pour?container_id={carboy.id}",
        },
    )


def _tidied(engine: Engine) -> None:
    """As a server leaves its tables by itself a little while after so much was written."""
    if engine.dialect.name == "sqlite":
        with engine.connect() as connection:
            connection.exec_driver_sql("COMMIT")
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        return
    numbers = "SELECT setval('waste_entry_id_seq', (SELECT max(id) FROM waste_entry))"
    with engine.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
        connection.exec_driver_sql(numbers)
        connection.exec_driver_sql("VACUUM ANALYZE")


@contextmanager
def _databases(server: str) -> Iterator[list[str]]:
    """Two empty databases for as long as they are needed: on the PostgreSQL server, or files."""
    if not server:
        with TemporaryDirectory() as folder:
            yield [f"sqlite:///{Path(folder) / name}.sqlite3" for name in ("short", "long")]
        return
    address = make_url(Settings(database_url=server).url)
    engine = create_engine(address, isolation_level="AUTOCOMMIT")
    names = [f"stillroom_bench_{os.getpid()}_{name}" for name in ("short", "long")]
    try:
        with engine.connect() as connection:
            for name in names:
                connection.exec_driver_sql(f"CREATE DATABASE {name}")
        yield [address.set(database=name).render_as_string(hide_password=False) for name in names]
    finally:
        with engine.connect() as connection:
            for name in names:
                connection.exec_driver_sql(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        engine.dispose()


def _asked(browser: httpx.Client, address: str) -> float:
    began = time.perf_counter()
    browser.get(address).raise_for_status()
    return 1000 * (time.perf_counter() - began)


def _in_turn(short: httpx.Client, long: httpx.Client, ledgers: list[Ledger]) -> tuple[Times, Times]:
    """Each page of both, the one first and then the other."""
    times: tuple[Times, Times] = (defaultdict(list), defaultdict(list))
    for turn in range(WARM + REQUESTS):
        for name in ledgers[0].pages:
            both = list(zip((short, long), ledgers, times, strict=True))
            for browser, ledger, kept in both if turn % 2 else reversed(both):
                took = _asked(browser, ledger.pages[name])
                if turn >= WARM:
                    kept[name].append(took)
    return times


def measured() -> Iterator[str]:
    """The table, line by line."""
    yield f"{'database':12} {'page':16} {'asked':>6} {f'{SHORT:,}':>12} {f'{LONG:,}':>12} {'ratio':>7}"
    servers = {"SQLite": "", "PostgreSQL": os.environ.get("STILLROOM_DATABASE_URL", "")}
    for kind, server in servers.items():
        if kind == "PostgreSQL" and not server.startswith("postgres"):
            yield "PostgreSQL   left out: name its server with STILLROOM_DATABASE_URL"
            continue
        with ExitStack() as stack:
            urls = stack.enter_context(_databases(server))
            ledgers = [_filled(url, entries) for url, entries in zip(urls, (SHORT, LONG), strict=True)]
            short, long = (
                stack.enter_context(browser_of(stack.enter_context(serving(ledger.url))))
                for ledger in ledgers
            )
            few, many = _in_turn(short, long, ledgers)
        for name, times in few.items():
            one, other = median(times), median(many[name])
            yield f"{kind:12} {name:16} {len(times):6} {one:9.2f} ms {other:9.2f} ms {other / one:7.2f}"
