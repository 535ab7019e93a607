"""The command `stillroom`."""

import argparse
import socket
import sys
from pathlib import Path

from alembic import command
from alembic.config import Config

from server.clock import utc_now
from server.data.session import Database
from server.settings import Settings
from server.web.show import ROOT


def alembic_config(url: str) -> Config:
    config = Config(toml_file=ROOT / "pyproject.toml")
    config.attributes["url"] = url
    return config


def migrate(settings: Settings) -> None:
    """Bring the database to the newest schema; an embedded one is created where it is missing."""
    if not settings.database_url:
        settings.data_folder.mkdir(parents=True, exist_ok=True)
    command.upgrade(alembic_config(settings.url), "head")
