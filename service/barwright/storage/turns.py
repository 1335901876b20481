"""What only one process may do at a time: advisory locks of PostgreSQL, held as long as their connection lives."""

from __future__ import annotations

import hashlib
from threading import Lock

from sqlalchemy import Connection, Engine, func, select
from sqlalchemy.exc import DBAPIError


def lock_of(kind: str, name: str) -> int:
    """The number of a lock (64 bits, signed); two names that share one only wait for each other."""
    return int.from_bytes(hashlib.blake2b(f"{kind} {name}".encode(), digest_size=8).digest(), "big", signed=True)


class Turn:
    """The turn of one process. Without an engine there is only one process, and it is always its turn."""

    def __init__(self, engine: Engine | None, name: str) -> None:
        self._engine = engine
        self._number = lock_of("turn", name)
        self._lock = Lock()
        self._connection: Connection | None = None

    def take(self) -> bool:
        """Whether it is this process's turn, from now on or still. A lost database ends the turn; nothing is raised."""
        if self._engine is None:
            return True
        with self._lock:
            try:
                if self._connection is None:
                    return self._try()
                self._connection.exec_driver_sql("SELECT 1")  # the lock is held as long as this answers
                return True
            except DBAPIError:
                self._drop()
                return False

    def give_back(self) -> None:
        """Lets another process have it."""
        with self._lock:
            self._drop()

    def _try(self) -> bool:
        assert self._engine is not None
        self._connection = self._engine.connect().execution_options(isolation_level="AUTOCOMMIT")
        self._connection.detach()  # it is not one of the pool's, and closing it gives its locks back
        if self._connection.execute(select(func.pg_try_advisory_lock(self._number))).scalar():
            return True
        self._drop()
        return False

    def _drop(self) -> None:
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.close()


class Turns:
    """Turns of one kind at many things, by name, all on one connection. Losing it loses them all, unnoticed at first.

    So whoever acts on a turn for long has to make sure in the rows that nobody else did meanwhile.
    """

    def __init__(self, engine: Engine | None, kind: str) -> None:
        self._engine = engine
        self._kind = kind
        self._lock = Lock()
        self._connection: Connection | None = None
        self._held: set[str] = set()

    def take(self, name: str) -> bool:
        """Whether it is this process's turn at this, from now on or still; False too while the database is away."""
        if self._engine is None:
            return True
        with self._lock:
            if name in self._held:
                return True
            for _ in range(2):  # the connection may have been lost a while ago
                try:
                    taken = self._ask("pg_try_advisory_lock", name)
                except DBAPIError:
                    self._drop()
                    continue
                if taken:
                    self._held.add(name)
                return taken
            return False

    def give_back(self, name: str) -> None:
        """Lets another process have it."""
        with self._lock:
            if name in self._held:
                self._held.remove(name)
                try:
                    self._ask("pg_advisory_unlock", name)
                except DBAPIError:
                    self._drop()

    def close(self) -> None:
        """Gives all of them back."""
        with self._lock:
            self._drop()

    def _ask(self, function: str, name: str) -> bool:
        assert self._engine is not None
        if self._connection is None:
            self._connection = self._engine.connect().execution_options(isolation_level="AUTOCOMMIT")
            self._connection.detach()
        asked = getattr(func, function)(lock_of(self._kind, name))
        return bool(self._connection.execute(select(asked)).scalar())

    def _drop(self) -> None:
        self._held.clear()
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.close()
