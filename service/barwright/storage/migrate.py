"""Bring a database to the newest shape."""

from __future__ import annotations

import time
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.exc import OperationalError

from barwright.storage.engine import make_engine
from barwright.storage.sessions import StorageUnavailableError


def migrate(url: str, up_to: str = "head") -> None:
    """Applies every migration that is still missing, up to `up_to`. A new database gets all.

    Raises StorageUnavailableError.
    """
    try:
        command.upgrade(_config(url), up_to)
    except OperationalError as error:
        raise StorageUnavailableError(str(error.orig)) from error


def check_migrated(url: str, patience_s: float = 30.0) -> None:
    """Raises OSError when the database waits for `barwright migrate`, or cannot be reached for so long."""
    engine = make_engine(url)
    give_up_at = time.monotonic() + patience_s
    try:
        while True:
            try:
                with engine.connect() as connection:
                    found = MigrationContext.configure(connection).get_current_revision()
                break
            except OperationalError:  # it may be starting, as everything does after a power cut
                if time.monotonic() > give_up_at:
                    raise
                time.sleep(0.5)
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
