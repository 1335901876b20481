"""What the service answered, as the text that goes to a reply topic."""

from __future__ import annotations

import json
from typing import Any

AGAIN = (408, 425, 429)


def reply_text(status: int | None, body: bytes, tag: str | None) -> str:
    """The answer of the service as one JSON object; status None: it could not be reached.

    `status`, `tag` (what the sender put behind the topic), then the members of a good answer; else `again` (true: send
    the same later) and `problem`.
    """
    told: dict[str, Any] = {"status": status or 503}
    if tag is not None:
        told["tag"] = tag
    document = _document(body)
    if status is not None and 200 <= status < 300:
        told |= document
    else:
        told["again"] = may_come_again(status)
        told["problem"] = document or {"title": "The service was not reached", "status": status or 503}
    return json.dumps(told, ensure_ascii=False, separators=(",", ":"))


def may_come_again(status: int | None) -> bool:
    """Whether the same message may be taken later: the service was not there, or busy."""
    return status is None or status >= 500 or status in AGAIN


def _document(body: bytes) -> dict[str, Any]:
    try:
        document = json.loads(body) if body else {}
    except ValueError:
        return {}
    return document if isinstance(document, dict) else {}
