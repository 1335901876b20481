"""One database engine: SQLite in a file by default, PostgreSQL by URL."""

from __future__ import annotations

import json
from typing import Any

import msgspec
from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url

WRITES = "barwright_writes"  # execution option: this connection is going to write
_BUSY_MS = 15_000
_POOL, _MORE = 10, 10  # connections to PostgreSQL a process keeps, and opens beyond that when it is busy
_POSTGRESQL = ("postgresql", "postgres", "postgresql+psycopg")


def make_engine(url: str) -> Engine:
    """An engine for a database URL: sqlite:///FILE or postgresql://..., set up to be durable. Raises ValueError."""
    if url.partition(":")[0] in _POSTGRESQL:
        return _postgresql(psycopg_url(url))
    if make_url(url).get_backend_name() == "sqlite":
        return _sqlite(url)
    raise ValueError(f"the database URL begins with {url.partition(':')[0]!r}; it has to be sqlite or postgresql")


def psycopg_url(url: str) -> URL:
    """The URL with the driver that is used, whichever one it names."""
    return make_url("postgresql+psycopg:" + url.partition(":")[2])


def libpq_url(url: str) -> str:
    """The same as the PostgreSQL client library takes it."""
    return psycopg_url(url).set(drivername="postgresql").render_as_string(hide_password=False)


def _postgresql(url: URL) -> Engine:
    engine = create_engine(
        url,
        pool_pre_ping=True,
        pool_size=_POOL,
        max_overflow=_MORE,
        pool_timeout=_BUSY_MS / 1000,
        json_serializer=_strict_json,
        json_deserializer=_document,
    )

    dumper = _text_dumper()

    @event.listens_for(engine, "connect")
    def set_up(connection: Any, _record: Any) -> None:
        connection.adapters.register_dumper(str, dumper)
        with connection.cursor() as cursor:  # a commit is on the disk before it is acknowledged
            cursor.execute(
                "SELECT set_config('synchronous_commit', 'on', false) "
                "WHERE current_setting('synchronous_commit') = 'off'"
            )
        connection.commit()

    return engine


def _text_dumper() -> Any:
    """PostgreSQL knows no text with U+0000; an id with one is then one that nothing has, as on SQLite."""
    from psycopg.types.string import StrDumper

    class WithoutNul(StrDumper):
        def dump(self, obj: str) -> Any:
            return super().dump(obj.replace("\x00", "\ufffd") if "\x00" in obj else obj)

    return WithoutNul


def _strict_json(document: Any) -> str:
    return json.dumps(document, allow_nan=False)


def _document(text: str | bytes) -> Any:
    """A page of sets holds a thousand small documents, and msgspec reads them several times as fast."""
    try:
        return msgspec.json.decode(text)
    except ValueError:  # half a surrogate pair, which json.dumps writes and only json.loads reads
        return json.loads(text)


def _sqlite(url: str) -> Engine:
    engine = create_engine(
        url,
        connect_args={"check_same_thread": False},
        pool_size=8,
        max_overflow=40,
        json_serializer=_strict_json,
        json_deserializer=_document,
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
