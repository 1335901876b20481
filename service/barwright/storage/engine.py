"""One database engine: SQLite in a file by default, PostgreSQL by URL."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url

WRITES = "barwright_writes"  # execution option: this connection is going to write
_BUSY_MS = 15_000


def make_engine(url: str) -> Engine:
    """An engine for a database URL, with SQLite set up to be durable and to keep its promises."""
    if make_url(url).get_backend_name() == "sqlite":
        return _sqlite(url)
    return create_engine(url, pool_pre_ping=True, json_serializer=_strict_json)


def _strict_json(document: Any) -> str:
    return json.dumps(document, allow_nan=False)


def _sqlite(url: str) -> Engine:
    engine = create_engine(
        url,
        connect_args={"check_same_thread": False},
        pool_size=8,
        max_overflow=40,
        json_serializer=_strict_json,
    )

    @event.listens_for(engine, "connect")
    def set_up(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # transactions are begun below, not by the driver
        for pragma in (
            f"busy_timeout={_BUSY_MS}",
            "journal_mode=WAL",
            "synchronous=FULL",  # a commit is on the disk before it is acknowledged
            "foreign_keys=ON",
            "secure_delete=ON",  # an erased athlete leaves no bytes behind in free pages
        ):
            connection.execute("PRAGMA " + pragma)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        # A writer that starts as a reader may find it can no longer write; so it takes its place at once.
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine
