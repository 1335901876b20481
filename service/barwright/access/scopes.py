"""What a key may do."""

from __future__ import annotations

from enum import StrEnum


class Scope(StrEnum):
    """One permission of a key."""

    STREAMS_WRITE = "streams:write"
    RESULTS_READ = "results:read"
    ATHLETES_WRITE = "athletes:write"
    CLUB_ADMIN = "club:admin"


ALL_SCOPES = frozenset(Scope)


def parse_scopes(text: str) -> frozenset[Scope]:
    """`all`, or a comma-separated list. Raises ValueError naming the word that is not a scope."""
    words = [word.strip() for word in text.split(",") if word.strip()]
    if words == ["all"]:
        return ALL_SCOPES
    if not words:
        raise ValueError(f"no scope given; use all, or some of {', '.join(Scope)} separated by commas")
    for word in words:
        if word not in list(Scope):
            raise ValueError(f"{word!r} is not a scope; use all, or some of {', '.join(Scope)} separated by commas")
    return frozenset(Scope(word) for word in words)
