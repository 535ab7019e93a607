"""Bringing a database to the newest schema."""

from pathlib import Path

from alembic import command
from alembic.config import Config

from server.settings import Settings

PROJECT = Path(__file__).resolve().parents[2] / "pyproject.toml"


def alembic_config(settings: Settings) -> Config:
    """Alembic's configuration for the database that `settings` name."""
    config = Config(toml_file=PROJECT)
    config.attributes["url"] = settings.url
    return config


def migrate(settings: Settings) -> None:
    """Upgrade to the newest schema; an embedded database is created where it is missing."""
    if not settings.database_url:
        settings.data_folder.mkdir(parents=True, exist_ok=True)
    command.upgrade(alembic_config(settings), "head")
