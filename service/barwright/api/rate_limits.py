"""Requests counted against quotas, and the header fields that say what is left (see access/rates.py)."""

from __future__ import annotations

from typing import Any

from barwright.access.rates import Quota, Taken
from barwright.workflows.cannot import Cannot

COUNTED = "barwright.counted"  # where a connection keeps what was counted of it


def count(scope: Any, quota: Quota, name: str, only_when_over: bool = False) -> None:
    """Counts a request of a key or an address. Raises Cannot when the window has none left.

    only_when_over: the answer tells of this quota only when it is used up.
    """
    taken = quota.take(name)
    if taken is None:
        return
    if not only_when_over or not taken.allowed:
        scope[COUNTED] = (quota, taken)
    if not taken.allowed:
        raise Cannot(
            "too-many-requests",
            f"More than {quota.most} requests of the kind {quota.policy!r} came within a window of "
            f"{quota.window_s} seconds. Wait {taken.reset_s} s; GET /v1/limits lists the limits.",
        )


def fields(scope: Any, status: int) -> list[tuple[bytes, bytes]]:
    """Header fields for the answer; with 429 also when to come again."""
    counted: tuple[Quota, Taken] | None = scope.get(COUNTED)
    if counted is None:
        return []
    quota, taken = counted
    told = [(b"ratelimit-policy", quota.told), (b"ratelimit", quota.left(taken).encode())]
    if status == 429:
        told.append((b"retry-after", str(taken.reset_s).encode()))
    return told
