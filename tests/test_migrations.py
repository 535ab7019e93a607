"""The migrations build what the models say, and can be taken back one by one."""

from collections.abc import Iterator

import pytest
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, inspect, text

from server.containers.models import Source
from server.containers.queries import USUAL_GROUPS
from server.core.reactivity_chart import Group
from server.data.schema import alembic_config, migrate
from server.settings import Settings
from tests.casts import MORNING
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


def test_streams_from_before_come_to_hold_what_their_source_usually_does(settings: Settings) -> None:
    config = alembic_config(settings)
    command.downgrade(config, "5b7d0c9e41fa")
    command.downgrade(config, "-1")
    engine = create_engine(settings.url)
    with engine.begin() as connection:
        connection.execute(
            text("INSERT INTO lab (id, name, time_zone, opened_at) VALUES (1, 'cellar', 'UTC', :now)"),
            {"now": MORNING},
        )
        for number, takes in enumerate(Source, 1):
            connection.execute(
                text(
                    "INSERT INTO stream (id, lab_id, name, takes, hazards, density_assumed) VALUES (:id, 1, :takes, :takes, '', true)"
                ),
                {"id": number, "takes": takes},
            )
    migrate(settings)
    with engine.connect() as connection:
        rows = connection.execute(
            text(
                "SELECT takes, reactivity FROM stream_group JOIN stream ON stream.id = stream_id WHERE stream_group.lab_id = 1"
            )
        ).all()
    engine.dispose()

    assert {(Source(takes), Group(group)) for takes, group in rows} == {
        (source, group) for source, groups in USUAL_GROUPS.items() for group in groups
    }
