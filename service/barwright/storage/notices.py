"""Short notices between processes over PostgreSQL (LISTEN, NOTIFY): ids only, what they are about is in the rows."""

from __future__ import annotations

import json
import select
import socket
from contextlib import suppress
from typing import Any

from sqlalchemy import text
from sqlmodel import Session

from barwright.storage.engine import libpq_url
from barwright.storage.jobs import on_postgresql

PREFIX = "barwright_"
EVENTS, SETS, BLOCKS, CLOSED = "events", "sets", "blocks", "closed"
ALL = (EVENTS, SETS, BLOCKS, CLOSED)
_NOTIFY = text("SELECT pg_notify(:channel, :ids)")


def give_notice(session: Session, about: str, *ids: str | int) -> None:
    """Every listening process hears of it once the session has committed; nobody does when it does not."""
    if on_postgresql(session):
        session.connection().execute(_NOTIFY, {"channel": PREFIX + about, "ids": json.dumps(ids)})


class Listening:
    """One connection that hears notices. Raises ConnectionError when it is lost or cannot be had."""

    def __init__(self, database_url: str) -> None:
        import psycopg

        self._error = psycopg.Error
        try:
            self._connection = psycopg.connect(libpq_url(database_url), autocommit=True, connect_timeout=5)
            for about in ALL:
                self._connection.execute(f"LISTEN {PREFIX}{about}")
        except psycopg.Error as error:
            raise ConnectionError(str(error)) from error
        self._waking, self._wake = socket.socketpair()

    def wait(self, timeout_s: float) -> list[tuple[str, list[Any]]]:
        """(about, ids) of what was told meanwhile, in the order of the commits; nothing when the time is over."""
        try:
            sockets: list[Any] = [self._connection.fileno(), self._waking]
            ready, _, _ = select.select(sockets, [], [], timeout_s)
            if self._waking in ready:
                self._waking.recv(100)
            heard = list(self._connection.notifies(timeout=0)) if ready else []
        except self._error as error:
            raise ConnectionError(str(error)) from error
        return [(one.channel.removeprefix(PREFIX), json.loads(one.payload)) for one in heard]

    def wake(self) -> None:
        """Ends a wait that is going on. From any thread."""
        with suppress(OSError):  # closed meanwhile
            self._wake.send(b".")

    def close(self) -> None:
        """Hears no more."""
        for one in (self._connection, self._waking, self._wake):
            one.close()
