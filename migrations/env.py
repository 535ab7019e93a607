"""Alembic's environment: the address comes from the caller or from STILLROOM_DATABASE_URL."""

import importlib
import pkgutil
from typing import Any, Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from sqlalchemy import create_engine
from sqlmodel import AutoString, SQLModel

import server
from server.data.columns import UtcInstant
from server.settings import Settings

for room in pkgutil.iter_modules(server.__path__):
    if room.ispkg and any(
        file.name == "models" for file in pkgutil.iter_modules([f"{server.__path__[0]}/{room.name}"])
    ):
        importlib.import_module(f"server.{room.name}.models")


def render_item(kind: str, item: Any, _autogen: AutogenContext) -> str | Literal[False]:
    """Write column types as what they are in the database, so that old migrations never import today's code."""
    if kind == "type" and isinstance(item, UtcInstant):
        return "sa.DateTime(timezone=True)"
    if kind == "type" and isinstance(item, AutoString):
        return "sa.String()"
    return False


url = context.config.attributes.get("url") or Settings().url
engine = create_engine(url)
with engine.connect() as connection:
    context.configure(
        connection=connection,
        target_metadata=SQLModel.metadata,
        render_as_batch=True,
        compare_server_default=True,
        render_item=render_item,
    )
    with context.begin_transaction():
        if connection.dialect.name == "postgresql":
            # Two servers that start at once must not both migrate; the second waits and finds nothing to do.
            connection.exec_driver_sql("SELECT pg_advisory_xact_lock(7114020)")
        context.run_migrations()
engine.dispose()
