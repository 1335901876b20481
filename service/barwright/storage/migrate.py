"""Bring a database to the newest shape."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config


def migrate(url: str, up_to: str = "head") -> None:
    """Applies every migration that is still missing, `up_to` one of them. A new database gets all."""
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["url"] = url
    command.upgrade(config, up_to)
