"""A SQLite database copied while others write to it."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy.engine import make_url

from barwright.storage.raw_objects import StoredObject
from barwright.storage.sessions import StorageFullError, StorageUnavailableError


def file_of(url: str) -> Path | None:
    """The file of a SQLite database URL; None for one in memory or of another kind."""
    parsed = make_url(url)
    if parsed.get_backend_name() != "sqlite" or not parsed.database or parsed.database == ":memory:":
        return None
    return Path(parsed.database)


def copy_database(source: Path, target: Path) -> None:
    """The database as it is at one moment, in one file and on the disk when this returns; writers are not held up.

    By the online backup of SQLite (https://www.sqlite.org/backup.html), all pages in one step: the log of the source
    keeps for so long what is written meanwhile. Raises StorageUnavailableError.
    """
    try:
        with (
            closing(sqlite3.connect(f"file:{source}?mode=rw", uri=True, timeout=15)) as here,
            closing(sqlite3.connect(target)) as there,
        ):
            there.execute("PRAGMA synchronous=FULL")
            here.backup(there, pages=-1)
            there.execute("PRAGMA journal_mode=DELETE")  # else it would want a log beside it
        handle = os.open(target, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except (sqlite3.Error, OSError) as error:
        full = getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_FULL
        raise (StorageFullError if full else StorageUnavailableError)(f"{source} cannot be copied: {error}") from error


def objects_named_in(database: Path) -> list[StoredObject]:
    """The raw objects that the streams of a copied database name. Raises StorageUnavailableError."""
    query = "SELECT raw_object, raw_digest FROM stream WHERE raw_object IS NOT NULL ORDER BY raw_object"
    try:
        with closing(sqlite3.connect(f"file:{database}?mode=ro&immutable=1", uri=True)) as copied:
            return [StoredObject(name, digest) for name, digest in copied.execute(query)]
    except sqlite3.Error as error:
        raise StorageUnavailableError(f"{database} cannot be read: {error}") from error


def is_sound(database: Path) -> bool:
    """Whether SQLite finds every page and index of a copied database in order."""
    try:
        with closing(sqlite3.connect(f"file:{database}?mode=ro&immutable=1", uri=True)) as copied:
            return bool(copied.execute("PRAGMA integrity_check").fetchone() == ("ok",))
    except sqlite3.Error:
        return False
