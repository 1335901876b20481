"""A few counts for operators."""

from __future__ import annotations

from collections import Counter
from threading import Lock


class Counters:
    """Rising counts by name, safe to add to from any thread."""

    def __init__(self) -> None:
        self._counts: Counter[str] = Counter()
        self._lock = Lock()

    def add(self, name: str) -> None:
        """One more."""
        with self._lock:
            self._counts[name] += 1

    def all(self) -> dict[str, int]:
        """Every count so far."""
        with self._lock:
            return dict(self._counts)
