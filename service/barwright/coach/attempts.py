"""Wrong passphrases, counted per name and per address: guessing is slowed down."""

from __future__ import annotations

import math
from collections import OrderedDict
from datetime import datetime, timedelta

MOST = 10  # of one name
MOST_OF_ADDRESS = 50  # of one address, whatever the names: a whole club may sit behind one
WITHIN = timedelta(minutes=10)
_MOST_NAMES = 10_000


class Attempts:
    """Counts in the memory of this process; a restart forgets, which costs a guesser more than it gives."""

    def __init__(self) -> None:
        self._wrong: OrderedDict[tuple[str, str], list[datetime]] = OrderedDict()

    def too_many(self, name: str, now: datetime, address: str = "") -> bool:
        """Whether this name, or this address, has been tried wrongly too often of late."""
        return self.wait_s(name, now, address) > 0

    def wait_s(self, name: str, now: datetime, address: str = "") -> int:
        """Seconds until it may be tried again; 0: now."""
        by_name, by_address = self._recent(("name", name), now), self._recent(("address", address), now)
        counted = ((by_name, MOST), (by_address, MOST_OF_ADDRESS))
        ends = [told[-most] + WITHIN for told, most in counted if len(told) >= most]
        return max((math.ceil((end - now).total_seconds()) for end in ends), default=0)

    def note_wrong(self, name: str, now: datetime, address: str = "") -> None:
        """One more wrong passphrase."""
        for which in (("name", name), ("address", address)):
            self._wrong[which] = [*self._recent(which, now), now][-MOST_OF_ADDRESS:]
            self._wrong.move_to_end(which)
        while len(self._wrong) > _MOST_NAMES:
            self._wrong.popitem(last=False)

    def forget(self, name: str) -> None:
        """The right passphrase came; what its address did otherwise stays counted."""
        self._wrong.pop(("name", name), None)

    def _recent(self, which: tuple[str, str], now: datetime) -> list[datetime]:
        return [at for at in self._wrong.get(which, ()) if now - at < WITHIN]
