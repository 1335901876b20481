"""Bring a database to the newest shape."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config


def migrate(url: str) -> None:
    """Applies every migration that is still missing. A new database gets all of them."""
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["url"] = url
    command.upgrade(config, "head")
