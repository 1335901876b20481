"""The tables of the queue of analyses on PostgreSQL: procrastinate's own, kept at the version that is installed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import Connection, text

PREFIX = "procrastinate_"
_DONE = PREFIX + "migrations_done"  # ours: which of its files have been run here


def bring_up_queue(connection: Connection) -> None:
    """Makes the tables, or runs what newer versions changed of them, in the transaction of the connection."""
    from procrastinate.schema import SchemaManager

    files = sorted(path for path in Path(SchemaManager.get_migrations_path()).glob("*.sql"))
    found = connection.execute(text(f"SELECT to_regclass('{_DONE}')")).scalar()
    if found is None:
        _run(connection, SchemaManager.get_schema())  # as all of its files leave it
        connection.execute(text(f"CREATE TABLE {_DONE} (name text PRIMARY KEY)"))
        due = []
    else:
        done = set(connection.execute(text(f"SELECT name FROM {_DONE}")).scalars())  # noqa: S608
        due = [path for path in files if path.name not in done]
    for path in due:
        _run(connection, path.read_text(encoding="utf-8"))
    names = [{"name": path.name} for path in (files if found is None else due)]
    if names:
        connection.execute(text(f"INSERT INTO {_DONE} (name) VALUES (:name)"), names)  # noqa: S608


def _run(connection: Connection, statements: str) -> None:
    """Several statements at once, with no look at the percent signs in them."""
    driver: Any = connection.connection.dbapi_connection
    with driver.cursor() as cursor:
        cursor.execute(statements)
