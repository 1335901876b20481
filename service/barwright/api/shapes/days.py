"""Days on the wire."""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, Any

from fastapi import Query
from pydantic import BeforeValidator, WithJsonSchema

_DAY = re.compile(r"\d{4}-\d\d-\d\d")


def _day(value: Any) -> Any:
    if value is None or value == "":
        return None
    if isinstance(value, str) and _DAY.fullmatch(value):
        try:
            return date.fromisoformat(value)
        except ValueError as error:
            raise ValueError("is not a day that exists; it looks like 2026-03-01.") from error
    raise ValueError("has to be a day such as 2026-03-01.")


_DAY_SCHEMA = WithJsonSchema({"type": "string", "format": "date", "examples": ["2026-03-01"]})

Day = Annotated[date | None, BeforeValidator(_day), _DAY_SCHEMA]
On = Annotated[
    date | None,
    BeforeValidator(_day),
    _DAY_SCHEMA,
    Query(description="A day in the club's time zone; today, when it is left out."),
]
