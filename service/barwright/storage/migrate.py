"""Bring a database to the newest shape."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.exc import OperationalError

from barwright.storage.engine import make_engine


def migrate(url: str, up_to: str = "head") -> None:
    """Applies every migration that is still missing, `up_to` one of them. A new database gets all."""
    command.upgrade(_config(url), up_to)


def check_migrated(url: str) -> None:
    """Raises OSError when the database cannot be reached, or waits for `barwright migrate`."""
    engine = make_engine(url)
    try:
        with engine.connect() as connection:
            found = MigrationContext.configure(connection).get_current_revision()
    except OperationalError as error:
        raise OSError(f"the database cannot be reached: {' '.join(str(error.orig).split())}") from error
    finally:
        engine.dispose()
    wanted = ScriptDirectory.from_config(_config(url)).get_current_head()
    if found != wanted:
        raise OSError(f"the database is at {found or 'nothing yet'} and has to be at {wanted}: run `barwright migrate`")


def _config(url: str) -> Config:
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["url"] = url
    return config
