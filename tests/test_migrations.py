"""The migrations build what the models say, and can be taken back one by one."""

from collections.abc import Iterator

import pytest
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, inspect

from server.data.schema import alembic_config, migrate
from server.settings import Settings
from tests.conftest import Databases


@pytest.fixture
def settings(databases: Databases) -> Iterator[Settings]:
    url = databases.empty()
    yield Settings(database_url=url)
    databases.drop(url)


def _tables(settings: Settings) -> set[str]:
    engine = create_engine(settings.url)
    names = set(inspect(engine).get_table_names())
    engine.dispose()
    return names


def test_nothing_differs_between_the_migrations_and_the_models(settings: Settings) -> None:
    command.check(alembic_config(settings))


def test_up_one_back_and_up_again(settings: Settings) -> None:
    complete = _tables(settings)
    command.downgrade(alembic_config(settings), "-1")
    assert _tables(settings) != complete or len(_revisions(settings)) > 1

    migrate(settings)

    assert _tables(settings) == complete
    command.check(alembic_config(settings))


def test_down_to_nothing_leaves_nothing(settings: Settings) -> None:
    command.downgrade(alembic_config(settings), "base")

    assert _tables(settings) <= {"alembic_version"}


def _revisions(settings: Settings) -> list[object]:
    return list(ScriptDirectory.from_config(alembic_config(settings)).walk_revisions())


def test_there_is_one_line_of_migrations(settings: Settings) -> None:
    assert len(ScriptDirectory.from_config(alembic_config(settings)).get_heads()) == 1
