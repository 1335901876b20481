"""Moments in a query string."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_MOMENT = re.compile(r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?)(Z|[+ -]\d\d:\d\d)", re.IGNORECASE)


def _moment(value: Any) -> Any:
    """A day stands for its first moment in UTC; a `+` that the query turned into a space is put back."""
    if value is None or value == "":
        return None
    text = str(value)
    found = _MOMENT.fullmatch(text)
    try:
        if _DAY.fullmatch(text):
            return datetime.fromisoformat(text).replace(tzinfo=UTC)
        if found:
            return datetime.fromisoformat((found[1] + found[2].replace(" ", "+")).upper()).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise ValueError("is not a time that exists; it looks like 2026-03-01T17:30:00Z or 2026-03-01.") from error
    raise ValueError("has to be a date and time with its offset, such as 2026-03-01T17:30:00Z, or a date.")


MomentQuery = Annotated[
    datetime | None,
    BeforeValidator(_moment),
    WithJsonSchema({"type": "string", "format": "date-time", "examples": ["2026-03-01T00:00:00Z"]}),
]
