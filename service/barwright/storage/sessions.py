"""Two kinds of session, one to read and one to write; the only place that commits."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from datetime import datetime
from sqlite3 import SQLITE_FULL
from threading import Lock
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.exc import InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoConnectionError
from sqlmodel import Session

from barwright.storage.engine import WRITES, make_engine
from barwright.storage.tables import HeartbeatRow
from barwright.storage.turns import Turn, Turns, lock_of

_CAN_FORGET = 18_00_00  # the first PostgreSQL that can
# ANALYZE leaves what is remembered of a table that has no rows any more.
_FORGET_OF_EMPTY = """
SELECT pg_clear_attribute_stats(known.schemaname, known.tablename, known.attname, known.inherited)
FROM pg_stats known JOIN pg_class what ON what.oid = format('%I.%I', known.schemaname, known.tablename)::regclass
WHERE known.schemaname = current_schema() AND what.reltuples <= 0
"""


class StorageUnavailableError(RuntimeError):
    """The database could not be read or written just now: a full disk, a lost connection, somebody else's lock."""


class StorageFullError(StorageUnavailableError):
    """There is no room left."""


class Database:
    """The database at one URL. Its sessions raise StorageUnavailableError."""

    def __init__(self, url: str) -> None:
        self._engine = make_engine(url)
        self._writers = self._engine.execution_options(**{WRITES: True})
        self._on_sqlite = self._engine.dialect.name == "sqlite"
        # A reader sees one moment on both; SQLite's transactions do so by themselves.
        self._readers = (
            self._engine if self._on_sqlite else self._engine.execution_options(isolation_level="REPEATABLE READ")
        )
        # SQLite has one writer; waiting here is fair and wakes at once, SQLite itself would poll.
        self._turn = Lock() if self._on_sqlite else nullcontext()

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """One consistent view; nothing done to it is kept."""
        with _available(), Session(self._readers, autoflush=False) as session:
            yield session

    @contextmanager
    def writing(self, club_id: str | None = None) -> Iterator[Session]:
        """One transaction: all of it is kept, durably, or none of it.

        club_id: writers of one club take turns, in every process, so that what one of them has read stays true until
        it commits. On SQLite all writers do. None is for what needs no turn: one row, or rows that it locks itself.
        """
        with _available(), self._turn, Session(self._writers, expire_on_commit=False) as session:
            if club_id is not None and not self._on_sqlite:
                session.connection().execute(select(func.pg_advisory_xact_lock(lock_of("club", club_id))))
            yield session
            session.commit()

    def alone(self, name: str) -> Turn:
        """The turn to do something that only one process may do at a time; not taken yet."""
        return Turn(None if self._on_sqlite else self._engine, name)

    def turns(self, kind: str) -> Turns:
        """The same for many things of one kind, each by its name."""
        return Turns(None if self._on_sqlite else self._engine, kind)

    def check(self, now: datetime) -> None:
        """Raises StorageUnavailableError when the database cannot be written; does so by writing to it."""
        with self.writing() as session:
            session.merge(HeartbeatRow(id=1, at=now))

    def leave_no_trace(self) -> bool:
        """After an erasure: moves what SQLite still holds in its log into the file, then empties the log.

        False when a long reader kept it from doing so; the next one that is not in the way does it. PostgreSQL has
        nothing to do here: what its files still hold goes with `vacuum`.
        """
        if not self._on_sqlite:
            return True
        with _available(), self._turn, self._engine.connect() as connection:
            driver: Any = connection.connection.dbapi_connection
            (busy, _, _) = driver.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            return not busy

    def vacuum(self) -> None:
        """Writes every table anew, so that no file holds what was deleted. Others wait meanwhile."""
        with _available(), self._turn, self._engine.connect() as connection:
            driver: Any = connection.connection.dbapi_connection
            if self._on_sqlite:
                driver.execute("VACUUM")
            else:
                driver.autocommit = True
                driver.execute(
                    "ANALYZE"
                )  # what the planner remembers of values, names among them, is of rows still there
                if driver.info.server_version >= _CAN_FORGET:
                    driver.execute(_FORGET_OF_EMPTY)
                driver.execute("VACUUM FULL")
                driver.autocommit = False
        self.leave_no_trace()

    def get_to_know_itself(self) -> None:
        """SQLite looks at how its tables are filled, so that it takes the short way; PostgreSQL does so by itself."""
        if self._on_sqlite:
            with _available(), self._turn, self._writers.connect() as connection:
                for statement in ("PRAGMA analysis_limit=400", "ANALYZE"):  # a few rows of each index tell enough
                    connection.exec_driver_sql(statement)
                connection.commit()

    def close(self) -> None:
        """Gives back every connection."""
        self._engine.dispose()


@contextmanager
def _available() -> Iterator[None]:
    try:
        yield
    except NoConnectionError as error:
        raise StorageUnavailableError("every connection to the database is in use") from error
    except (OperationalError, InterfaceError) as error:
        kind = StorageFullError if _is_full(error.orig) else StorageUnavailableError
        raise kind(str(error.orig)) from error


def _is_full(error: BaseException | None) -> bool:
    """SQLite tells a full disk by its result code, PostgreSQL by a SQLSTATE."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF == SQLITE_FULL or getattr(error, "sqlstate", None) == "53100"
