"""Wrong passphrases, counted per name: guessing is slowed down."""

from __future__ import annotations

from collections import OrderedDict
from datetime import datetime, timedelta

MOST = 10
WITHIN = timedelta(minutes=10)
_MOST_NAMES = 10_000


class Attempts:
    """Counts in the memory of this process; a restart forgets, which costs a guesser more than it gives."""

    def __init__(self) -> None:
        self._wrong: OrderedDict[str, list[datetime]] = OrderedDict()

    def too_many(self, name: str, now: datetime) -> bool:
        """Whether this name has been tried wrongly too often of late."""
        return len(self._recent(name, now)) >= MOST

    def note_wrong(self, name: str, now: datetime) -> None:
        """One more wrong passphrase."""
        self._wrong[name] = [*self._recent(name, now), now]
        self._wrong.move_to_end(name)
        while len(self._wrong) > _MOST_NAMES:
            self._wrong.popitem(last=False)

    def forget(self, name: str) -> None:
        """The right passphrase came."""
        self._wrong.pop(name, None)

    def _recent(self, name: str, now: datetime) -> list[datetime]:
        return [at for at in self._wrong.get(name, ()) if now - at < WITHIN]
