"""What a read costs: how many statements it sends and how many rows come back."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from sqlalchemy import event

from server.data.columns import LabOwned
from server.data.session import LabSession


@dataclass
class Cost:
    """`rows` counts the rows of labs' tables that were made into objects."""

    statements: int = 0
    rows: int = 0


@contextmanager
def reading(session: LabSession) -> Iterator[Cost]:
    """Count what the session reads meanwhile. Rows that it holds already are read anew if they were expired before."""
    cost = Cost()
    engine = session.get_bind().engine

    def _sent(*_of_statement: Any) -> None:
        cost.statements += 1

    def _loaded(row: object, *_context: Any) -> None:
        cost.rows += isinstance(row, LabOwned)

    event.listen(engine, "after_cursor_execute", _sent)
    for name in ("load", "refresh"):
        event.listen(LabOwned, name, _loaded, propagate=True)
    try:
        yield cost
    finally:
        event.remove(engine, "after_cursor_execute", _sent)
        for name in ("load", "refresh"):
            event.remove(LabOwned, name, _loaded)
