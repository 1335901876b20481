"""Column types that behave alike on SQLite and PostgreSQL."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, DateTime, Integer
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator


class UtcTime(TypeDecorator[datetime]):
    """An aware UTC time. Stored without zone, always UTC; refuses a naive time instead of guessing."""

    impl = DateTime(timezone=False)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Aware time in, UTC without zone out."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without zone cannot be stored")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """UTC without zone in, aware time out."""
        return None if value is None else value.replace(tzinfo=UTC)


class JsonDocument(TypeDecorator[Any]):
    """A small JSON document; None is stored as NULL, not as the JSON word null."""

    impl = JSON(none_as_null=True)
    cache_ok = True


# Numbers rows of tables that never stop growing. SQLite counts up by itself only what is called INTEGER there.
RowNumber = BigInteger().with_variant(Integer, "sqlite")
