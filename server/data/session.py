"""The database, and the session that can only see one lab.

One request is one transaction: a safe request only reads and is rolled back, any other commits when its route
returns and rolls back when it raises. On SQLite one writer at a time is let in at the door, because the driver's
own waiting sleeps; on PostgreSQL at most as many sessions are open as there are connections.
"""

from collections.abc import AsyncIterator, Iterable, Iterator
from contextlib import asynccontextmanager, contextmanager
from functools import lru_cache
from typing import Any, TypeVar

import anyio
from anyio.to_thread import run_sync
from sqlalchemy import ColumnClause, Connection, Engine, column, create_engine, event, inspect
from sqlalchemy.orm import (
    LoaderCriteriaOption,
    Mapper,
    ORMExecuteState,
    UOWTransaction,
    with_loader_criteria,
)
from sqlmodel import Session, select

from server.data.columns import LabOwned

Row = TypeVar("Row", bound=object)

ACROSS_LABS = {"across_labs": True}


class LabSession(Session):
    """A session bound to the lab in `info["lab_id"]`.

    Every query of a lab-owned table gets its lab added; without a lab, with a row of another lab, or where no lab can be
    added (plain SQL, bare tables, bulk inserts), the statement fails. Looking across labs (sign-in, joining by class code) must be asked for by name with `ACROSS_LABS`.
    """

    @property
    def lab_id(self) -> int:
        lab_id = self.info.get("lab_id")
        if not isinstance(lab_id, int):
            message = "this session is bound to no lab"
            raise TypeError(message)
        return lab_id

    def get(self, entity: type[Row] | Mapper[Row], ident: Any, **options: Any) -> Row | None:
        """As in any session; a row that was looked up across labs before is given out only in its own lab."""
        row = super().get(entity, ident, **options)
        return None if isinstance(row, LabOwned) and row.lab_id != self.lab_id else row

    def hold(self, table: type[Row], ident: int) -> Row | None:
        """The row as it is now, which nobody else changes before this transaction ends; rows that name it may still be added.

        SQLite lets in one writer at a time, so nothing is locked there.
        """
        key = inspect(table).primary_key[0]
        row: Row | None = self.exec(
            select(table).where(key == ident).with_for_update(key_share=True),
            execution_options={"populate_existing": True},
        ).one_or_none()
        return row


def tables_of_labs(parent: type[LabOwned] = LabOwned) -> Iterator[type[LabOwned]]:
    """Every table whose rows belong to a lab."""
    for child in parent.__subclasses__():
        yield child
        yield from tables_of_labs(child)


# Stands in for the column where the criterion is first looked at, on the class that all tables descend from and that is none.
_UNNAMED: ColumnClause[int] = column("lab_id")


@lru_cache(maxsize=64)
def _only_of(lab_id: int) -> LoaderCriteriaOption:
    """What adds the lab to a query of any table whose rows belong to one, however many tables there are.

    Said as a function of the class, so that a joined alias gets the lab too and not its table once more.
    """
    return with_loader_criteria(
        LabOwned, lambda owned: getattr(owned, "lab_id", _UNNAMED) == lab_id, include_aliases=True
    )


@event.listens_for(LabSession, "do_orm_execute")
def _see_one_lab(state: ORMExecuteState) -> None:
    if state.execution_options.get("across_labs"):
        return
    if state.is_insert or not state.is_orm_statement:
        message = (
            "the lab can't be added to this statement: select, update and delete by class, insert with add"
        )
        raise TypeError(message)
    session = state.session
    assert isinstance(session, LabSession)
    state.statement = state.statement.options(_only_of(session.lab_id))


@event.listens_for(LabSession, "before_flush")
def _write_one_lab(session: LabSession, _context: UOWTransaction, _instances: Any) -> None:
    for row in [*session.new, *session.dirty, *session.deleted]:
        if not isinstance(row, LabOwned):
            continue
        if row.lab_id is None:
            row.lab_id = session.lab_id
        elif session.info.get("lab_id") not in {None, row.lab_id}:
            message = f"a {type(row).__name__} of lab {row.lab_id} in a session of lab {session.lab_id}"
            raise TypeError(message)


def _prepare_sqlite(engine: Engine) -> None:
    @event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _record: Any) -> None:
        connection.isolation_level = None
        for pragma in (
            "journal_mode=WAL",
            "synchronous=FULL",
            "foreign_keys=ON",
            "busy_timeout=15000",
            # What is deleted or written over is wiped in the file too, and not only left out.
            "secure_delete=ON",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes", True)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


class Database:
    """An engine and the door to it."""

    def __init__(self, url: str, *, connections: int = 8) -> None:
        self.is_sqlite = url.startswith("sqlite")
        options: dict[str, Any] = {"connect_args": {"check_same_thread": False}} if self.is_sqlite else {}
        self.engine = create_engine(
            url, pool_size=connections, max_overflow=4, pool_pre_ping=not self.is_sqlite, **options
        )
        if self.is_sqlite:
            _prepare_sqlite(self.engine)
        # A page is put together from many queries and must not see two moments. SQLite's transactions never do.
        one_moment = {} if self.is_sqlite else {"isolation_level": "REPEATABLE READ"}
        self._reads = self.engine.execution_options(writes=False, **one_moment)
        self._writes = self.engine.execution_options(writes=True)
        self._readers = anyio.Semaphore(connections)
        self._writers = anyio.Semaphore(1) if self.is_sqlite else self._readers

    def _session(self, lab_id: int | None, *, writes: bool) -> LabSession:
        session = LabSession(self._writes if writes else self._reads, expire_on_commit=False)
        if lab_id is not None:
            session.info["lab_id"] = lab_id
        return session

    @contextmanager
    def reading(self, lab_id: int | None) -> Iterator[LabSession]:
        """A session that never commits and sees one moment of the database, that of its first query."""
        with self._session(lab_id, writes=False) as session:
            yield session

    @contextmanager
    def writing(self, lab_id: int | None) -> Iterator[LabSession]:
        """One transaction: leaving commits, raising rolls back."""
        with self._session(lab_id, writes=True) as session, session.begin():
            yield session

    def wipe(self, tables: Iterable[str]) -> None:
        """Let what was deleted from these tables, or written over, stand in the database's files no longer.

        SQLite keeps it in its journal until that begins anew, PostgreSQL in the tables until they are vacuumed.
        """
        if self.is_sqlite:
            connection = self.engine.raw_connection()
            connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
            connection.close()
        else:
            with self.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as session:
                session.exec_driver_sql(f"VACUUM {', '.join(sorted(tables))}")

    @asynccontextmanager
    async def turn(self, lab_id: int | None, *, writes: bool) -> AsyncIterator[LabSession]:
        """The same for a request, waiting for its turn without holding a thread."""
        async with self._writers if writes else self._readers:
            session = self._session(lab_id, writes=writes)
            try:
                yield session
                if writes:
                    await run_sync(session.commit)
            finally:
                with anyio.CancelScope(shield=True):
                    await run_sync(session.close)
