"""What all shapes share."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

_RFC3339 = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)", re.IGNORECASE)
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


class Told(BaseModel):
    """Something a caller tells; a member that is not known is an error, never ignored."""

    model_config = ConfigDict(extra="forbid")


class Answer(BaseModel):
    """Something the service answers; model_validate() takes a dataclass with the same members."""

    model_config = ConfigDict(frozen=True, allow_inf_nan=False, from_attributes=True)


def _plain_name(name: str) -> str:
    name = name.strip()
    if not name:
        raise ValueError("a name needs at least one character that can be seen.")
    if _CONTROL.search(name):
        raise ValueError("a name is one line of text without control characters.")
    return name


def _aware(value: Any) -> Any:
    if not isinstance(value, str) or not _RFC3339.fullmatch(value):
        raise ValueError("has to be a date and time with its offset (RFC 3339), such as 2026-03-01T17:30:00Z.")
    try:
        return datetime.fromisoformat(value.upper()).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise ValueError("is not a time that exists; it looks like 2026-03-01T17:30:00Z.") from error


Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Whole = Annotated[int, Field(strict=True)]
Name = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_plain_name)]
IdText = Annotated[str, Field(min_length=1, max_length=64)]
Time = Annotated[
    datetime,
    BeforeValidator(_aware),
    WithJsonSchema({"type": "string", "format": "date-time", "examples": ["2026-03-01T17:30:00Z"]}),
]
