"""Lists in pages: `{items, next}` and the Link header of RFC 8288."""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Annotated, Any, TypeVar

from fastapi import Query, Request, Response

from barwright.workflows.cannot import Cannot

T = TypeVar("T")

Limit = Annotated[int, Query(ge=1, le=200, description="How many items at most.")]
Cursor = Annotated[
    str | None, Query(max_length=1000, description="`next` of the page before; leave it out for the first page.")
]


def name_in(cursor: str | None) -> str | None:
    """The name a cursor stands at."""
    if cursor is None:
        return None
    (name,) = _read(cursor, 1)
    return name


def number_in(cursor: str | None) -> int | None:
    """The number a cursor stands at."""
    if cursor is None:
        return None
    (number,) = _read(cursor, 1)
    if not number.isascii() or not number.isdecimal() or len(number) > 18:
        raise _bad_cursor()
    return int(number)


def time_and_id_in(cursor: str | None) -> tuple[datetime, str] | None:
    """The time and id a cursor stands at."""
    if cursor is None:
        return None
    at, one_id = _read(cursor, 2)
    try:
        time = datetime.fromisoformat(at)
    except ValueError as error:
        raise _bad_cursor() from error
    if time.tzinfo is None:
        raise _bad_cursor()
    return time, one_id


def page(
    request: Request,
    response: Response,
    found: Sequence[T],
    limit: int,
    place: Callable[[T], tuple[str, ...]],
    shape: Callable[[T], Any],
) -> dict[str, Any]:
    """One page out of limit + 1 things found: the one too many only tells that there is a next page."""
    cursor = None
    if len(found) > limit:
        cursor = base64.urlsafe_b64encode(json.dumps(place(found[limit - 1])).encode()).decode().rstrip("=")
        response.headers["Link"] = f'<{request.url.include_query_params(cursor=cursor)}>; rel="next"'
    return {"items": [shape(one) for one in found[:limit]], "next": cursor}


def _read(cursor: str, count: int) -> list[str]:
    try:
        padded = cursor.encode("ascii") + b"=" * (-len(cursor) % 4)
        parts = json.loads(base64.b64decode(padded, b"-_", validate=True))
    except (UnicodeError, binascii.Error, ValueError, RecursionError) as error:
        raise _bad_cursor() from error
    if not isinstance(parts, list) or len(parts) != count or not all(isinstance(part, str) for part in parts):
        raise _bad_cursor()
    return parts


def _bad_cursor() -> Cannot:
    return Cannot("bad-cursor", "`cursor` has to be the `next` of an earlier page, unchanged.", "cursor")
