"""Answers that are sent only when they changed (RFC 9110, 8.8.3 and 13.1.2)."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Header

IfNoneMatch = Annotated[
    str | None,
    Header(alias="If-None-Match", max_length=1000, description="ETag of the answer you have; 304 while it is current."),
]
NOT_MODIFIED: dict[int | str, dict[str, Any]] = {304: {"description": "What you have is current."}}


def etag_of(mark: str) -> str:
    """A strong entity tag."""
    return f'"{mark}"'


def is_current(tag: str, if_none_match: str | None) -> bool:
    """Whether one of the tags the caller has is this one; compared weakly, as RFC 9110 wants it here."""
    if if_none_match is None:
        return False
    told = [one.strip().removeprefix("W/") for one in if_none_match.split(",")]
    return "*" in told or tag in told
