"""Callers behind keys that were looked up moments ago: a stream of small blocks need not ask for each of them."""

from __future__ import annotations

import time
from collections.abc import Callable
from threading import Lock

from barwright.access.caller import Caller
from barwright.access.keys import digest_of

KNOWN_FOR_S = 5.0  # so long at most a key that ended, or that another process revoked, still sends blocks here


class RecentCallers:
    """By digest: no key is kept in memory. A key ended by this process is forgotten at once."""

    def __init__(self, clock: Callable[[], float] = time.monotonic, most: int = 4096) -> None:
        self._clock = clock
        self._most = most
        self._lock = Lock()
        self._known: dict[str, tuple[float, Caller]] = {}

    def get(self, shown: str) -> Caller | None:
        """The caller, where the key was looked up within the last seconds."""
        found = self._known.get(digest_of(shown))
        return found[1] if found is not None and self._clock() - found[0] < KNOWN_FOR_S else None

    def keep(self, shown: str, caller: Caller) -> None:
        """Remembers who has just been found behind a key; of too many the oldest goes."""
        with self._lock:
            self._known.pop(digest_of(shown), None)
            self._known[digest_of(shown)] = (self._clock(), caller)
            while len(self._known) > self._most:
                del self._known[next(iter(self._known))]

    def forget(self, key_id: str) -> None:
        """The key opens nothing any more."""
        with self._lock:
            self._known = {digest: one for digest, one in self._known.items() if one[1].key_id != key_id}
