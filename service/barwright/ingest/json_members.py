"""JSON (RFC 8259) to plain Python values, with bounded nesting."""

from __future__ import annotations

import json
import re
from typing import Any

import msgspec

from barwright.ingest.refusals import Refusal

_BOM = b"\xef\xbb\xbf"
_BRACKETS = re.compile(rb'"(?:[^"\\]|\\.)*+"?|[\[{]|[\]}]', re.DOTALL)
MOST_PARTS = 200_000


def members_of_json(body: bytes, nesting: int, most_parts: int | None = None) -> Any:
    """The value of a JSON text. Not-finite numbers come through, to be refused by channel and sample later.

    most_parts: how many arrays, objects and texts it may have, MOST_PARTS when left out.
    """
    text = body.removeprefix(_BOM)
    _check_nesting(text, nesting, most_parts or MOST_PARTS)
    try:
        return msgspec.json.decode(text)
    except (msgspec.DecodeError, RecursionError, ValueError) as error:
        return _read_again(text, error)


def _read_again(text: bytes, first: Exception) -> Any:
    """The same text by a reader that lets NaN, Infinity and 1e999 through."""
    try:
        return json.loads(text.decode())
    except (ValueError, RecursionError):
        pass
    if not text.strip() or "truncated" in str(first).lower():
        raise Refusal(
            "truncated", f"The JSON text ends after {len(text)} bytes in the middle; send all of it."
        ) from first
    raise Refusal("unreadable", f"The body is not JSON: {first}. Send one JSON text in UTF-8.") from first


def _check_nesting(text: bytes, nesting: int, most_parts: int) -> None:
    containers = text.count(b"[") + text.count(b"{")
    parts = containers + text.count(b'"') // 2
    if parts > most_parts:
        raise Refusal(
            "too-many-arrays",
            f"The JSON text has {parts} arrays, objects and texts, more than {most_parts}; send samples as one "
            "array of numbers per channel.",
        )
    if containers <= nesting:
        return
    depth = 0
    for token in _BRACKETS.finditer(text):
        byte = token.group()
        depth += (byte in (b"[", b"{")) - (byte in (b"]", b"}"))
        if depth > nesting:
            raise Refusal("too-deep", f"At byte {token.start()} the JSON text is nested deeper than {nesting} levels.")
