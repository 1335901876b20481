"""When keys were last used, until somebody writes it down: no request waits for that."""

from __future__ import annotations

from datetime import datetime
from threading import Lock


class KeyUses:
    """By the key's id, in the memory of this process."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._used: dict[str, datetime] = {}

    def note(self, key_id: str, now: datetime) -> None:
        """The key opened something."""
        self._used[key_id] = now

    def get(self, key_id: str) -> datetime | None:
        """When it was last used, where that is not yet written down."""
        return self._used.get(key_id)

    def take(self) -> dict[str, datetime]:
        """Everything that is not yet written down, handed over."""
        with self._lock:
            taken, self._used = self._used, {}
        return taken
